"""From the lines of a sheet to symptoms seen, and to measurements that may be made."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from ..facts import facts
from ..lines import Judgement, Line
from ..readings import Bench
from .looking import Look
from .posterior import Seen
from .tables import Measuring, measurings, symptoms

OFF = frozenset((Judgement.LOW, Judgement.HIGH, Judgement.ODD))
SAID = OFF | {Judgement.WITHIN}


@dataclass(frozen=True, slots=True)
class Evidence:
    """``seen``: what was found at symptoms by their number; ``lines``: the judged lines behind
    each; ``places``: how many lines a symptom has, judged or not; ``unexplained``: lines that are
    off in a way that is no symptom."""

    seen: Mapping[int, Seen]
    lines: Mapping[int, tuple[Line, ...]]
    places: Mapping[int, int]
    unexplained: tuple[Line, ...]


def scope_of(line: Line, bench: Bench) -> str:
    """What sort of place a line stands at: the use of its valve, capacitor or resistor, the
    transformer of its winding, 'bias' or 'supply' of its rail; '' where places are all alike."""
    kind = bench.kinds.get(line.id)
    per = kind.per if kind else ""
    at = line.at.partition("@")[0]
    circuit = bench.circuit
    match per:
        case "valve":
            return _word(per, next((s.use for s in circuit.seats if s.at == at), ""))
        case "capacitor":
            return _word(per, next((c.use for c in circuit.capacitors if c.id == at), ""))
        case "resistor":
            use = next((r.use for r in circuit.resistors if r.id == at), "")
            bleeds = any(r.bleeds for r in circuit.resistors if r.id == at)
            return "supply" if bleeds else _word(per, use) or "other"
        case "winding" | "tap" | "transformer":
            return next((w.part for w in circuit.windings if w.id == at), at)
        case "rail":
            rail = circuit.rail(at)
            return "bias" if "bias" in at or (rail is not None and rail.volts < 0) else "supply"
        case _:
            return ""


def _word(per: str, use: str) -> str:
    rows = facts("causes", "scopes")
    return next((r["scope"] for r in rows if r["per"] == per and r["word"] in use), "")


def evidence(lines: Sequence[Line], bench: Bench) -> Evidence:
    """What the judged lines say; what was not measured, or has no limit of a source, says
    nothing."""
    scoped = [(line, scope_of(line, bench)) for line in lines]
    seen: dict[int, Seen] = {}
    behind: dict[int, tuple[Line, ...]] = {}
    places: dict[int, int] = {}
    told: set[int] = set()
    for number, symptom in enumerate(symptoms()):
        own = [x for x, s in scoped if x.id in symptom.lines and symptom.scope in ("", s)]
        places[number] = max(1, len({line.at for line in own}))
        judged = tuple(line for line in own if line.judgement in SAID)
        if not judged:
            continue
        off = tuple(line for line in judged if line.judgement in symptom.judgements)
        told.update(id(line) for line in off)
        read = min(places[number], len({line.at for line in judged}))
        seen[number] = Seen(bool(off), read, places[number])
        behind[number] = off or judged
    rest = tuple(x for x in lines if x.judgement in OFF and id(x) not in told)
    return Evidence(seen, behind, places, rest)


def looks(
    lines: Sequence[Line], bench: Bench, found: Evidence, allowed: Callable[[Line], bool]
) -> tuple[tuple[Look, Line], ...]:
    """Measurements that are not made yet and may be made: one a kind of line and sort of place,
    the first of its places."""
    out: dict[tuple[str, str], tuple[Look, Line]] = {}
    for line in lines:
        kind = bench.kinds.get(line.id)
        if line.judgement is not Judgement.NOT_MEASURED or kind is None or not kind.measured:
            continue
        scope = scope_of(line, bench)
        measuring = _measuring(line.id, scope)
        if measuring is None or (line.id, measuring.scope) in out or not allowed(line):
            continue
        shows = tuple(
            (number, min(read + 1, found.places[number]), found.places[number])
            for number in shown_by(measuring)
            for read in (found.seen[number].read if number in found.seen else 0,)
        )
        look = Look(f"{line.id}@{line.at}", shows, max(kind.minutes, 0.25))
        out[line.id, measuring.scope] = look, line
    return tuple(out.values())


def _measuring(line: str, scope: str) -> Measuring | None:
    return next((m for m in measurings() if line in m.lines and m.scope in ("", scope)), None)


def shown_by(measuring: Measuring) -> tuple[int, ...]:
    """Numbers of the symptoms that a measurement shows: its own, then those of lines it brings."""
    own = [
        n
        for n, s in enumerate(symptoms())
        if set(s.lines) & set(measuring.lines) and s.scope == measuring.scope
    ]
    brought = [
        n
        for n, s in enumerate(symptoms())
        if n not in own and any(b in s.lines and at == s.scope for b, at in measuring.brings)
    ]
    return (*own, *brought)
