"""An amp of the demonstration world that needs no pack, and sheets of it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from endbell.bench.circuit import Capacitor, Circuit, MainsTap, Rail, Resistor, Seat, Winding

HEAD = 'format = "endbell-sheet/1"\ncircuit = "brackwater/lantern-20"\npractice = "iet"\n'

SAFE = {
    "cord-kind": "3",
    "line-capacitor": "0",
    "earth-bond": "0.06 ohm",
    "insulation": ">200M",
    "fuse-fitted": "1 A",
    "leakage-normal": "0.4 mA",
    "leakage-reversed": "0.5 mA",
}


def small_amp(protection: str = "I") -> Circuit:
    return Circuit(
        id="brackwater/lantern-20",
        title="Lantern 20",
        source="invented world",
        confidence="invented world",
        mains=(MainsTap(230.0),),
        mains_hz=50.0,
        protection=protection,
        fuse=1.0,
        fuse_kind="T",
        mains_watt=110.0,
        rectifier="silicon",
        rated_watt=20.0,
        load_ohm=8.0,
        rails=(Rail("B1", 350.0), Rail("B2", 340.0, fed_from="B1", through_ohm=470.0)),
        seats=(Seat("v4", "6V6GT", "output", plate=345.0, rail="B1", bias="cathode"),),
        capacitors=(
            Capacitor("c1", 20e-6, 450.0, "filter", "B1", part="elco-1"),
            Capacitor("c2", 20e-6, 450.0, "filter", "B2", part="elco-2"),
        ),
        resistors=(Resistor("r1", 220e3, bleeds="B1"),),
        windings=(Winding("pt-primary", "pt", "primary", volts=230.0),),
    )


def rows(readings: dict[str, str], after: bool = False) -> str:
    """Readings as tables; 'filter-volts-left@c1' is the line at a place."""
    out = ""
    for key, value in readings.items():
        line, _, at = key.partition("@")
        out += f'\n[[reading]]\nline = "{line}"\nvalue = "{value}"\n'
        out += f'at = "{at}"\n' if at else ""
        out += 'note = "T"\n' if line == "fuse-fitted" else ""
        out += "after = true\n" if after else ""
    return out


@pytest.fixture
def sheet_text() -> Callable[..., str]:
    def made(readings: dict[str, str], more: str = "", after: dict[str, str] | None = None) -> str:
        return HEAD + rows(readings) + rows(after or {}, True) + more

    return made
