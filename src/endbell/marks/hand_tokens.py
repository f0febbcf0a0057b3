"""The words and numbers of a hand-written date, and what each can stand for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import prod

from .calendar import MONTHS
from .errors import TextError
from .likelihood import digit_vector, likelihoods
from .tables import Tables
from .text import Cell

NAMES = tuple(month.upper() for month in MONTHS)
_SHORTEST_NAME = 3
_NEGLIGIBLE = 1e-4
_FILLERS = frozenset({"ST", "ND", "RD", "TH", "OF"})


@dataclass(frozen=True, slots=True)
class Token:
    """A run of letters (``word``) or of digits."""

    cells: tuple[Cell, ...]
    word: bool


class TokenError(TextError):
    """A word that is no month's name: ``word`` stands at ``start`` to ``end`` of the text."""

    def __init__(self, word: str, start: int, end: int) -> None:
        super().__init__(f"the word {word!r}", "the name of a month")
        self.word, self.start, self.end = word, start, end


def tokens(cells: Sequence[Cell], breaks: Iterable[int]) -> list[Token]:
    """Group cells into words and numbers; a separator or a change of sort begins a new one.

    Unreadable characters belong to what they touch.  Raises ``TextError`` for a character that is
    neither a letter nor a digit.
    """
    ends = set(breaks)
    runs: list[tuple[str, list[Cell]]] = []
    for index, cell in enumerate(cells):
        sort = _sort(cell)
        if runs and index not in ends:
            last, run = runs[-1]
            if sort in ("any", last) or last == "any":
                run.append(cell)
                runs[-1] = (last if sort == "any" else sort, run)
                continue
        runs.append((sort, [cell]))
    found = [Token(tuple(run), word=sort == "letter") for sort, run in runs]
    return [token for token in found if not (token.word and _letters(token) in _FILLERS)]


def month_values(token: Token, legibility: str, tables: Tables) -> dict[int, float]:
    """Return P(word as seen | month) for the months whose name, or its beginning, it can be.

    Raises ``TokenError`` for a word that can't be any month's name.
    """
    found: dict[int, float] = {}
    for month, written in _names(token):
        p = prod(
            likelihoods(cell, letter, legibility, tables)[0]
            for cell, letter in zip(token.cells, written, strict=True)
        )
        if p > 0.0:
            found[month] = p
    if not found:
        raise TokenError(_letters(token), token.cells[0].start, token.cells[-1].end)
    return found


def number_values(
    token: Token, numbers: range, legibility: str, tables: Tables, widths: tuple[int, int]
) -> dict[int, float]:
    """Return P(number as seen | value), the value written in that many digits (years: its last).

    Values ten thousand times less likely than the likeliest are left out.
    """
    width = len(token.cells)
    if token.word or not widths[0] <= width <= widths[1] or (widths[1] == 4 and width == 3):
        return {}
    vectors = [digit_vector(cell, legibility, tables) for cell in token.cells]
    ten = 10**width
    found: dict[int, float] = {}
    for number in numbers:
        if number >= ten and widths[1] != 4:
            break
        p = prod(v[int(d)] for v, d in zip(vectors, f"{number % ten:0{width}d}", strict=True))
        if p > 0.0:
            found[number] = p
    least = max(found.values(), default=0.0) * _NEGLIGIBLE
    return {number: p for number, p in found.items() if p >= least}


def _sort(cell: Cell) -> str:
    if cell.kind == "unread":
        return "any"
    if cell.is_digit:
        return "digit"
    if cell.is_letter:
        return "letter"
    raise TextError(f"the character {cell.chars!r}", "letters, digits and separators")


def _letters(token: Token) -> str:
    return "".join(cell.chars if cell.kind == "plain" else "?" for cell in token.cells)


def _names(token: Token) -> list[tuple[int, str]]:
    """The months' names cut to this word's length, where it is long enough to be one."""
    width = len(token.cells)
    if width < _SHORTEST_NAME:
        return []
    return [(i + 1, name[:width]) for i, name in enumerate(NAMES) if len(name) >= width]
