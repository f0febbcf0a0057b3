"""An amp with its valves drawn, and lines as other subjects would give them."""

from __future__ import annotations

from dataclasses import replace

from endbell.bench.circuit import Circuit, Seat
from endbell.bench.kinds import line_kinds
from endbell.bench.lines import Judgement, Line
from endbell.bench.readings import Bench

from ..amps import AMP


def output(at: str, pair: str, bias: str = "cathode") -> Seat:
    """An output valve."""
    return Seat(at, "6V6GT", "output", plate=340.0, bias=bias, pair=pair, rail="A")


LANTERN: Circuit = replace(
    AMP,
    seats=(
        Seat("V1", "12AX7", "preamp"),
        Seat("V2", "12AX7", "inverter"),
        output("V3", "V4"),
        output("V4", "V3"),
        Seat("V5", "5Y3GT", "rectifier"),
    ),
)


def on_the_bench(circuit: Circuit = LANTERN, **parts: tuple[float, int]) -> Bench:
    """A bench; ``parts``: P(original) and likeliest year, '_' for '-' in the part's name."""
    named = {name.replace("_", "-"): told for name, told in parts.items()}
    return Bench(
        circuit,
        (),
        line_kinds(),
        parts_original={at: told[0] for at, told in named.items()},
        parts_year={at: told[1] for at, told in named.items()},
    )


def line(kind: str, judgement: Judgement, at: str = "") -> Line:
    """A line of a kind with a judgement."""
    own = line_kinds()[kind]
    return Line(kind, own.title, own.stage, own.unit, None, judgement, at, caution=own.caution)
