"""Amps of the tests: a small invented circuit, and readings taken on it."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

from endbell.bench.circuit import (
    Capacitor,
    Circuit,
    MainsTap,
    Rail,
    Resistor,
    Winding,
)
from endbell.bench.kinds import line_kinds
from endbell.bench.lines import Line
from endbell.bench.readings import Bench, Reading

AMP = Circuit(
    id="lantern-20",
    title="Lantern 20",
    source="invented world",
    confidence="invented world",
    mains=(MainsTap(117.0),),
    mains_hz=60.0,
    protection="0",
    fuse=1.0,
    fuse_kind="T",
    mains_watt=80.0,
    rectifier="5Y3GT",
    load_ohm=8.0,
    primary_ohm=8000.0,
    rails=(
        Rail("A", 350.0),
        Rail("B", 340.0, fed_from="A"),
        Rail("C", 280.0, fed_from="B", through_ohm=10e3),
        Rail("bias", -40.0),
    ),
    capacitors=(
        Capacitor("elco-1", 20e-6, 600.0, "filter", "A"),
        Capacitor("elco-2", 20e-6, 450.0, "filter", "C"),
        Capacitor("elco-3", 50e-6, 50.0, "bias", "bias"),
        Capacitor("cap-1", 47e-9, 600.0, "line-to-chassis"),
        Capacitor("cap-2", 22e-9, 600.0, "coupling", "C"),
    ),
    resistors=(
        Resistor("R1", 220e3, bleeds="A"),
        Resistor("R2", 100e3),
        Resistor("pot-1", 1e6, 0.2, use="pot log"),
    ),
    windings=(
        Winding("primary", "pt", "primary", 117.0, dc_ohm=5.0),
        Winding("hv", "pt", "hv", 650.0, dc_ohm=180.0),
        Winding("heaters", "pt", "heater", 6.3),
        Winding("ot-primary", "ot", "primary", dc_ohm=250.0, turns=1.0),
        Winding("ot-8", "ot", "secondary", dc_ohm=0.5, turns=1 / sqrt(1000.0), load_ohm=8.0),
        Winding("ot-4", "ot", "secondary", turns=1 / sqrt(2000.0), load_ohm=4.0),
    ),
)


def read(n: int, line: str, value: float, at: str = "", note: str = "", typed: str = "") -> Reading:
    """A reading in the line's unit."""
    return Reading(n, line, at, typed, value, note=note)


def bench(
    *readings: Reading, circuit: Circuit = AMP, practice: str = "us", ambient: float = 293.15
) -> Bench:
    """A sheet of those readings."""
    return Bench(circuit, readings, line_kinds(), practice, ambient)


def changed(**parts: object) -> Circuit:
    """The amp with something else about it."""
    return replace(AMP, **parts)  # pyright: ignore[reportArgumentType]


def the(lines: tuple[Line, ...], line: str, at: str = "") -> Line:
    """The one line of that id at that place."""
    (found,) = [one for one in lines if one.id == line and one.at == at]
    return found
