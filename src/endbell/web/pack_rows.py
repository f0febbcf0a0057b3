"""Rows of the shop's own packs from a form into the table's CSV, all else left as it is."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from ..reference.files import FORMAT, HEAD
from ..reference.validate import FORMS

SHOP_SAYS = "shop records"
TEXTS = ("source", "confidence", "how", "note")
AFTER_WHAT = ("first", "last", "share", "volume", "spread_weeks", "softness_weeks", "models")
"""When, how much and for which models: what a row is about comes before."""

MAX_ROWS = 400


@dataclass(frozen=True, slots=True)
class Column:
    """A cell that a row of a table may have: its key, what is accepted, whether it must be there.

    ``choices``: all there is to choose from, empty where it is free.
    """

    key: str
    accepted: str
    needed: bool
    default: str
    choices: tuple[str, ...] = ()


def columns_of(table: str) -> tuple[Column, ...]:
    """The columns of a table as a form shows them: what it is about, when, where it is from."""
    form = FORMS[table]
    schema = form.model_json_schema(by_alias=True)
    found: dict[str, Column] = {}
    for name, info in form.model_fields.items():
        key = info.alias or name
        told = schema["properties"][key]
        choices = tuple(str(one) for one in told.get("enum", ()))
        given = "" if info.is_required() or info.default in (None, [], {}) else str(info.default)
        accepted = info.description or "a text"
        found[key] = Column(key, accepted, info.is_required(), given, choices)
    later = [found.pop(key) for key in (*AFTER_WHAT, *TEXTS) if key in found]
    return (*found.values(), *later)


def with_rows(
    files: Mapping[str, str],
    table: str,
    rows: Sequence[Mapping[str, str]],
    gone: Collection[int] = (),
) -> dict[str, str]:
    """The files with ``rows`` at the end of ``<table>.csv`` and without its lines in ``gone``.

    ``gone``: the first lines of rows that are taken out.  What else stands there stays byte for
    byte; a column that the file lacks is added.
    """
    name = f"{table}.csv"
    before = files.get(name, "").removeprefix("\ufeff")
    end = "\r\n" if "\r\n" in before else "\n"
    kept = _without(before, gone) if gone else before
    if not rows:
        return {**files, name: kept} if name in files else dict(files)
    columns = _columns_in(before)
    wanted = [key for row in rows for key, value in row.items() if value.strip()]
    missing = [key for key in dict.fromkeys(wanted) if key not in columns]
    if not columns:
        order = [column.key for column in columns_of(table)]
        columns = [key for key in order if key in missing]
        kept = _line(columns, end)
    elif missing:
        columns = [*columns, *missing]
        kept = _widened(kept, columns, end)
    if kept and not kept.endswith("\n"):
        kept += end
    added = (_line([row.get(key, "").strip() for key in columns], end) for row in rows)
    return {**files, name: kept + "".join(added)}


def row_starts(text: str) -> list[int]:
    """The first line of every row below the heading, from 1; an empty line is no row."""
    reader = csv.reader(io.StringIO(text, newline=""))
    next(reader, None)
    starts: list[int] = []
    line = reader.line_num + 1
    for cells in reader:
        if cells:
            starts.append(line)
        line = reader.line_num + 1
    return starts


def head_text(pack: str, title: str, builds_on: Sequence[str], version: str = "1") -> str:
    """The head of a new pack of the shop's own."""
    names = ", ".join(_quoted(name) for name in builds_on)
    return (
        "# The shop's own reference: what it has found out for itself.\n"
        f"format = {_quoted(FORMAT)}\nid = {_quoted(pack)}\nversion = {_quoted(version)}\n"
        f"title = {_quoted(title)}\nbuilds_on = [{names}]\n"
        f"source = {_quoted(SHOP_SAYS)}\nconfidence = {_quoted(SHOP_SAYS)}\n"
    )


def new_pack(pack: str, title: str, builds_on: Sequence[str]) -> dict[str, str]:
    """The files of a new pack."""
    return {HEAD: head_text(pack, title, builds_on)}


def _quoted(text: str) -> str:
    """A basic string of TOML; its control characters are left out."""
    plain = "".join(c for c in text if c.isprintable())
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _columns_in(text: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader(io.StringIO(text, newline="")), list[str]())]


def _without(text: str, gone: Collection[int]) -> str:
    """The text without the rows that start on the lines ``gone``; a row may have several lines."""
    lines = text.splitlines(keepends=True)
    starts = row_starts(text)
    out: list[str] = lines[: starts[0] - 1] if starts else lines
    for start, after in zip(starts, [*starts[1:], len(lines) + 1], strict=True):
        if start not in gone:
            out += lines[start - 1 : after - 1]
    return "".join(out)


def _widened(text: str, columns: Sequence[str], end: str) -> str:
    """The same rows under more columns, the new cells empty."""
    out = [_line(columns, end)]
    reader = csv.reader(io.StringIO(text, newline=""))
    next(reader, None)
    out += [_line([*cells, *[""] * (len(columns) - len(cells))], end) for cells in reader if cells]
    return "".join(out)


def _line(cells: Sequence[str], end: str) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator=end).writerow(cells)
    return out.getvalue()
