"""P(what was seen | the true character), and sums of it over ranges of numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import prod

from .errors import TableError
from .tables import Confusion, Tables
from .text import Cell
from .types import Vector

DIGITS = "0123456789"
_ONES: Vector = (1.0,) * 10
_EXACT: dict[str, Vector] = {
    seen: tuple(1.0 if true == seen else 0.0 for true in DIGITS) for seen in DIGITS
}


def likelihoods(
    cell: Cell | None, alphabet: Sequence[str], legibility: str, tables: Tables
) -> tuple[float, ...]:
    """Return P(cell as seen | true character) for every character of ``alphabet``.

    Unreadable and lost (None): all ones.  A choice: (1 - slack) shared by those named, slack by the
    others.  A clear character is exact, any other goes through its legibility's confusion matrix.
    Raises ``TableError`` where there is no matrix for that legibility.
    """
    if cell is None or cell.kind == "unread":
        return (1.0,) * len(alphabet)
    if cell.kind == "choice":
        return _choice(cell, alphabet, tables.grammar.choice_slack)
    seen = cell.chars
    if legibility == "clear":
        return tuple(1.0 if true == seen else 0.0 for true in alphabet)
    confusion = _confusion(tables.digits if seen in DIGITS else tables.letters, legibility)
    column = confusion.alphabet.find(seen)
    if column < 0:
        return (0.0,) * len(alphabet)
    rows, places = confusion.rows, confusion.alphabet
    return tuple(rows[places.index(true)][column] if true in places else 0.0 for true in alphabet)


def digit_vector(cell: Cell | None, legibility: str, tables: Tables) -> Vector:
    """Return P(cell as seen | digit) for the digits 0 to 9."""
    if cell is None or cell.kind == "unread":
        return _ONES
    if cell.kind == "plain" and legibility == "clear":
        return _EXACT.get(cell.chars, (0.0,) * 10)
    return likelihoods(cell, DIGITS, legibility, tables)


def doubtful(cells: Sequence[Cell | None], legibility: str) -> bool:
    """Whether at least one of these characters is not certain."""
    return legibility != "clear" or any(c is None or c.kind != "plain" for c in cells)


def slip(seen: str, true: str, tables: Tables) -> float:
    """Return how easily ``true`` is taken for ``seen``: ranks corrections, weighs nothing."""
    twins = tables.grammar.look_alikes
    if twins.get(true) == seen or twins.get(seen) == true:
        return 1.0
    matrices = tables.digits if seen in DIGITS else tables.letters
    if "worn" not in matrices or true not in matrices["worn"].alphabet:
        return 0.0
    return likelihoods(Cell(0, 1, "plain", seen), (true,), "worn", tables)[0]


def weight_below(vectors: Sequence[Vector], number: int) -> float:
    """Return the summed likelihood of all numbers of ``len(vectors)`` digits that are < ``number``.

    Walks the digits of ``number`` once: numbers that agree with it so far and fall below it at this
    digit are counted together.  With vectors of 0 and 1 it counts how many numbers match.

    >>> ones = (1.0,) * 10
    >>> weight_below([ones, ones], 42)
    42.0
    """
    width = len(vectors)
    if number <= 0:
        return 0.0
    if number >= 10**width:
        return prod(sum(vector) for vector in vectors)
    tails = [1.0] * (width + 1)
    for place in range(width - 1, -1, -1):
        tails[place] = tails[place + 1] * sum(vectors[place])
    below, agree = 0.0, 1.0
    for place, digit in enumerate(f"{number:0{width}d}"):
        vector, value = vectors[place], int(digit)
        below += agree * sum(vector[:value]) * tails[place + 1]
        agree *= vector[value]
        if agree == 0.0:
            break
    return below


def _choice(cell: Cell, alphabet: Sequence[str], slack: float) -> tuple[float, ...]:
    named = sum(1 for true in alphabet if true in cell.chars)
    others = len(alphabet) - named
    if named == 0:
        return (0.0,) * len(alphabet)
    if others == 0:
        return (1.0 / named,) * named
    hit, miss = (1.0 - slack) / named, slack / others
    return tuple(hit if true in cell.chars else miss for true in alphabet)


def _confusion(matrices: Mapping[str, Confusion], legibility: str) -> Confusion:
    confusion = matrices.get(legibility)
    if confusion is None:
        raise TableError(
            f"no confusion matrix for {legibility!r}", ", ".join(matrices) or "a matrix for it"
        )
    return confusion
