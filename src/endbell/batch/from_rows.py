"""Rows of a table as the tables of a dossier file: from there on both are checked alike."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

from .items import BadRow, RowsItem

GuessKind = Callable[[str, str, Sequence[str]], Mapping[str, object]]
"""Part, text and the packs named -> the keys of the mark that the text most likely is."""

_LISTS = ("photos", "packs", "claim.original", "claim.except")
_HEAD = ("as_of", "purpose", "packs")
_PART = ("class", "assembly")
_SPLIT = re.compile(r"\s*[;,]\s*")

Top = dict[str, object]


def top_of(
    item: RowsItem, guess: GuessKind
) -> tuple[Top, dict[str, tuple[int, ...]], list[BadRow]]:
    """The dossier as tomllib would give it, the line of each mark, and rows that contradict.

    What belongs to the dossier or to a part (claim, packs, class ...) may stand in every row or in
    one; the first that stands there holds, and another value later is a bad row.  ``guess`` is
    asked for marks without a kind.
    """
    top: Top = {"id": item.dossier}
    bad: list[BadRow] = []
    parts: dict[str, dict[str, object]] = {}
    marks: list[tuple[float, int, dict[str, object]]] = []
    first_line: dict[tuple[str, str], int] = {}
    for line, cells in item.rows:
        row = {
            field: cell
            for field, cell in zip(item.fields, cells, strict=False)
            if field and cell and not cell.isspace()
        }
        row.pop("dossier", None)
        place = _number(row.pop("n", ""))
        about = [(top, "", f) for f in row if f in _HEAD or "." in f]
        part = row.get("part", "").strip()
        if part and any(f in row for f in _PART):
            own = parts.setdefault(part, {"id": part})
            about += [(own, part, f) for f in row if f in _PART]
        for where, whose, field in about:
            value = row.pop(field).strip()
            if not _put(where, field, value):
                before = first_line[whose, field]
                found = f"{field} '{value}', after another on line {before}"
                accepted = "one for a dossier, or for a part; the first was kept"
                bad.append(BadRow(item.file, item.dossier, "row", None, line, found, accepted))
            first_line.setdefault((whose, field), line)
        mark = {field: _value(field, cell, row) for field, cell in row.items()}
        if mark:
            marks.append((len(marks) if place is None else place, line, mark))
    marks.sort(key=lambda found: found[0])
    named = top.get("packs", ())
    packs = [pack for pack in named if isinstance(pack, str)] if isinstance(named, list) else []
    for _, _, mark in marks:
        if "kind" not in mark and isinstance(mark.get("part"), str):
            mark.update(guess(str(mark["part"]), _typed(mark), packs))
    if parts:
        top["part"] = list(parts.values())
    top["mark"] = [mark for _, _, mark in marks]
    return top, {"mark": tuple(line for _, line, _ in marks)}, bad


def _put(where: Top, field: str, text: str) -> bool:
    """Put a value of the whole dossier in its place; False where another stands there."""
    value: object = [v for v in _SPLIT.split(text) if v] if field in _LISTS else text
    table, dot, key = field.partition(".")
    inner = where.setdefault(table, {}) if dot else where
    assert isinstance(inner, dict)
    return inner.setdefault(key if dot else field, value) == value  # type: ignore[no-any-return]


def _value(field: str, cell: str, row: Mapping[str, str]) -> object:
    if field in _LISTS:
        return [v for v in _SPLIT.split(cell.strip()) if v]
    if field == "uncertainty" or (field == "value" and row.get("kind", "").strip() == "measured"):
        number = _number(cell)
        return cell if number is None else number
    return cell if field in ("text", "note") else cell.strip()  # a text stands as it was typed


def _typed(mark: Mapping[str, object]) -> str:
    """A mark without a kind, as it would be typed on the command line."""
    name = mark.get("feature") or mark.get("quantity")
    if name is not None and "text" not in mark:
        return f"{name}={mark.get('value', '')}{mark.get('unit', '')}"
    return str(mark.get("text") or mark.get("date") or "").strip()


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None
