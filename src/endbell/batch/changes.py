"""Two verdicts of the same dossiers set side by side: what moved, and by how much."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from .verdict_row import NAMES

Verdict = Mapping[str, Any]

_MONTHS = re.compile(r"(\d{4})-\d\d(?:\.\.(\d{4})-\d\d)?")


@dataclass(frozen=True, slots=True)
class Change:
    """What a change of packs or assumptions did to one verdict.

    ``shift``: the total variation distance between the two distributions over years, 0 to 1: the
    probability that has moved to another year; 1 where there is a verdict on one side only.
    ``mode_weeks``: by how many weeks the likeliest week moved.  ``years_in``, ``years_out``: years
    that entered and left the 95% set.  ``words``: part -> (before, after); '' for a part that was
    not judged.
    """

    dossier: str
    file: str
    shift: float
    before: Verdict
    after: Verdict
    mode_weeks: int | None
    years_in: tuple[int, ...]
    years_out: tuple[int, ...]
    words: Mapping[str, tuple[str, str]]

    def moved(self, name: str) -> float | None:
        """By how much a column of numbers moved; None where it is empty on one side."""
        a, b = self.before[name], self.after[name]
        return None if a is None or b is None else b - a


@dataclass(slots=True)
class Tally:
    """How many dossiers were compared, and what happened to them."""

    compared: int = 0
    changed: int = 0
    other_year: int = 0
    other_words: int = 0
    gained: int = 0
    lost: int = 0
    only_before: int = 0
    only_after: int = 0


def changes(
    before: Iterable[Sequence[Any]], after: Iterable[Sequence[Any]], tally: Tally
) -> Iterator[Change]:
    """The dossiers whose verdict is another one, in the order of the input; counts into ``tally``.

    Rows are matched by file and id.  Both come in the order of their input: where that is the same,
    nothing is held; a dossier that is on one side only is held until the end.
    """
    for a, b in _matched(before, after):
        if a is None or b is None:
            tally.only_after += a is None
            tally.only_before += b is None
            continue
        tally.compared += 1
        if a == b:
            continue
        found = compare(dict(zip(NAMES, a, strict=True)), dict(zip(NAMES, b, strict=True)))
        tally.changed += 1
        tally.other_words += bool(found.words)
        if found.before["error"] is None and found.after["error"] is None:
            tally.other_year += found.before["mode_year"] != found.after["mode_year"]
        else:
            tally.gained += found.after["error"] is None
            tally.lost += found.before["error"] is None
        yield found


def compare(before: Verdict, after: Verdict) -> Change:
    """What moved between two verdicts on one dossier."""
    judged = before["error"] is None and after["error"] is None
    old, new = _years_of(before["edtf"]), _years_of(after["edtf"])
    return Change(
        dossier=after["dossier"],
        file=after["file"],
        shift=_variation(_masses(before["years"]), _masses(after["years"])) if judged else 1.0,
        before=before,
        after=after,
        mode_weeks=_weeks_between(before["mode"], after["mode"]) if judged else None,
        years_in=tuple(sorted(new - old)),
        years_out=tuple(sorted(old - new)),
        words=_other_words(before["words"], after["words"]),
    )


def _matched(
    before: Iterable[Sequence[Any]], after: Iterable[Sequence[Any]]
) -> Iterator[tuple[Sequence[Any] | None, Sequence[Any] | None]]:
    held: tuple[dict[Any, list[Sequence[Any]]], ...] = ({}, {})
    sides = (iter(before), iter(after))
    open_sides = [True, True]
    while any(open_sides):
        for side in (0, 1):
            row = next(sides[side], None) if open_sides[side] else None
            if row is None:
                open_sides[side] = False
                continue
            key = (row[1], row[0])
            waiting = held[1 - side].get(key)
            if waiting is None:
                held[side].setdefault(key, []).append(row)
                continue
            other = waiting.pop(0)
            if not waiting:
                del held[1 - side][key]
            yield (row, other) if side == 0 else (other, row)
    for rows in held[0].values():
        yield from ((row, None) for row in rows)
    for rows in held[1].values():
        yield from ((None, row) for row in rows)


def _masses(text: str) -> dict[int, float]:
    pairs = (piece.split(":") for piece in (text or "").split(";") if piece)
    return {int(year): float(p) for year, p in pairs}


def _variation(a: Mapping[int, float], b: Mapping[int, float]) -> float:
    """Half the sum of the differences; years too small to be listed count as one year."""
    rest = abs(sum(a.values()) - sum(b.values()))
    listed = sum(abs(a.get(year, 0.0) - b.get(year, 0.0)) for year in a.keys() | b.keys())
    return float(f"{min((listed + rest) / 2, 1.0):.9g}")


def _weeks_between(first: str, second: str) -> int:
    return (_monday(second) - _monday(first)).days // 7


def _monday(week: str) -> date:
    return date.fromisocalendar(int(week[:4]), int(week[6:]), 1)


def _years_of(edtf: str | None) -> set[int]:
    """The years of a 95% set as EDTF writes it.

    >>> sorted(_years_of("[1957-09..1958-02,1967-08]"))
    [1957, 1958, 1967]
    """
    years: set[int] = set()
    for first, last in _MONTHS.findall(edtf or ""):
        years.update(range(int(first), int(last or first) + 1))
    return years


def _other_words(before: str | None, after: str | None) -> dict[str, tuple[str, str]]:
    a: dict[str, str] = json.loads(before or "{}")
    b: dict[str, str] = json.loads(after or "{}")
    parts = dict.fromkeys((*a, *b))
    return {p: (a.get(p, ""), b.get(p, "")) for p in parts if a.get(p) != b.get(p)}
