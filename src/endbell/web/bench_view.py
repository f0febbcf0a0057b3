"""The bench page as its templates need it: sections in the order of work, lines in their place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any, cast

from ..bench.gates import StageState, Wait, cautions_of, is_powered, needs_of_stage
from ..bench.kinds import line_kinds
from ..bench.lines import OFF, SIGNS, Judgement, Line
from ..bench.result import SheetResult
from ..bench.result_json import bound_told, told
from ..bench.stages import ORDER, TITLES, Stage
from .bench_now import BenchNow, Step
from .bench_shown import (
    CAUSES,
    LOOK,
    MOST_CHANGES,
    Limit,
    Next,
    Section,
    Shown,
    Would,
)
from .pages import FILTERS


def sections(now: BenchNow) -> tuple[Section, ...]:
    """Every stage, in the order of work."""
    gates = {state.stage: state for state in now.gates.stages}
    return tuple(_section(now, n, gates[stage]) for n, stage in enumerate(ORDER, start=1))


def current(now: BenchNow, line: str = "", at: str = "", after: str = "") -> Step | None:
    """The step to make, of those that are still to be made.

    The one asked for; else the first that later steps wait for; else the one after ``after`` in its
    stage; else what tells most about what is off; else the first of the furthest stage.
    """
    asked = now.step(line, at) if line else None
    if asked is not None:
        return asked
    todo = now.todo
    waited = next((step for step in todo if step.line.id in _waited_for()), None)
    if waited is not None or not todo:
        return waited
    keys = [step.key for step in now.steps]
    if after in keys:
        stage = now.steps[keys.index(after)].line.stage
        later = keys[keys.index(after) + 1 :]
        found = (step for step in todo if step.key in later and step.line.stage is stage)
        following = next(found, None)
        if following is not None:
            return following
    telling = next_steps(now) if causes(now) else ()
    if telling:
        return telling[0].step
    furthest = max(ORDER.index(step.line.stage) for step in todo)
    return next(step for step in todo if ORDER.index(step.line.stage) == furthest)


@cache
def _waited_for() -> frozenset[str]:
    """Ids of the lines that later steps wait for, and of the readings those rest on."""
    needs = [need for stage in ORDER for need in needs_of_stage(stage)]
    return frozenset(line for need in needs for line in (need.line, *need.again))


def next_steps(now: BenchNow) -> tuple[Next, ...]:
    """What tells most a minute, of what may be measured now."""
    found: list[Next] = []
    for record in _records(now, "next"):
        step = now.step(str(record.get("line") or ""), str(record.get("at") or ""))
        if step is None:
            continue
        minutes = record.get("minutes")
        says = str(record.get("settles") or record.get("says") or "")
        found.append(Next(step, says, minutes if isinstance(minutes, int | float) else None))
    return tuple(found)


def causes(now: BenchNow) -> tuple[Mapping[str, Any], ...]:
    """The likely causes, likeliest first."""
    return tuple(_records(now, "causes"))


def shown(now: BenchNow, line: Line) -> Shown:
    """One line as the page shows it."""
    readings = now.state.bench.standing("readings")
    off = line.judgement in OFF
    return Shown(
        line,
        told(line.value, line.unit),
        told(line.expected, line.unit),
        SIGNS[line.judgement],
        off,
        tuple(_limit(line, n) for n in range(len(line.bounds))),
        tuple(readings[n - 1] for n in line.readings if 0 < n <= len(readings)),
        now.step(line.id, line.at),
        tuple(_speaking(now, line)[:CAUSES]) if off else (),
    )


def _section(now: BenchNow, number: int, state: StageState) -> Section:
    stage = state.stage
    lines = [line for line in now.result.lines if line.stage is stage]
    told_lines = [shown(now, line) for line in lines if _said(line)]
    todo = tuple(step for step in now.todo if step.line.stage is stage)
    steps = {step.key for step in now.steps}
    waiting = {(h.id, h.at) for h in (*now.gates.held, *now.result.held) if h.stage is stage}
    if now.cautioned:
        kinds = line_kinds()
        waiting |= {
            (line.id, line.at)
            for line in now.gates.lines
            if line.stage is stage and is_powered(kinds[line.id]) and kinds[line.id].measured
        }
    hidden = len({key for key in waiting if "@".join(filter(None, key)) not in steps})
    waits = state.waits_for if state.state == "waits" else _held_here(now, stage)
    return Section(
        stage=stage,
        number=number,
        title=TITLES[stage],
        state=state.state,
        cautions=cautions_of(stage),
        waits=waits,
        hidden=hidden,
        let=state.overridden,
        look=tuple(one for one in told_lines if one.line.judgement in LOOK),
        done=tuple(one for one in told_lines if one.line.judgement not in LOOK),
        todo=todo,
        follow=_follow(lines),
        letting=_letting(now, stage),
        cautioned=now.cautioned and _power_next(now, stage),
    )


def _said(line: Line) -> bool:
    return line.judgement is not Judgement.NOT_MEASURED or bool(line.readings)


def _follow(lines: Sequence[Line]) -> tuple[str, ...]:
    """Titles of lines that are worked out once others are measured."""
    kinds = line_kinds()
    return tuple(
        dict.fromkeys(
            line.title
            for line in lines
            if line.judgement is Judgement.NOT_MEASURED and not kinds[line.id].measured
        )
    )


def _held_here(now: BenchNow, stage: Stage) -> tuple[Wait, ...]:
    """What the held lines of an open stage wait for."""
    found = [w for h in now.gates.held if h.stage is stage for w in h.waits_for]
    return tuple(dict.fromkeys(found))


def _letting(now: BenchNow, stage: Stage) -> tuple[Wait, ...]:
    """The lines of ``stage`` that later steps wait for and that have not passed.

    None of a stage that waits itself: what is before it comes first.
    """
    if now.gates.stage(stage).state == "waits":
        return ()
    kinds = line_kinds()
    asked = {need.line for later in ORDER for need in needs_of_stage(later)}
    found: dict[tuple[str, str], Wait] = {}
    for state in now.gates.stages:
        for wait in (*state.waits_for, *state.stopped_by):
            kind = kinds.get(wait.line)
            if wait.line in asked and kind is not None and kind.stage is stage:
                found.setdefault((wait.line, wait.at), wait)
    return tuple(found.values())


def _power_next(now: BenchNow, stage: Stage) -> bool:
    """Whether the caution is what the powered lines of ``stage`` wait for, and nothing else."""
    kinds = line_kinds()
    return any(
        line.stage is stage and is_powered(kinds[line.id]) and kinds[line.id].measured
        for line in now.gates.lines
    )


def _limit(line: Line, n: int) -> Limit:
    bound = line.bounds[n]
    memory = bound.confidence == "from memory"
    source = "from memory: check the standard" if memory else bound.source
    if not memory and bound.confidence not in ("published", bound.source):
        source = f"{source} ({bound.confidence})"
    return Limit(bound_told(bound, line.unit), bound.title, source, memory)


def _speaking(now: BenchNow, line: Line) -> list[Mapping[str, Any]]:
    """The causes that a line speaks for; none where no fault of the list shows in it."""
    named = f"{line.title} at {line.at}" if line.at else line.title
    every = [(c, [str(t) for t in _list(c, "speaks_for")]) for c in _records(now, "causes")]
    exact = [c for c, texts in every if any(t.startswith(f"{named},") for t in texts)]
    return exact or [c for c, texts in every if any(t.startswith(line.title) for t in texts)]


def _records(now: BenchNow, key: str) -> list[Mapping[str, Any]]:
    return cast("list[Mapping[str, Any]]", now.result.diagnosis.get(key) or [])


def _list(record: Mapping[str, Any], key: str) -> Sequence[object]:
    found = record.get(key)
    return cast("Sequence[object]", found) if isinstance(found, list | tuple) else ()


def would(now: BenchNow, result: SheetResult, line: str, at: str) -> Would:
    """The sheet ``result`` beside the present one."""
    before = {(x.id, x.at): x for x in now.result.lines}
    own: Shown | None = None
    changes: list[tuple[str, str, Shown]] = []
    for new in result.lines:
        told_new = shown(now, new)
        if (new.id, new.at) == (line, at):
            own = told_new
            continue
        old = before.get((new.id, new.at))
        if old is not None and (old.value, old.judgement) == (new.value, new.judgement):
            continue
        if new.judgement is Judgement.NOT_MEASURED:
            continue
        was = f"{told(old.value, old.unit)} {old.judgement.value}".strip() if old else ""
        changes.append((told_new.named, was, told_new))
    return Would(own, tuple(changes[:MOST_CHANGES]))


def letting(now: BenchNow) -> frozenset[tuple[str, str]]:
    """Lines (id, place) that later steps wait for and that could be let pass by name."""
    return frozenset((wait.line, wait.at) for stage in ORDER for wait in _letting(now, stage))


def figure(line: Line | None) -> str:
    """A side of before and after: '352 V, within'."""
    if line is None or line.judgement is Judgement.NOT_MEASURED:
        return "–"
    return ", ".join(filter(None, (told(line.value, line.unit), line.judgement.value)))


def drawn(line: Line | None) -> str:
    """What is expected of a line, as a figure; '' where nothing is."""
    return told(line.expected, line.unit) if line else ""


FILTERS.update(figure=figure, expected=drawn)
