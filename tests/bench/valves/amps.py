"""Two invented amps whose readings follow from good valves: fixed bias, and cathode bias."""

from __future__ import annotations

from collections.abc import Mapping

from hypothesis import settings

from endbell.bench.circuit import Capacitor, Circuit, MainsTap, Rail, Seat, Winding
from endbell.bench.kinds import line_kinds
from endbell.bench.lines import Line
from endbell.bench.readings import Bench, Reading
from endbell.bench.valves.models import model
from endbell.bench.valves.on_sheet import lines
from endbell.bench.valves.operating_point import Wiring, settle

HALF = 55.0


def steady(examples: int = 100) -> settings:
    """The same examples every time."""
    return settings(max_examples=examples, deadline=None, derandomize=True)


SMALL = Seat(
    "V1a", "12AX7", "preamp", 196.0, None, 1.56, None, 100e3, 1500.0, rail="C", bias="cathode"
)
FIXED = Circuit(
    id="fixed",
    title="An invented amp of forty watts",
    source="an invented drawing",
    confidence="invented world",
    mains=(MainsTap(120.0), MainsTap(240.0)),
    mains_hz=60.0,
    rectifier="GZ34",
    rated_watt=40.0,
    seats=(
        SMALL,
        *(
            Seat(
                at,
                "6L6GC",
                "output",
                425.0,
                422.0,
                0.0,
                -43.0,
                screen_ohm=470.0,
                rail="A",
                pair=other,
                bias="fixed",
            )
            for at, other in (("V3", "V4"), ("V4", "V3"))
        ),
        Seat("V5", "GZ34", "rectifier"),
    ),
    rails=(
        Rail("A", 428.0),
        Rail("B", 424.0, fed_from="A", through_ohm=400.0),
        Rail("C", 300.0, fed_from="B", through_ohm=15e3),
        Rail("bias", -52.0),
    ),
    capacitors=(
        Capacitor("C1", 40e-6, 525.0, "filter", "A"),
        Capacitor("C2", 20e-6, 525.0, "filter", "B"),
        Capacitor("C3", 20e-6, 450.0, "filter", "C"),
    ),
    windings=(
        Winding("hv", "pt", "hv", 660.0, 0.2, 110.0),
        Winding("pri", "pt", "primary", 120.0, None, 2.0),
        Winding("heat", "pt", "heater", 6.6, 4.0),
        Winding("rect", "pt", "rectifier heater", 5.2, 2.0),
        Winding("op", "ot", "primary", None, None, 2.0 * HALF, 0.05),
    ),
)
CATHODE = Circuit(
    id="cathode",
    title="An invented amp of twelve watts",
    source="an invented drawing",
    confidence="invented world",
    mains=(MainsTap(230.0),),
    rectifier="silicon",
    seats=(
        SMALL,
        *(
            Seat(
                at,
                "EL84",
                "output",
                304.0,
                296.0,
                10.5,
                0.0,
                cathode_ohm=130.0,
                rail="A",
                pair=other,
                bias="cathode",
                cathode_sharing=2,
            )
            for at, other in (("V3", "V4"), ("V4", "V3"))
        ),
    ),
    rails=(Rail("A", 310.0), Rail("C", 300.0, fed_from="A", through_ohm=10e3)),
    windings=(Winding("op", "ot", "primary", None, None, 2.0 * HALF, 0.05),),
)


def bench_of(circuit: Circuit, values: Mapping[tuple[str, str], float]) -> Bench:
    """A sheet with those readings, by (line, place)."""
    taken = tuple(
        Reading(n, line, at, str(value), value)
        for n, ((line, at), value) in enumerate(values.items(), 1)
    )
    return Bench(circuit, taken, line_kinds())


def fixed_readings() -> dict[tuple[str, str], float]:
    """What a good amp reads, its windings warm."""
    good = settle(
        model("6L6GC").valve,
        Wiring(428.0, HALF, grid=-43.0, screen_supply=424.0, screen_ohm=470.0),
    )
    small = settle(model("12AX7").valve, Wiring(300.0, 100e3, 1500.0))
    out = {
        ("mains-volts", ""): 120.0,
        ("tap-set", ""): 120.0,
        ("heater-volts", "heat"): 6.35,
        ("heater-volts", "rect"): 5.05,
        ("rail-volts", "A"): 428.0,
        ("rail-volts", "B"): 424.0,
        ("rail-volts", "C"): 300.0,
        ("rail-volts", "bias"): -52.0,
        ("ripple", "A"): 5.0,
        ("plate-volts", "V1a"): float(small.plate),
        ("cathode-volts", "V1a"): float(small.cathode),
    }
    for at in ("V3", "V4"):
        out[("half-primary", at)] = HALF
        out[("grid-volts", at)] = -43.0
        out[("plate-volts", at)] = float(good.plate)
        out[("screen-volts", at)] = float(good.screen)
        out[("plate-drop", at)] = float(good.plate_amp) * HALF * 1.0786
    return out


def cathode_readings() -> dict[tuple[str, str], float]:
    """What a good cathode-biased amp reads."""
    wiring = Wiring(310.0, HALF, 130.0, sharing=2.0, screen_supply=300.0)
    good = settle(model("EL84").valve, wiring)
    small = settle(model("12AX7").valve, Wiring(300.0, 100e3, 1500.0))
    out = {
        ("rail-volts", "A"): 310.0,
        ("rail-volts", "C"): 300.0,
        ("plate-volts", "V1a"): float(small.plate),
        ("cathode-volts", "V1a"): float(small.cathode),
    }
    for at in ("V3", "V4"):
        out[("cathode-volts", at)] = float(good.cathode)
        out[("plate-volts", at)] = float(good.plate)
        out[("screen-volts", at)] = 300.0
        out[("grid-volts", at)] = 0.0
        out[("half-primary", at)] = HALF
        out[("plate-drop", at)] = float(good.plate_amp) * HALF * 1.0786
    return out


def told(circuit: Circuit, values: Mapping[tuple[str, str], float]) -> dict[tuple[str, str], Line]:
    """The lines of the valves by (line, place)."""
    return {(line.id, line.at): line for line in lines(bench_of(circuit, values))}
