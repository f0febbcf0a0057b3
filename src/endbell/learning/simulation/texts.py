"""Characters as a person sees them: worn digits mistaken, choices, codes put into a layout."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import accumulate

from ...marks.tables import Confusion, Tables
from .dice import Dice
from .layout import LOST, PLAIN, UNREAD, Fit, Layout

DIGITS = "0123456789"


class Eye:
    """Reads true characters as people do, by legibility."""

    def __init__(self, tables: Tables) -> None:
        self.slack = tables.grammar.choice_slack
        self._digits = _sums(tables.digits)
        self._letters = _sums(tables.letters)
        self.legibilities = tuple(k for k in tables.digits if k in tables.letters) or ("clear",)

    def plain(self, dice: Dice, true: str, legibility: str) -> str:
        """A character that was read: the true one if clear, else by the confusion matrix."""
        if legibility == "clear":
            return true
        rows = self._digits if true in DIGITS else self._letters
        alphabet, sums = rows[legibility]
        return alphabet[dice.pick(sums[true])]

    def choice(self, dice: Dice, true: str, n: int, alphabet: Sequence[str]) -> str:
        """'[38]': n characters that hold the true one but for the slack.

        All sets of n that hold the true one are equally likely, and all that don't: so the weight
        of a set is the same whichever of its characters is true.
        """
        others = dice.some([c for c in alphabet if c != true], n)
        if dice.chance(1.0 - self.slack):
            others[0] = true
        return "[" + "".join(sorted(others)) + "]"

    def cell(
        self, dice: Dice, sort: int, true: str, legibility: str, alphabet: Sequence[str]
    ) -> str:
        """One cell of a text."""
        if sort == PLAIN:
            return self.plain(dice, true, legibility)
        return "?" if sort == UNREAD else self.choice(dice, true, sort, alphabet)

    def code(self, dice: Dice, code: str, fit: Fit, layout: Layout, legibility: str) -> list[str]:
        """The cells of a code of digits, one text a cell."""
        out: list[str] = []
        for i, sort in enumerate(layout.cells):
            at = i + fit.offset
            if 0 <= at < len(code):
                out.append(self.cell(dice, sort, code[at], legibility, DIGITS))
            else:
                out.append("?")  # only an unread end can lie outside the code
        return out


def joined(cells: Sequence[str], layout: Layout) -> str:
    """The whole text: cells, separators, lost ends."""
    marks = dict(layout.separators)
    out = [LOST] if layout.lost[0] else []
    for i, cell in enumerate(cells):
        out += [marks.get(i, ""), cell]
    out.append(marks.get(len(cells), ""))
    if layout.lost[1]:
        out.append(LOST)
    return "".join(out)


def year_seen(cells: Sequence[str], layout: Layout) -> str:
    """The year digits as they were read, '' where one of them was not: what a claim can go by."""
    source, years = layout.base
    first = source - layout.start
    seen = cells[first : first + years] if first >= 0 else []
    whole = len(seen) == years and all(len(c) == 1 and c != "?" for c in seen)
    return "".join(seen) if whole else ""


def _sums(
    matrices: Mapping[str, Confusion],
) -> dict[str, tuple[str, dict[str, list[float]]]]:
    return {
        legibility: (
            m.alphabet,
            {c: list(accumulate(row)) for c, row in zip(m.alphabet, m.rows, strict=True)},
        )
        for legibility, m in matrices.items()
    }
