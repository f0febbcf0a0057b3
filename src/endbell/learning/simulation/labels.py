"""What is printed: dated terms and patent numbers, and how well a week of printing fits them.

docs/model.md, section 8: nothing here is a probability of a text, only how well one goes with a
week; the truth is kept with it.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import exp

from ...marks.tables import PatentYear, Tables, Term
from .calendar import week_of
from .dice import Dice

OLDEST = 520
"""Weeks that a printed label can wait, at the most."""

_SAMPLES = (r"'([^']+)'", r"e\.g\. '?([^')]+?)'?\)", r"\(([^)]+)\)", r"^(.+)$")
_LONGEST = 60


@dataclass(frozen=True, slots=True)
class Limit:
    """Weeks between which something can be printed; None: open."""

    first: int | None
    last: int | None
    strictness: str


@dataclass(frozen=True, slots=True)
class Printing:
    """What a mark can be: every alternative with its weight and all its limits."""

    alternatives: tuple[tuple[float, tuple[Limit, ...]], ...]

    def edges(self) -> set[int]:
        """The weeks at which the fit can be best."""
        limits = [limit for _, all_of in self.alternatives for limit in all_of]
        return {w for limit in limits for w in (limit.first, limit.last) if w is not None}


class Labels:
    """Wordings and patent numbers that the packs know."""

    def __init__(self, tables: Tables, assume: Mapping[str, float], last: int) -> None:
        """``last``: the last week of the grid."""
        self._terms = tuple(tables.terms)
        self._hard = assume["terminus.hard_leak"]
        self._soft = assume["terminus.soft_weeks"]
        self._last = last
        self._samples = [(t, text) for t in self._terms for text in _samples(t)]
        self._patterns = [(t, [re.compile(p) for p in t.patterns]) for t in self._terms]
        self._known: dict[str, Printing] = {}
        self._issues = {
            "": _issues(tables.patents, design=False),
            "D": _issues(tables.patents, design=True),
        }

    @property
    def wordings(self) -> bool:
        """Whether there is any term that a text can be written for."""
        return bool(self._samples)

    @property
    def patents(self) -> bool:
        """Whether patent numbers are known by year."""
        return bool(self._issues[""])

    def wording(self, dice: Dice, week: int) -> str:
        """A label's text of one to three terms, most of them usual about ``week``."""
        usual = [text for t, text in self._samples if _usual(t, week)]
        pool = usual if usual and dice.chance(0.9) else [text for _, text in self._samples]
        return ", ".join(dice.some(pool, 1 + dice.below(3)))

    def printing(self, text: str) -> Printing:
        """All terms found in a text: every one counts, and each once."""
        if text not in self._known:
            found = [
                Limit(_week(t.not_before), _week(t.not_after), t.strictness)
                for t, patterns in self._patterns
                if any(hit and hit.end() > hit.start() for p in patterns if (hit := p.search(text)))
            ]
            self._known[text] = Printing(((1.0, tuple(found)),))
        return self._known[text]

    def patent(self, dice: Dice, week: int) -> tuple[str, Printing]:
        """A patent number of the years before ``week``, the last digits perhaps unread."""
        sort = "D" if self._issues["D"] and dice.chance(0.2) else ""
        rows = self._issues[sort]
        issued = [i for i, (first, _) in enumerate(rows[:-1]) if week - 1300 < first <= week]
        i = dice.one_of(issued) if issued else dice.below(len(rows) - 1)
        number = dice.between(rows[i][1], rows[i + 1][1] - 1)
        unread = dice.below(4) if dice.chance(0.15) else 0
        low = number - number % 10**unread
        digits = str(number)[: len(str(number)) - unread] + "?" * unread
        if dice.chance(0.7):
            digits = _with_commas(digits)
        return sort + digits, _issued(rows, low, low + 10**unread)

    def fit(self, printings: Sequence[Printing], week: int) -> float:
        """g(D): how well all that is printed on a part goes with one week."""
        out = 1.0
        for printing in printings:
            total = 0.0
            for weight, limits in printing.alternatives:
                for limit in limits:
                    weight *= self._fit(limit, week)
                total += weight
            out *= total
        return out

    def best(self, printings: Sequence[Printing]) -> float:
        """The highest g(D) of any week that counts."""
        weeks = {self._last, -OLDEST, *(w for p in printings for w in p.edges())}
        inside = [w for w in weeks if -OLDEST <= w <= self._last]
        return max(self.fit(printings, w) for w in inside)

    def _fit(self, limit: Limit, week: int) -> float:
        outside = 0
        if limit.first is not None:
            outside = max(outside, limit.first - week)
        if limit.last is not None:
            outside = max(outside, week - limit.last)
        if outside == 0 or limit.strictness == "info":
            return 1.0
        if limit.strictness == "hard":
            return self._hard
        return max(self._hard, exp(-outside / self._soft))


def _samples(term: Term) -> list[str]:
    """Texts that show a term, taken from its own words; none where the words hold no example."""
    for pattern in _SAMPLES:
        found = [s for s in re.findall(pattern, term.words) if len(s) <= _LONGEST]
        shown = [s for s in found if any(re.search(p, s) for p in term.patterns)]
        if shown:
            return shown
    return []


def _usual(term: Term, week: int) -> bool:
    early = term.not_before is not None and week_of(term.not_before) > week
    return not early and (term.not_after is None or week_of(term.not_after) >= week)


def _week(day: date | None) -> int | None:
    return None if day is None else week_of(day)


def _issues(rows: Sequence[PatentYear], *, design: bool) -> list[tuple[int, int]]:
    """(week of 1 January, first number) of every year, in order."""
    first = [(r.year, r.first_design if design else r.first_utility) for r in rows]
    return [(week_of(date(year, 1, 1)), number) for year, number in sorted(first) if number > 0]


def _issued(rows: Sequence[tuple[int, int]], low: int, high: int) -> Printing:
    """Not before the year of issue, for every year that numbers low..high-1 fall in."""
    starts = [number for _, number in rows]
    out: list[tuple[float, tuple[Limit, ...]]] = []
    at = low
    while at < high:
        i = bisect_right(starts, at) - 1
        end = min(high, starts[i + 1] if i + 1 < len(starts) else high)
        limits = (Limit(rows[i][0], None, "hard"),) if i >= 0 else ()
        out.append(((end - at) / (high - low), limits))
        at = end
    return Printing(tuple(out))


def _with_commas(digits: str) -> str:
    out = ""
    for i, c in enumerate(reversed(digits)):
        out = c + ("," if i and i % 3 == 0 else "") + out
    return out
