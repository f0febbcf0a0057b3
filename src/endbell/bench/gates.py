"""Which lines may be shown: nothing that needs power before its safety lines pass.

What a line waits for: the ``needs`` of its kind, and the rows of ``data/gates/needs.csv`` for its
stage and every stage before.  Only ``within`` passes a line, or somebody who overrides it by name
and with a reason; an override lets pass what it names and nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

from .circuit import Circuit
from .facts import Fact, facts
from .lines import OFF, Judgement, Line, LineKind
from .readings import Reading
from .sheet_types import Override
from .stages import ORDER, Stage


@dataclass(frozen=True, slots=True)
class Wait:
    """A line that has not passed and that others wait for. ``why``: why it has to come first."""

    line: str
    at: str
    title: str
    judgement: Judgement
    why: str = ""


@dataclass(frozen=True, slots=True)
class Let:
    """A line that passes only because ``override`` lets it; ``judgement``: what it would be."""

    line: str
    at: str
    title: str
    judgement: Judgement
    override: Override


@dataclass(frozen=True, slots=True)
class StageState:
    """How far a stage is. ``state``: 'waits' (for lines of earlier stages), 'open', 'stopped' (a
    line of its own is off), 'passed'.  ``waits_for``: what must pass before its powered lines are
    shown.  ``stopped_by``: its own lines that are off.  ``overridden``: its lines let pass.
    """

    stage: Stage
    state: str
    waits_for: tuple[Wait, ...] = ()
    stopped_by: tuple[Wait, ...] = ()
    overridden: tuple[Let, ...] = ()


@dataclass(frozen=True, slots=True)
class Need:
    """A line that others wait for.

    ``when``: '' always, 'given' only where the sheet has such a line, else the protection class it
    is asked of.  ``where``: only at valves of that use.  ``also``: a judgement that lets pass
    beside 'within' (a valve that runs cold harms nothing).  ``again``: readings to be repeated
    after a repair.
    """

    line: str
    when: str = "given"
    where: str = ""
    also: str = ""
    again: tuple[str, ...] = ()
    why: str = ""

    def passes(self, judgement: Judgement) -> bool:
        """Whether a line of that judgement opens what waits for it."""
        return judgement is Judgement.WITHIN or judgement.value == self.also


@cache
def needs_of_stage(stage: Stage) -> tuple[Need, ...]:
    """What powered lines of ``stage`` wait for, whatever their kind says: cumulative."""
    reached = ORDER[: ORDER.index(stage) + 1]
    return tuple(_need(row) for row in facts("gates", "needs") if Stage(row["stage"]) in reached)


def _need(row: Fact) -> Need:
    again = tuple(line for line in row["again"].split(";") if line)
    return Need(row["line"], row["when"], row["where"], row["also"], again, row["why"])


@cache
def _known_needs() -> Mapping[str, Need]:
    return {row["line"]: _need(row) for row in facts("gates", "needs")}


def is_powered(kind: LineKind) -> bool:
    """Whether mains is on while it is measured."""
    return kind.powered or kind.stage.powered


def needs_of(kind: LineKind) -> tuple[Need, ...]:
    """Everything that must pass before a line of ``kind`` is shown, itself left out."""
    needs = list(needs_of_stage(kind.stage)) if is_powered(kind) else []
    known = {need.line for need in needs}
    # a need that no table tells more about has to be there: silence never passes
    needs += [_known_needs().get(line, Need(line, "")) for line in kind.needs if line not in known]
    return tuple(need for need in needs if need.line != kind.id)


@dataclass(slots=True)
class Gatekeeper:
    """Says of each kind what it waits for, given the computed ``lines``.

    ``circuit``: its protection class says what is asked, its seats where.
    ``repeated``: readings taken after the repair, where lines have to be measured again; None where
    nothing was repaired.
    """

    kinds: Mapping[str, LineKind]
    lines: tuple[Line, ...]
    overrides: tuple[Override, ...]
    circuit: Circuit
    repeated: tuple[Reading, ...] | None = None
    _known: dict[str, tuple[Wait, ...]] = field(default_factory=dict[str, tuple[Wait, ...]])
    _missing: dict[str, tuple[Wait, ...]] = field(default_factory=dict[str, tuple[Wait, ...]])
    _by_id: dict[str, list[Line]] = field(default_factory=dict[str, "list[Line]"])

    def __post_init__(self) -> None:
        for line in self.lines:
            self._by_id.setdefault(line.id, []).append(line)

    def waits(self, line: str) -> tuple[Wait, ...]:
        """What a line of that kind waits for; empty: it may be shown."""
        if line not in self._known:
            self._known[line] = ()  # kinds that need each other do not wait for ever
            found = [wait for need in needs_of(self.kinds[line]) for wait in self.missing(need)]
            self._known[line] = tuple(dict.fromkeys(found))
        return self._known[line]

    def missing(self, need: Need) -> tuple[Wait, ...]:
        """Why ``need`` has not passed; empty where it has, or is overridden, or is not asked."""
        if need.line not in self._missing:
            self._missing[need.line] = self._looked(need)
        return self._missing[need.line]

    def _looked(self, need: Need) -> tuple[Wait, ...]:
        kind = self.kinds.get(need.line)
        title = kind.title if kind else need.line
        stage = kind.stage if kind else Stage.SAFETY
        found = self._found(need)
        if not found:
            asked = need.when == "" or need.when == self.circuit.protection
            if not asked or self._let(need.line, "", stage):
                return ()
            return (Wait(need.line, "", title, Judgement.NOT_MEASURED, need.why),)
        held = bool(kind and self.waits(need.line))
        out: list[Wait] = []
        for line in found:
            if self._let(line.id, line.at, line.stage):
                continue
            judgement = self._stands(line, need, held)
            if not need.passes(judgement):
                out.append(Wait(line.id, line.at, line.title, judgement, need.why))
        return tuple(out)

    def _found(self, need: Need) -> list[Line]:
        found = self._by_id.get(need.line, [])
        if not need.where:
            return found
        seats = {seat.at for seat in self.circuit.seats if seat.use == need.where}
        return [line for line in found if line.at in seats]

    def _stands(self, line: Line, need: Need, held: bool) -> Judgement:
        """The judgement that counts: what is held, or was not repeated, was not measured."""
        if held or not self._again(line, need):
            return Judgement.NOT_MEASURED
        return line.judgement

    def _again(self, line: Line, need: Need) -> bool:
        if self.repeated is None or not need.passes(line.judgement):
            return True
        read = {(r.line, r.at) for r in self.repeated if r.result == "read"}
        lines = {r.line for r in self.repeated if r.result == "read"}
        return all((a, line.at) in read if line.at else a in lines for a in need.again)

    def _let(self, line: str, at: str, stage: Stage) -> Override | None:
        return next((o for o in self.overrides if o.covers(line, at, stage.value)), None)

    def due(self) -> tuple[tuple[str, str], ...]:
        """The readings (line, place) that gates wait for and that may be taken now, in the order of
        the work: they come before anything else that could be measured."""
        out: list[tuple[str, str]] = []
        for need in _known_needs().values():
            for wait in self.missing(need):
                kind = self.kinds.get(wait.line)
                if kind is None or wait.judgement is not Judgement.NOT_MEASURED:
                    continue
                asked = [(wait.line, wait.at)] if kind.measured else [(a, "") for a in need.again]
                out += [(line, at) for line, at in asked if not self.waits(line)]
        return tuple(dict.fromkeys(out))

    def stages(self) -> tuple[StageState, ...]:
        """Every stage with its state, in the order of work."""
        return tuple(self._stage(stage) for stage in ORDER)

    def _stage(self, stage: Stage) -> StageState:
        entry = tuple(
            wait
            for need in (needs_of_stage(stage) if stage is not Stage.DISCHARGED else ())
            for wait in self.missing(need)
        )
        own = [need for need in _known_needs().values() if self._stage_of(need) is stage]
        missing = tuple(wait for need in own for wait in self.missing(need))
        let = tuple(lets for need in own for lets in self._lets(need))
        stopped = tuple(wait for wait in missing if wait.judgement in OFF)
        if stage.powered and entry:
            state = "waits"
        elif stopped:
            state = "stopped"
        elif own and not missing:
            state = "passed"
        else:
            state = "open"
        return StageState(stage, state, entry, stopped, let)

    def _stage_of(self, need: Need) -> Stage | None:
        kind = self.kinds.get(need.line)
        return kind.stage if kind else None

    def _lets(self, need: Need) -> tuple[Let, ...]:
        """The lines of ``need`` that pass by an override alone."""
        kind = self.kinds.get(need.line)
        title = kind.title if kind else need.line
        stage = kind.stage if kind else Stage.SAFETY
        found = self._found(need)
        if not found and need.when in ("", self.circuit.protection):
            override = self._let(need.line, "", stage)
            return (
                (Let(need.line, "", title, Judgement.NOT_MEASURED, override),) if override else ()
            )
        out: list[Let] = []
        for line in found:
            override = self._let(line.id, line.at, line.stage)
            judgement = self._stands(line, need, bool(kind and self.waits(need.line)))
            if override is not None and not need.passes(judgement):
                out.append(Let(line.id, line.at, line.title, judgement, override))
        return tuple(out)


def cautions_of(stage: Stage) -> tuple[str, ...]:
    """What is said before any step of ``stage``."""
    return tuple(r["caution"] for r in facts("gates", "cautions") if r["stage"] == stage.value)
