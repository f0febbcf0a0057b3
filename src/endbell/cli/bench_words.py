"""How a computed sheet is told, on the terminal and on the page alike."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, cast

from ..bench.gates import StageState, Wait
from ..bench.kinds import line_kinds
from ..bench.lines import Bound, Judgement, Line
from ..bench.result import SheetResult
from ..bench.result_json import bound_told, told
from ..bench.stages import TITLES, Stage

UNCHANGED = "held its own"


def headline(result: SheetResult) -> str:
    """The sheet in one line: where it stopped, or what is off, or how far it is."""
    for state in result.stages:
        if state.state == "stopped":
            waits = "; ".join(wait_told(wait) for wait in state.stopped_by)
            return f"Stopped at {TITLES[state.stage].lower()}: {waits}"
    off, flagged = result.off, result.flagged
    if off:
        names = listed(f"{name(line)} {line.judgement.value}" for line in off[:3])
        rest = f" and {len(off) - 3} more" if len(off) > 3 else ""
        return f"Off: {names}{rest}"
    also = f" (flagged: {listed(name(line) for line in flagged)})" if flagged else ""
    waiting = next((state for state in result.stages if state.state == "waits"), None)
    if waiting is not None:
        told = waits_told(waiting)
        return f"Nothing is off so far; {TITLES[waiting.stage].lower()} waits for {told}{also}"
    return f"Nothing measured is off{also}"


def stage_head(state: StageState, number: int) -> str:
    """'2 · Safety: stopped'."""
    let = ", with lines overridden" if state.overridden else ""
    return f"{number} · {TITLES[state.stage]}: {state.state}{let}"


def waits_told(state: StageState) -> str:
    """What a stage waits for: 'earth-bond (high), insulation (not measured)'."""
    return ", ".join(wait_told(wait) for wait in state.waits_for)


def wait_told(wait: Wait) -> str:
    """'filter-volts-left at c1 (not measured)'."""
    at = f" at {wait.at}" if wait.at else ""
    return f"{wait.line}{at} ({wait.judgement.value})"


def name(line: Line) -> str:
    """'rail-volts at B1'."""
    return f"{line.id} at {line.at}" if line.at else line.id


def figure(line: Line) -> str:
    """The value as a person reads it, or a dash."""
    return told(line.value, line.unit) or "–"


def limits_told(line: Line) -> str:
    """Every limit of a line with its source and how sure that is."""
    return "; ".join(
        f"{bound_told(bound, line.unit)}: {bound.title} [{_source(bound)}]" for bound in line.bounds
    )


def _source(bound: Bound) -> str:
    known = bound.source in ("", bound.confidence)
    return bound.confidence if known else f"{bound.confidence}; {bound.source}"


def of_stage(result: SheetResult, stage: Stage) -> tuple[Line, ...]:
    """The shown lines of a stage, in the order of the work."""
    return tuple(line for line in result.lines if line.stage is stage)


def to_measure(lines: Iterable[Line]) -> tuple[Line, ...]:
    """Those that a person can read off a meter now."""
    kinds = line_kinds()
    return tuple(
        line
        for line in lines
        if line.judgement is Judgement.NOT_MEASURED and line.id in kinds and kinds[line.id].measured
    )


def grouped(lines: Iterable[Line]) -> str:
    """Lines of one kind together: 'capacitor-esr at c1, c2; resistor-ohm at r1'."""
    places: dict[str, list[str]] = {}
    for line in lines:
        places.setdefault(line.id, []).append(line.at)
    return "; ".join(
        f"{kind} at {', '.join(at)}" if any(at) else kind for kind, at in places.items()
    )


def folded(lines: Iterable[Line]) -> str:
    """Lines of one kind together with their values: 'winding-ohm at hv 182 Ω, heater 0.1 Ω'."""
    places: dict[str, list[Line]] = {}
    for line in lines:
        places.setdefault(line.id, []).append(line)
    return "; ".join(
        kind
        + (" at " if same[0].at else " ")
        + ", ".join(f"{line.at} {figure(line)}" if line.at else figure(line) for line in same)
        for kind, same in places.items()
    )


def listed(words: Iterable[str]) -> str:
    """'a, b and c'."""
    all_words = list(words)
    if len(all_words) < 2:
        return "".join(all_words)
    return f"{', '.join(all_words[:-1])} and {all_words[-1]}"


def cause_told(cause: Mapping[str, Any]) -> tuple[str, str]:
    """A cause as its head ('Coupling capacitor leaks: 62%') and the rest of it."""
    from .say import percent

    return f"{cause['title']}: {percent(cause['p'])}", str(cause["says"])


def next_told(step: Mapping[str, Any]) -> tuple[str, str, str]:
    """A measurement worth making as its head, why, and the caution that goes with it."""
    at = f" at {step['at']}" if step["at"] else ""
    head = f"{step['title']}{at}, {step['minutes']:g} min"
    return head, str(step["settles"]), str(step["caution"])


def due_told(result: SheetResult) -> str:
    """The readings that come first: 'insulation; filter-volts-left at C1, C2'."""
    places: dict[str, list[str]] = {}
    for line, at in result.due:
        places.setdefault(line, []).append(at)
    return "; ".join(
        f"{line} at {', '.join(at)}" if any(at) else line for line, at in places.items()
    )


def records(result: SheetResult, key: str) -> list[Mapping[str, Any]]:
    """The causes or the next measurements."""
    return cast("list[Mapping[str, Any]]", result.diagnosis.get(key) or [])
