"""The same circuits solved by ngspice, an engine that shares no line with ours."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path

import pytest

from endbell.bench.valves.koren import Pentode, Triode, Valve

needs_ngspice = pytest.mark.skipif(
    shutil.which("ngspice") is None, reason="ngspice is not installed: nothing to compare with"
)


def run(deck: str, folder: Path) -> str:
    """What ngspice prints for a deck with a control section."""
    file = folder / "deck.cir"
    file.write_text(deck)
    done = subprocess.run(
        ["ngspice", "-b", str(file)], cwd=folder, capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0 or "=" in done.stdout, done.stderr + done.stdout
    return done.stdout


def valve_lines(name: str, valve: Valve, plate: str, grid: str, cathode: str, screen: str) -> str:
    """Current sources that follow the equations as they are printed."""
    bias = f"(V({grid},{cathode})+{valve.vct})"
    if isinstance(valve, Triode):
        drive = f"{bias}/sqrt({valve.kvb}+V({plate},{cathode})^2)"
        return (
            f"B{name}e {name}e 0 V=V({plate},{cathode})/{valve.kp}"
            f"*ln(1+exp({valve.kp}*(1/{valve.mu}+{drive})))\n"
            f"B{name}p {plate} {cathode} I=2*uramp(V({name}e))^{valve.ex}/{valve.kg1}\n"
        )
    assert isinstance(valve, Pentode)
    return (
        f"B{name}e {name}e 0 V=V({screen},{cathode})/{valve.kp}"
        f"*ln(1+exp({valve.kp}*(1/{valve.mu}+{bias}/V({screen},{cathode}))))\n"
        f"B{name}p {plate} {cathode} I=2*uramp(V({name}e))^{valve.ex}/{valve.kg1}"
        f"*atan(uramp(V({plate},{cathode}))/{valve.kvb})\n"
        f"B{name}s {screen} {cathode} "
        f"I=uramp({bias}+V({screen},{cathode})/{valve.mu})^{valve.screen_ex}/{valve.kg2}\n"
    )


def nodes(elements: Sequence[str], wanted: Sequence[str], folder: Path) -> list[float]:
    """DC voltages of the ``wanted`` nodes."""
    deck = "operating points\n" + "\n".join(elements)
    deck += "\n.options reltol=1e-7 abstol=1e-14 vntol=1e-9 gmin=1e-15 itl1=1000\n.control\nop\n"
    deck += "\n".join(f"print v({node})" for node in wanted)
    out = run(deck + "\nquit\n.endc\n.end\n", folder)
    found = dict(re.findall(r"v\((\w+)\) = (\S+)", out))
    return [float(found[node]) for node in wanted]
