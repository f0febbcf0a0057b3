"""The bench sheet of a dossier as it stands now: computed, with what may be measured next.

What may be asked for is decided here and nowhere else: the page shows no field for a line that is
not in :attr:`BenchNow.steps`, and a reading of such a line is refused.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ..bench.circuit import Circuit
from ..bench.circuit_of import with_circuit
from ..bench.circuits.find import circuits
from ..bench.compute import compute
from ..bench.gates import is_powered, needs_of_stage
from ..bench.kinds import line_kinds
from ..bench.lines import Judgement, Line, LineKind
from ..bench.result import SheetResult
from ..bench.sheet import sheet_of
from ..bench.sheet_types import Sheet
from ..bench.stages import Stage
from ..dossier.errors import DossierError
from ..store import DossierState
from ..store.events import canonical

CAUTION = "limited-mains"
"""The level of the caution that stands before the first line that needs power."""

HELD = 64
"""Computed sheets that are held."""

_AGAIN = "mains-current"  # a powered line of the dc stage: any would do


@dataclass(frozen=True, slots=True)
class Parts:
    """What the last verdict says of the parts: probability to be original, likeliest year."""

    original: Mapping[str, float] = field(default_factory=dict[str, float])
    year: Mapping[str, int] = field(default_factory=dict[str, int])


@dataclass(frozen=True, slots=True)
class Step:
    """A line that may be measured now. ``again``: it has to be repeated after the repair."""

    line: Line
    kind: LineKind
    again: bool = False

    @property
    def key(self) -> str:
        """'rail-volts@B1'."""
        return f"{self.line.id}@{self.line.at}" if self.line.at else self.line.id


@dataclass(frozen=True, slots=True)
class BenchNow:
    """The sheet of a dossier, computed.

    ``steps``: what may be measured now, in the order of work, whether it has been or not.
    ``gates``: the sheet as the gates see whatever is measured from now on.  ``cautioned``: powered
    lines stand behind the caution that nobody has read yet.  ``repaired``: something was replaced.
    """

    state: DossierState
    result: SheetResult
    gates: SheetResult
    steps: tuple[Step, ...]
    cautioned: bool
    repaired: bool

    def step(self, line: str, at: str = "") -> Step | None:
        """The step of that line and place; None where it may not be measured (yet)."""
        return next((s for s in self.steps if (s.line.id, s.line.at) == (line, at)), None)

    @property
    def todo(self) -> tuple[Step, ...]:
        """The steps that are still to be made."""
        return tuple(step for step in self.steps if step.again or _blank(step.line))


class NoCircuit(DossierError):
    """There is no circuit to hold the amp against; the sentence says what would do."""


def bench_now(state: DossierState, folders: Sequence[Path], parts: Parts | None = None) -> BenchNow:
    """The sheet of ``state`` computed; ``folders``: of the shop's own packs.

    Raises :class:`NoCircuit` (or another :class:`DossierError`) where no circuit is to be had.
    """
    form = form_of(state, folders)
    parts = parts or Parts()
    repaired = bool(state.bench.standing("replaced"))
    result = _computed(form, folders, parts)
    gates = _computed(_after(form), folders, parts) if repaired else result
    read = any(one.level == CAUTION for one in state.acknowledged)
    steps = _steps(result, gates, read, _again(result, gates, repaired))
    return BenchNow(state, result, gates, steps, not read, repaired)


def form_of(state: DossierState, folders: Sequence[Path]) -> dict[str, Any]:
    """The tables of the sheet, with the circuit of the claimed model where none was chosen."""
    form = state.sheet_form()
    if "circuit" not in form:
        named = circuit_named(state, folders)
        if named is None:
            raise NoCircuit(
                state.number, "no circuit to hold the amp against; accepted: one of a pack"
            )
        form["circuit"] = named
    return form


def circuit_named(state: DossierState, folders: Sequence[Path]) -> str | None:
    """The circuit of the model that is claimed, 'brackwater/lantern-20', or None."""
    model = state.claim.get("model")
    there = circuits(tuple(folders))
    found = [f"{pack}/{model}" for pack in state.packs if (pack, model) in there]
    return found[0] if found else None


def circuit_names(folders: Sequence[Path]) -> tuple[str, ...]:
    """Every circuit that could be chosen."""
    return tuple(f"{pack}/{model}" for pack, model in sorted(circuits(tuple(folders))))


def with_readings(
    state: DossierState,
    rows: Sequence[Mapping[str, Any]],
    folders: Sequence[Path],
    parts: Parts | None = None,
) -> SheetResult:
    """The sheet as it would be with ``rows`` as readings after the others; nothing is recorded."""
    form = form_of(state, folders)
    readings = [*form.get("reading", []), *(dict(row) for row in rows)]
    return _computed({**form, "reading": readings}, folders, parts or Parts())


def why_held(result: SheetResult, line: str, at: str) -> str:
    """What a line waits for, as half a sentence; '' where it is not held."""
    waits = [w for h in result.held if h.id == line and h.at in ("", at) for w in h.waits_for]
    waits = waits or [w for h in result.held if h.id == line for w in h.waits_for]
    named = dict.fromkeys(
        f"{w.title}{f' at {w.at}' if w.at else ''} ({w.judgement.value})" for w in waits
    )
    return ", ".join(named)


def _after(form: Mapping[str, Any]) -> dict[str, Any]:
    """The sheet with a powered reading after the repair, not possible: so the gates ask for those
    lines again that a repair calls for."""
    row = {"line": _AGAIN, "after": True, "result": "not-possible", "note": "-"}
    return {**form, "reading": [*form.get("reading", []), row]}


def _steps(
    result: SheetResult, gates: SheetResult, read: bool, again: frozenset[tuple[str, str]]
) -> tuple[Step, ...]:
    kinds = line_kinds()
    open_now = {(line.id, line.at) for line in gates.lines}
    held = {held.id for held in gates.held}
    out: list[Step] = []
    for line in result.lines:
        kind = kinds.get(line.id)
        if kind is None or not kind.measured or (line.id, line.at) not in open_now:
            continue
        if is_powered(kind) and (not read or line.id in held):
            continue
        out.append(Step(line, kind, (line.id, line.at) in again))
    return tuple(out)


def _again(result: SheetResult, gates: SheetResult, repaired: bool) -> frozenset[tuple[str, str]]:
    """Lines measured before the repair that have to be measured again before power is put on."""
    if not repaired:
        return frozenset()
    asked = {line for need in needs_of_stage(Stage.AUDIO) for line in need.again}
    after = {(r.line, r.at) for r in gates.sheet.readings if r.after and r.result == "read"}
    return frozenset(
        (line.id, line.at)
        for line in result.lines
        if line.id in asked and (line.id, line.at) not in after and not _blank(line)
    )


def _blank(line: Line) -> bool:
    """Not measured, and nobody has said that it can't be."""
    return line.judgement is Judgement.NOT_MEASURED and not line.readings


# ---- computed once


_LOCK = threading.Lock()
_DONE: OrderedDict[str, SheetResult] = OrderedDict()


def _computed(form: Mapping[str, Any], folders: Sequence[Path], parts: Parts) -> SheetResult:
    """The sheet computed; the same tables are computed once, a circuit's file that changes aside.

    A folder of the shop's own packs is named after what it holds.
    """
    key = canonical([form, [str(f) for f in folders], parts.original, parts.year])
    with _LOCK:
        if key in _DONE:
            _DONE.move_to_end(key)
            return _DONE[key]
    sheet, circuit = _read(form, folders)
    result = compute(sheet, circuit, parts_original=parts.original, parts_year=parts.year)
    with _LOCK:
        _DONE[key] = result
        while len(_DONE) > HELD:
            _DONE.popitem(last=False)
    return result


def _read(form: Mapping[str, Any], folders: Sequence[Path]) -> tuple[Sheet, Circuit]:
    return with_circuit(sheet_of(form), folders)
