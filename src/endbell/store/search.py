"""Full-text search over everything recorded: codes as typed, notes, claims, whose it is.

Words are folded by Endbell itself (case, accents, what is no letter or digit), so that SQLite's
FTS5 and PostgreSQL's text search find the same.  Every word is a beginning: '993-34', '993' and
'99334' find the code 993-348.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast

from sqlalchemy import (
    ColumnElement,
    Connection,
    TextClause,
    func,
    insert,
    select,
    text,
    update,
)

from .database import Database, glancing
from .state import DossierState
from .tables import dossiers, search_text

MOST_WORDS = 12
"""Words of a search that count; who pastes a page gets what its first words find."""

LONGEST_WORD = 200
"""Characters; what is longer is no word, and PostgreSQL would refuse it."""

MANY = 300
"""Dossiers in which a search finds its words, from which on they are walked in order."""

_COUNT = text("SELECT count(*) FROM search WHERE search MATCH :endbell_words")
_WORD = re.compile(r"[^\W_]+")
_BETWEEN = re.compile(r"[^\w\n]+|_+")
_KEYS = ("text", "value", "feature", "date", "place", "note")


@dataclass(frozen=True, slots=True)
class Found:
    """A condition on ``dossiers`` for the words of a search, its values, how many there are."""

    condition: ColumnElement[bool]
    values: Mapping[str, str]
    total: int


def finding(connection: Connection, words: str) -> Found | None:
    """What finds the dossiers in which every word of ``words`` begins some word.

    Nothing in ``words`` is an operator; None where no letter or digit is left of them.
    """
    sqlite = connection.dialect.name == "sqlite"
    found = _matching(words, sqlite=sqlite)
    if found is None:
        return None
    where, values = found
    count = _COUNT if sqlite else select(func.count()).select_from(search_text).where(where)
    total = connection.execute(count, values).scalar_one()
    if sqlite and total >= MANY:
        # the first in order are soon met by walking along the order, asking each whether it is one
        own = select(search_text.c.id).where(search_text.c.dossier == dossiers.c.id)
        return Found(own.where(where).exists(), values, total)
    own = select(search_text.c.dossier).where(where)
    return Found(dossiers.c.id.in_(own), values, total)


def lines_with(db: Database, wanted: Sequence[str], words: str) -> dict[str, str]:
    """Of dossiers that were found: id -> the line of its record in which ``words`` stand."""
    lines = select(search_text.c.dossier, search_text.c.lines).where(
        search_text.c.dossier.in_(wanted)
    )
    asked = _folded_words(words)
    with glancing(db) as connection:
        return {row.dossier: _line_with(row.lines, asked) for row in connection.execute(lines)}


def _matching(words: str, *, sqlite: bool) -> tuple[TextClause, Mapping[str, str]] | None:
    """A condition on ``search_text`` for ``words`` and its values; None where no word is left."""
    asked = _folded_words(words)[:MOST_WORDS]
    if not asked:
        return None
    if sqlite:
        # letters and digits alone: nothing in them could be an operator
        terms = " AND ".join(f'"{word}"*' for word in asked)
        condition = "search_text.id IN (SELECT rowid FROM search WHERE search MATCH :endbell_words)"
    else:
        terms = " & ".join(f"'{word}':*" for word in asked)
        condition = (
            "to_tsvector('simple', search_text.body) @@ to_tsquery('simple', :endbell_words)"
        )
    return text(condition), {"endbell_words": terms}


def index(connection: Connection, before: DossierState | None, after: DossierState) -> None:
    """Bring the search up to ``after`` in the transaction of ``connection``."""
    row = search_row(after)
    if before is None:
        connection.execute(insert(search_text).values(row))
    elif search_row(before) != row:
        changed = update(search_text).where(search_text.c.dossier == after.id).values(row)
        connection.execute(changed)


def search_row(state: DossierState) -> dict[str, str]:
    """The row of ``search_text`` for a state."""
    lines = list(_lines(state))
    words = dict.fromkeys(word for line in lines for word in _indexed(line))
    # a code that was typed with spaces is found without them
    codes = (fold_text(_said(mark.row.get("text", ""))) for mark in state.standing)
    words |= dict.fromkeys("".join(_WORD.findall(code)) for code in codes)
    body = " ".join(word for word in words if 0 < len(word) <= LONGEST_WORD)
    return {"dossier": state.id, "lines": "\n".join(lines), "body": body}


def fold_text(value: str) -> str:
    """Without case and accents: 'Größe' -> 'grosse', 'É' -> 'e'."""
    if value.isascii():
        return value.lower()
    apart = unicodedata.normalize("NFKD", value.casefold())
    return "".join(c for c in apart if not unicodedata.combining(c))


def _lines(state: DossierState) -> Iterator[str]:
    yield f"number: {_one_line(state.number)}"
    yield from _table("claim", state.claim)
    yield from _table("intake", state.intake)
    if state.note:
        yield f"note: {_one_line(state.note)}"
    if state.tags:
        yield f"tags: {_one_line(', '.join(state.tags))}"
    for mark in state.standing:
        said = [_one_line(_said(mark.row[key])) for key in _KEYS if mark.row.get(key)]
        yield f"{_one_line(_said(mark.row.get('part', '')))}: {', '.join(said)}"
    for repair in state.repair_rows:
        yield from _table("repair", repair)
    for part in state.parts:
        yield from _table("part", part)


def _table(name: str, table: Mapping[str, Any]) -> Iterator[str]:
    said = [_one_line(_said(value)) for value in table.values() if value not in (None, "", [], ())]
    if said:
        yield f"{name}: {', '.join(said)}"


def _said(value: object) -> str:
    if isinstance(value, list | tuple):
        return ", ".join(str(v) for v in cast("Sequence[object]", value))
    return str(value)


def _one_line(value: str) -> str:
    return " ".join(value.replace("\0", "\ufffd").split())


def _indexed(line: str) -> Iterator[str]:
    """The words of a line, and codes written in groups once more as one word."""
    for typed in fold_text(line).split():
        pieces = _WORD.findall(typed)
        yield from pieces
        if len(pieces) > 1:
            yield "".join(pieces)


def _folded_words(words: str) -> list[str]:
    """What is searched for: '993-34 Größe' -> ['99334', 'grosse']."""
    squeezed = ("".join(_WORD.findall(word)) for word in fold_text(words[:1_000]).split())
    return [word for word in squeezed if word]


def _line_with(lines: str, asked: Sequence[str]) -> str:
    """The first line in which most of the words stand."""
    best, most = "", 0
    squeezed = _BETWEEN.sub("", fold_text(lines)).split("\n")
    for line, letters in zip(lines.split("\n"), squeezed, strict=True):
        if sum(piece in letters for piece in asked) <= most:  # it can't have more of them
            continue
        have = tuple(_indexed(line))
        count = sum(any(word.startswith(piece) for word in have) for piece in asked)
        if count > most:
            best, most = line, count
            if most == len(asked):
                break
    return best
