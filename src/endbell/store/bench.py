"""The bench of a dossier as its events have made it: readings, overrides, what was replaced.

Texts stay as typed; what they mean is worked out anew by :mod:`endbell.bench` whenever somebody
asks.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, cast

from ..bench.service import repair_row

Row = Mapping[str, Any]

SHEET_FORMAT = "endbell-sheet/1"
_DAY = re.compile(r"\d{4}-\d\d-\d\d")

ROWS = ("readings", "overrides", "replaced", "faults", "handovers")
"""The lists of :class:`BenchState`."""


@dataclass(frozen=True, slots=True)
class BenchRow:
    """A row of the sheet: ``row`` holds its keys as typed.

    ``id`` never changes; ``n`` is the event that made its present wording; ``by`` and ``at``: who
    wrote that, when.  What is withdrawn stays here and leaves the sheet.  Of a replaced part:
    ``removed``: the ``[[part]]`` that the old one is from then on; ``marks``: ids of the marks that
    were seen on it.
    """

    id: str
    row: Row
    n: int
    by: str
    at: str
    withdrawn: bool = False
    removed: Row = field(default_factory=dict[str, Any])
    marks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BenchState:
    """Everything recorded at the bench about one amp, now.

    ``head``: the keys at the top of the sheet (circuit, practice, on, by, ambient, note).
    ``replaced``: parts that were replaced at this bench.  ``handovers``: removed parts handed back.
    """

    head: Row = field(default_factory=dict[str, Any])
    readings: tuple[BenchRow, ...] = ()
    overrides: tuple[BenchRow, ...] = ()
    replaced: tuple[BenchRow, ...] = ()
    faults: tuple[BenchRow, ...] = ()
    handovers: tuple[BenchRow, ...] = ()

    def standing(self, name: str) -> tuple[BenchRow, ...]:
        """The rows of a list that are not withdrawn, in the order they were recorded.

        Reading n of the sheet is ``standing("readings")[n - 1]``.
        """
        rows = cast("tuple[BenchRow, ...]", getattr(self, name))
        return tuple(row for row in rows if not row.withdrawn)

    def repairs(self) -> tuple[dict[str, Any], ...]:
        """What was replaced, as ``[[repair]]`` tables of the dossier: the verdict follows."""
        found = (repair_row(row.row) for row in self.standing("replaced"))
        return tuple(row for row in found if row is not None)

    def removed(self) -> tuple[Row, ...]:
        """The ``[[part]]`` tables of removed parts that marks were seen on: they date it still."""
        rows = self.standing("replaced")
        return tuple(r.removed for r in rows if r.marks and _id(r.removed))

    def on_removed(self) -> Mapping[str, str]:
        """Marks that were seen on a removed part: id of the mark -> id of that part."""
        rows = (r for r in self.standing("replaced") if _id(r.removed))
        return {mark: _id(r.removed) for r in rows for mark in r.marks}

    def judged_on(self) -> str:
        """The day (ISO) from which on the last replacement is known of; '' where there is none."""
        rows = self.standing("replaced")
        days = [r.at[:10] for r in rows]
        days += [done for r in rows if _DAY.fullmatch(done := str(r.row.get("done") or ""))]
        return max(days, default="")

    def sheet(self, number: str, dossier: str) -> dict[str, Any]:
        """The tables of a sheet file (``endbell-sheet/1``); ``number``: of the amp."""
        form: dict[str, Any] = {"format": SHEET_FORMAT, "id": number, "dossier": dossier}
        form |= {key: value for key, value in self.head.items() if key != "format"}
        for name, table in (
            ("readings", "reading"),
            ("overrides", "override"),
            ("replaced", "replaced"),
            ("faults", "fault"),
        ):
            rows = [dict(row.row) for row in self.standing(name)]
            if rows:
                form[table] = rows
        return form


def _id(removed: Row) -> str:
    found = removed.get("id")
    return found if isinstance(found, str) else ""


def bench_from_json(value: Mapping[str, Any] | None) -> BenchState:
    """The bench that ``asdict`` wrote; a state of before there was one has none."""
    if not value:
        return BenchState()
    read: dict[str, Any] = dict(value)
    for name in ROWS:
        read[name] = tuple(BenchRow(**{**row, "marks": tuple(row["marks"])}) for row in value[name])
    return BenchState(**read)
