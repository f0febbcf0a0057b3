"""A text exactly as seen, cut into characters: clear ones, unreadable ones, choices, lost ends.

``?`` is one unreadable character, ``[38]`` one of these (ranges ``[3-5]`` and ``[^3]`` as in POSIX
bracket expressions), ``...`` at either end means that more characters were there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

from .errors import TextError
from .tables import CodeGrammar

_ALNUM = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
UNCLEAR = "? for a character that can't be read, [38] for one of these, ... at an end for lost ones"


@dataclass(frozen=True, slots=True)
class Cell:
    """One character place of the text, ``text[start:end]``.

    ``chars``: the character (upper case), the characters it may be, or nothing if unreadable.
    """

    start: int
    end: int
    kind: Literal["plain", "unread", "choice"]
    chars: str = ""

    @property
    def is_digit(self) -> bool:
        """Whether the place can hold a digit."""
        return self.kind == "unread" or any(c in "0123456789" for c in self.chars)

    @property
    def is_letter(self) -> bool:
        """Whether the place can hold one of the letters A to Z."""
        return self.kind == "unread" or any("A" <= c <= "Z" for c in self.chars)


@dataclass(frozen=True, slots=True)
class CellText:
    """A text in cells.  ``breaks``: a separator stands before the cell of that index.

    Separators outside the outermost characters are dropped, except next to ``...``: there they end
    a group whose other characters are lost.
    """

    text: str
    cells: tuple[Cell, ...]
    breaks: frozenset[int] = field(default=frozenset())
    lost_before: bool = False
    lost_after: bool = False

    @property
    def certain(self) -> bool:
        """Whether every character was read and none is lost."""
        return not (
            self.lost_before or self.lost_after or any(c.kind != "plain" for c in self.cells)
        )


@dataclass(frozen=True, slots=True)
class Fit:
    """One way to lay the cells on a code of known length.

    ``places``: for every character of the code its cell, None for a lost one.  ``offset``: place of
    cell 0 (may be -1: a stray mark before the code).  ``weight``: P(these ends | a code so long).
    """

    weight: float
    places: tuple[Cell | None, ...]
    offset: int


def cut(text: str, separators: str) -> CellText:
    """Cut a text into cells.

    Raises ``TextError`` for an open or empty bracket and for ``...`` in the middle.

    >>> [c.chars or c.kind for c in cut("993-3?[48]", "-").cells]
    ['9', '9', '3', '3', 'unread', '48']
    >>> sorted(cut("993-3?[48]", "-").breaks)
    [3]
    """
    lead, trail = _lost_patterns(separators)
    before = lead.match(text)
    start = before.end() if before else 0
    after = trail.search(text, start)
    end = after.start() if after else len(text)
    cells: list[Cell] = []
    breaks: set[int] = set()
    at = start
    while at < end:
        character = text[at]
        if character == "…" or text.startswith("...", at):
            raise TextError("lost characters in the middle", UNCLEAR)
        if character in separators or character.isspace():
            breaks.add(len(cells))
            at += 1
            continue
        cell = _cell(text, at, end)
        cells.append(cell)
        at = cell.end
    if not before:
        breaks.discard(0)
    if not after:
        breaks.discard(len(cells))
    return CellText(text, tuple(cells), frozenset(breaks), before is not None, after is not None)


def fits(cut_text: CellText, length: int, grammar: CodeGrammar) -> Iterator[Fit]:
    """Yield every way in which the cells can be a code of ``length`` characters.

    Characters lost at an end are at least one and geometric (``lost_ratio``); an unreadable
    character at an outer end is with probability ``stray_end`` no character of the code.
    """
    cells, count = cut_text.cells, len(cut_text.cells)
    lefts = _strays(cut_text, 0, cut_text.lost_before, grammar.stray_end)
    rights = _strays(cut_text, count - 1, cut_text.lost_after, grammar.stray_end)
    if count == 1 and len(lefts) == 2:
        rights = ((0, 1.0),)  # one place can't be stray at both ends
    for left, p_left in lefts:
        for right, p_right in rights:
            kept = cells[left : count - right]
            missing = length - len(kept)
            if not kept or missing < 0:
                continue
            for lost_left in range(missing + 1):
                weight = (
                    p_left
                    * p_right
                    * _p_lost(lost_left, cut_text.lost_before, grammar.lost_ratio)
                    * _p_lost(missing - lost_left, cut_text.lost_after, grammar.lost_ratio)
                )
                if weight > 0:
                    places = (None,) * lost_left + kept + (None,) * (missing - lost_left)
                    yield Fit(weight, places, lost_left - left)


def _p_lost(count: int, lost: bool, ratio: float) -> float:
    if not lost:
        return 1.0 if count == 0 else 0.0
    return (1.0 - ratio) * ratio ** (count - 1) if count >= 1 else 0.0


def _strays(
    cut_text: CellText, index: int, lost: bool, stray: float
) -> tuple[tuple[int, float], ...]:
    if lost or not cut_text.cells or cut_text.cells[index].kind != "unread":
        return ((0, 1.0),)
    return (0, 1.0 - stray), (1, stray)


@lru_cache(maxsize=32)
def _lost_patterns(separators: str) -> tuple[re.Pattern[str], re.Pattern[str]]:
    skipped = re.escape(separators.replace(".", "").replace("…", ""))
    edge = rf"[\s{skipped}]*"
    return re.compile(rf"{edge}(?:\.{{3,}}|…)"), re.compile(rf"(?:\.{{3,}}|…){edge}\Z")


def _cell(text: str, at: int, end: int) -> Cell:
    character = text[at]
    if character == "?":
        return Cell(at, at + 1, "unread")
    if character == "]":
        raise TextError("a ] without its [", UNCLEAR)
    if character != "[":
        upper = character.upper()
        return Cell(at, at + 1, "plain", upper if len(upper) == 1 else character)
    close = text.find("]", at, end)
    if close < 0:
        raise TextError("a [ without its ]", UNCLEAR)
    return Cell(at, close + 1, "choice", _choice(text[at + 1 : close]))


def _choice(inside: str) -> str:
    """The characters that a bracket names, each once, in the order of the alphabet."""
    body = inside[1:] if inside[:1] in ("^", "!") else inside
    named: set[str] = set()
    rest = body.upper()
    while rest:
        low, high = rest[0], rest[2] if rest[1:2] == "-" and len(rest) > 2 else rest[0]
        if low not in _ALNUM or high not in _ALNUM or low > high:
            raise TextError(f"[{inside}]", "letters or digits between the brackets, as in [38]")
        named.update(c for c in _ALNUM if low <= c <= high)
        rest = rest[3:] if rest[1:2] == "-" and len(rest) > 2 else rest[1:]
    if body is not inside:
        named = set(_ALNUM) - named if named else named
    if not named:
        raise TextError(f"[{inside}]", "at least one character between the brackets, as in [38]")
    return "".join(c for c in _ALNUM if c in named)
