"""The amps of the benchmark of causes, and the steps of the printed checklist that each has."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from endbell.bench.causes.evidence import shown_by
from endbell.bench.causes.fitted import Fitted, fitted
from endbell.bench.causes.looking import Look
from endbell.bench.causes.tables import measurings
from endbell.bench.circuit import Capacitor, Circuit, Resistor, Seat, Winding
from endbell.bench.kinds import line_kinds
from endbell.bench.readings import Bench

CHECKLIST = Path(__file__).resolve().parents[1] / "docs" / "bench_checklist.md"


@dataclass(frozen=True)
class Amp:
    """An invented amp on the bench: its network and the steps of the checklist it has."""

    model: Fitted
    steps: tuple[Look, ...]


def checklist() -> tuple[str, ...]:
    """`line@place` of every step of the printed checklist, in its order."""
    text = CHECKLIST.read_text(encoding="utf-8")
    return tuple(re.findall(r"^\| +\d+ \| `([^`]+)`", text, re.MULTILINE))


def amps() -> tuple[Amp, ...]:
    """Two invented circuits, each with what six dossiers say of its parts."""
    seats = [Seat(f"V{n}", "12AX7", "preamp") for n in (1, 2)]
    seats += [Seat("V3", "12AX7", "inverter"), Seat("V6", "5AR4", "rectifier")]
    capacitors = [
        Capacitor("C1", 2e-5, 500.0, "filter", "A", part="elco-1"),
        Capacitor("C2", 2e-5, 500.0, "filter", "B", part="elco-2"),
        Capacitor("C3", 25e-6, 25.0, "bypass", part="elco-3"),
        Capacitor("C4", 22e-9, 600.0, "coupling", part="cap-1"),
    ]
    choke = Winding("choke", "choke", "choke")
    circuits = [
        Circuit(
            "lantern-20-reverb",
            "Lantern 20 Reverb",
            "invented world",
            "invented world",
            rectifier="5AR4",
            seats=(
                *seats,
                Seat("V4", "6V6GT", "output", bias="cathode", pair="V5"),
                Seat("V5", "6V6GT", "output", bias="cathode", pair="V4"),
                Seat("V7", "12AT7", "reverb drive"),
                Seat("V8", "12AX7", "tremolo"),
            ),
            capacitors=(*capacitors, Capacitor("C9", 47e-9, 600.0, "line-to-chassis")),
            windings=(choke, Winding("rt", "rt", "primary")),
            resistors=(Resistor("R1", 220e3, bleeds="A"),),
        ),
        Circuit(
            "beacon-45",
            "Beacon 45",
            "invented world",
            "invented world",
            rectifier="5AR4",
            seats=(
                *seats,
                Seat("V4", "6L6GC", "output", bias="fixed", pair="V5"),
                Seat("V5", "6L6GC", "output", bias="fixed", pair="V4"),
            ),
            capacitors=(*capacitors, Capacitor("C8", 5e-5, 100.0, "bias", part="elco-4")),
            windings=(choke,),
        ),
    ]
    parts = ("elco-1", "elco-2", "elco-3", "elco-4", "cap-1", "pt", "ot", "pot-1", "sp-1")
    records = [({}, {})]
    for original in (0.95, 0.5, 0.05):
        year = 1962 if original > 0.4 else 2019
        records.append((dict.fromkeys(parts, original), dict.fromkeys(parts, year)))
    records.append(({"elco-1": 0.97, "elco-2": 0.03}, {"elco-1": 1961, "elco-2": 2024}))
    records.append(({"pt": 0.9, "ot": 0.1, "sp-1": 0.9}, {"pt": 1962, "ot": 1990, "sp-1": 1962}))
    out: list[Amp] = []
    for circuit in circuits:
        for known, years in records:
            bench = Bench(circuit, (), line_kinds(), parts_original=known, parts_year=years)
            out.append(Amp(fitted(bench), _steps(circuit)))
    return tuple(out)


def _steps(circuit: Circuit) -> tuple[Look, ...]:
    """The checklist of a circuit: without the steps whose place it has not."""
    own = {seat.use.split()[0] for seat in circuit.seats} | {"pt", "ot", "supply", "other"}
    own |= {"plate", "cathode", "screen", ""} | {w.part for w in circuit.windings}
    own |= {c.use for c in circuit.capacitors}
    out: list[Look] = []
    for key in checklist():
        line, _, scope = key.partition("@")
        family = {"tremolo": "tremolo", "reverb": "reverb", "tank": "reverb"}
        if {scope, family.get(line.partition("-")[0], "")} <= own:
            shows = tuple(
                (n, 1, 1)
                for m in measurings()
                if line in m.lines and m.scope == scope
                for n in shown_by(m)
            )
            out.append(Look(key, shows, max(line_kinds()[line].minutes, 0.25)))
    return tuple(out)
