"""The present state of one dossier, as its events have made it.  Frozen; nothing interprets it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any, cast

from ..dossier.keys import FORMAT_NAME, FORMAT_NUMBER
from .bench import BenchState, bench_from_json

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class MarkRow:
    """A mark: ``row`` holds the keys of ``[[mark]]`` as typed.

    ``id`` never changes; ``n`` is the event that made its present wording; ``by`` and ``at``: who
    wrote that, when.  A withdrawn mark stays here and leaves the form.
    """

    id: str
    row: Row
    n: int
    by: str
    at: str
    withdrawn: bool = False


@dataclass(frozen=True, slots=True)
class RepairRow:
    """A repair: ``row`` holds the keys of ``[[repair]]``."""

    id: str
    row: Row
    withdrawn: bool = False


@dataclass(frozen=True, slots=True)
class PhotoRow:
    """A photo: ``sha256`` of the original file, whose name it had, and what it shows."""

    sha256: str
    name: str
    type: str
    bytes: int
    mark: str | None = None
    part: str | None = None
    taken: str | None = None
    width: int | None = None
    height: int | None = None
    withdrawn: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """A check that was not made, and why."""

    check: str
    part: str
    answer: str
    reason: str
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class Acknowledged:
    """A caution read: its level, the name given, by whose account, when."""

    level: str
    name: str
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class DossierState:
    """Everything recorded about one amp, now.

    ``version``: the number of its last event.  ``undone``: the events that are taken back.
    ``head``: purpose, packs, as_of and keys nobody knows, as a dossier file has them at its top.
    """

    id: str
    number: str = ""
    version: int = 0
    head: Row = field(default_factory=dict[str, Any])
    claim: Row = field(default_factory=dict[str, Any])
    known: Row = field(default_factory=dict[str, Any])
    intake: Row = field(default_factory=dict[str, Any])
    marks: tuple[MarkRow, ...] = ()
    parts: tuple[Row, ...] = ()
    repairs: tuple[RepairRow, ...] = ()
    photos: tuple[PhotoRow, ...] = ()
    answers: tuple[Answer, ...] = ()
    acknowledged: tuple[Acknowledged, ...] = ()
    tags: tuple[str, ...] = ()
    note: str = ""
    closed: bool = False
    opened_at: str = ""
    changed_at: str = ""
    undone: tuple[int, ...] = ()
    bench: BenchState = field(default_factory=BenchState)

    @property
    def packs(self) -> tuple[str, ...]:
        """The packs that the dossier names."""
        return tuple(self.head.get("packs", ()))

    @property
    def standing(self) -> tuple[MarkRow, ...]:
        """The marks that are not withdrawn; mark n of the form is ``standing[n - 1]``."""
        return tuple(mark for mark in self.marks if not mark.withdrawn)

    def mark(self, mark_id: str) -> MarkRow | None:
        """The mark with that id, withdrawn or not."""
        return next((mark for mark in self.marks if mark.id == mark_id), None)

    def photos_of(self, mark_id: str) -> tuple[PhotoRow, ...]:
        """The photos of a mark that are not withdrawn."""
        return tuple(p for p in self.photos if p.mark == mark_id and not p.withdrawn)

    @property
    def repair_rows(self) -> tuple[Row, ...]:
        """The keys of every ``[[repair]]``: those known of, and parts replaced at the bench."""
        known = tuple(repair.row for repair in self.repairs if not repair.withdrawn)
        return (*known, *self.bench.repairs())

    def sheet_form(self) -> dict[str, Any]:
        """The tables of the amp's bench sheet (``endbell-sheet/1``)."""
        return self.bench.sheet(self.number, self.id)

    def form(self) -> dict[str, Any]:
        """The tables of a dossier file (``endbell-dossier/1``): what the engine weighs.

        Photos stand in their marks as ``photos/<sha256>``.  A part that was replaced at the bench
        stays as what it was, under the name it has since, with what was seen on it.
        """
        removed = self.bench.on_removed()
        form: dict[str, Any] = {
            "format": f"{FORMAT_NAME}/{FORMAT_NUMBER}",
            "id": self.number,
            **{key: _plain(value) for key, value in self.head.items() if key != "format"},
        }
        for name in ("known", "claim"):
            table = cast("Row", getattr(self, name))
            if table:
                form[name] = {key: _plain(value) for key, value in table.items()}
        parts = (*self.parts, *self.bench.removed())
        if parts:
            form["part"] = [dict(row) for row in parts]
        repairs = [dict(row) for row in self.repair_rows]
        if repairs:
            form["repair"] = repairs
        marks: list[dict[str, Any]] = []
        for mark in self.standing:
            row = {key: _plain(value) for key, value in mark.row.items()}
            if mark.id in removed:
                row["part"] = removed[mark.id]
            photos = [f"photos/{photo.sha256}" for photo in self.photos_of(mark.id)]
            if photos:
                row["photos"] = photos
            marks.append(row)
        if marks:
            form["mark"] = marks
        judged_on = self.bench.judged_on()
        if judged_on and "as_of" not in form and judged_on > self._newest():
            form["as_of"] = judged_on  # else the repair would lie in the future, and not count
        return form

    def _newest(self) -> str:
        """The day as of which the dossier is judged where it gives none (ISO)."""
        days = [str(mark.row["on"]) for mark in self.standing if mark.row.get("on")]
        return max(days, default=self.changed_at[:10])

    def as_json(self) -> dict[str, Any]:
        """The state as JSON values; :func:`state_from_json` reads it back.

        An amp that was never on the bench says nothing of it, as before there was one.
        """
        value = asdict(self)
        if self.bench == BenchState():
            del value["bench"]
        return value


def state_from_json(value: Mapping[str, Any]) -> DossierState:
    """The state that :meth:`DossierState.as_json` wrote."""
    rows: dict[str, type[Any]] = {
        "marks": MarkRow,
        "repairs": RepairRow,
        "photos": PhotoRow,
        "answers": Answer,
        "acknowledged": Acknowledged,
    }
    read: dict[str, Any] = dict(value)
    for name, of in rows.items():
        read[name] = tuple(of(**row) for row in value[name])
    for name in ("parts", "tags", "undone"):
        read[name] = tuple(value[name])
    read["bench"] = bench_from_json(value.get("bench"))
    return DossierState(**read)


def _plain(value: object) -> object:
    return list(cast("tuple[object, ...]", value)) if isinstance(value, tuple) else value
