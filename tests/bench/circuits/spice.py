"""The same netlists solved by ngspice, an engine that shares no line with ours.

Valves are current sources that follow the printed equations; ngspice finds their bias and their
slopes by itself.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from endbell.bench.circuits.netlist import parse
from endbell.bench.valves.models import model

from ..valves.spice import needs_ngspice, run, valve_lines

Complexes = NDArray[np.complex128]

__all__ = ["alternating", "needs_ngspice"]


def alternating(
    text: str,
    source: str,
    nodes: tuple[str, ...],
    folder: Path,
    shares: Mapping[str, float] | None = None,
    band: tuple[float, float] = (10.0, 100_000.0),
) -> tuple[NDArray[np.float64], Mapping[str, Complexes]]:
    """Frequencies (10 a decade) and the voltage at each of ``nodes`` over that at ``source``.

    ``shares``: of the track below the wiper, by pot.
    """
    read = parse(text)
    cards: list[str] = []
    for part in read.parts:
        name, ends = part.name.replace("-", "_"), " ".join(part.nodes)
        if part.kind in "VI":
            cards.append(f"{name} {ends} dc {part.value!r} ac {part.ac!r} {part.phase!r}")
        else:
            cards.append(f"{name} {ends} {part.value!r}")
    for coupling in read.couplings:
        for n, one in enumerate(coupling.coils):
            for other in coupling.coils[n + 1 :]:
                cards.append(f"{coupling.name}_{n}{other} {one} {other} {coupling.k!r}")
    for n, pot in enumerate(read.pots):
        lower = (shares or {})[pot.name]
        top, wiper, end = pot.nodes
        cards.append(f"RP{n}A {top} {wiper} {pot.ohm * max(1.0 - lower, 1e-6)!r}")
        cards.append(f"RP{n}B {wiper} {end} {pot.ohm * max(lower, 1e-6)!r}")
    for valve in read.valves:
        cards.append(
            valve_lines(
                valve.name.lower(),
                model(valve.type).valve,
                valve.plate,
                valve.grid,
                valve.cathode,
                valve.screen,
            ).rstrip()
        )
    if not any(part.ac for part in read.parts):
        cards.append(f"VDRIVE {source} 0 dc 0 ac 1")
    decades = math.log10(band[1] / band[0])
    count = round(10 * decades) + 1
    deck = "a stage\n" + "\n".join(cards)
    deck += "\n.options reltol=1e-9 abstol=1e-15 vntol=1e-12 gmin=1e-15 itl1=2000\n.control\n"
    deck += f"set numdgt=14\nset wr_singlescale\nac dec 10 {band[0]!r} {band[1]!r}\n"
    deck += (
        f"wrdata out.txt {' '.join(f'v({node})' for node in (source, *nodes))}\nquit\n.endc\n.end\n"
    )
    run(deck, folder)
    table = np.loadtxt(folder / "out.txt")
    assert table.shape == (count, 1 + 2 * (1 + len(nodes)))
    volts = [table[:, 1 + 2 * n] + 1j * table[:, 2 + 2 * n] for n in range(1 + len(nodes))]
    return table[:, 0], {node: v / volts[0] for node, v in zip(nodes, volts[1:], strict=True)}
