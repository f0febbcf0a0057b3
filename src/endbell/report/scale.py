"""The axis of the time line: only the years that matter, with breaks between far-away ones.

The same scale serves the SVG (unit: one unit of the drawing) and the terminal (unit: a column).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from ..chronology.verdict import Verdict, WeighedReading
from ..chronology.weeks import thursday, week_of
from .numbers import index_of

MATTERS = 0.02
"""A reading with more weight than this belongs on the axis."""

JOIN_YEARS = 3
"""Stretches with fewer empty years than this between them are drawn as one."""

WIDE_YEARS = 4
"""Readings that cover more years than this do not stretch the axis."""


@dataclass(frozen=True, slots=True)
class Segment:
    """Whole years: weeks ``first`` (in) to ``end`` (out), drawn from x0 to x1."""

    first_year: int
    last_year: int
    first: int
    end: int
    x0: float
    x1: float

    def at(self, week: float) -> float:
        """x of the start of a week; a fraction is part of the week."""
        return self.x0 + (week - self.first) / (self.end - self.first) * (self.x1 - self.x0)

    @property
    def years(self) -> range:
        return range(self.first_year, self.last_year + 1)


@dataclass(frozen=True, slots=True)
class Scale:
    """Segments from left to right; between two of them lies a break."""

    segments: tuple[Segment, ...]

    @property
    def first(self) -> int:
        return self.segments[0].first

    @property
    def end(self) -> int:
        return self.segments[-1].end

    def segment_of(self, week: float) -> Segment | None:
        """The segment that shows the week, None if it falls outside or into a break."""
        return next((s for s in self.segments if s.first <= week < s.end), None)

    def clipped(self, first: int, last: int) -> list[tuple[float, float]]:
        """x0, x1 of the parts of weeks first..last (both included) that are drawn."""
        out: list[tuple[float, float]] = []
        for s in self.segments:
            a, b = max(first, s.first), min(last + 1, s.end)
            if a < b:
                out.append((s.at(a), s.at(b)))
        return out


def year_start(year: int) -> int:
    """Index of the first ISO week of a year."""
    return week_of(date.fromisocalendar(year, 1, 4))


def weeks_of_reading(reading: WeighedReading) -> tuple[int | None, int | None]:
    """First and last week (indices) of a reading, None where it is open.

    By Thursdays, as the model has it. An interval shorter than a week covers every week it touches.
    """
    a, b = reading.first, reading.last
    if a is not None and b is not None and (b - a).days < 6:
        return week_of(a), week_of(b)
    first = None if a is None else -((thursday(0) - a).days // 7)
    last = None if b is None else (b - thursday(0)).days // 7
    if first is not None and last is not None and last < first:
        last = first
    return first, last


def interesting(verdict: Verdict, *, readings: bool = True) -> list[tuple[int, int]]:
    """Years (first, last) that matter: the 95% set and every reading with some weight."""
    out = [
        (_year(index_of(a)), _year(index_of(b))) for a, b, _ in verdict.build.sets.get("0.95", ())
    ]
    for mark in verdict.marks if readings else ():
        for reading in mark.readings:
            if reading.p <= MATTERS:
                continue
            first, last = weeks_of_reading(reading)
            ends = [_year(w) for w in (first, last) if w is not None]
            if ends and ends[-1] - ends[0] <= WIDE_YEARS:
                out.append((ends[0], ends[-1]))
    return out or [(verdict.build.mode_year, verdict.build.mode_year)]


def fit(
    verdict: Verdict,
    *,
    x0: float,
    x1: float,
    gap: float,
    least: float,
    most: int,
    around: int = 1,
    readings: bool = True,
) -> Scale:
    """The scale for a plot from x0 to x1.

    ``gap``: room for a break; ``least``: the narrowest a segment may be; ``most``: how many
    segments are drawn at most (the nearest are joined until they fit); ``around``: years added on
    either side of a lone year; ``readings``: whether the marks' readings stretch the axis too.
    """
    spans = joined(interesting(verdict, readings=readings), JOIN_YEARS)
    while len(spans) > most:
        spans = joined(spans, min(b[0] - a[1] for a, b in pairwise(spans)) + 1)
    if len(spans) == 1 and spans[0][0] == spans[0][1]:
        spans = [(spans[0][0] - around, spans[0][1] + around)]
    weeks = [(year_start(a), year_start(b + 1)) for a, b in spans]
    widths = _shares([b - a for a, b in weeks], x1 - x0 - gap * (len(spans) - 1), least)
    segments: list[Segment] = []
    x = x0
    for (a, b), (first, end), width in zip(spans, weeks, widths, strict=True):
        segments.append(Segment(a, b, first, end, x, x + width))
        x += width + gap
    return Scale(tuple(segments))


def joined(spans: Iterable[tuple[int, int]], apart: int) -> list[tuple[int, int]]:
    """Spans of years in order, merged where fewer than ``apart`` years lie between them.

    >>> joined([(1967, 1967), (1957, 1958), (1960, 1960)], 3)
    [(1957, 1960), (1967, 1967)]
    """
    out: list[tuple[int, int]] = []
    for first, last in sorted(spans):
        if out and first - out[-1][1] - 1 < apart:
            out[-1] = (out[-1][0], max(last, out[-1][1]))
        else:
            out.append((first, last))
    return out


def labelled_years(segment: Segment, room: float) -> list[int]:
    """The years of a segment whose label fits in ``room`` units: all, every 2nd, 5th, 10th..."""
    per_year = (segment.x1 - segment.x0) / len(segment.years)
    for step in (1, 2, 5, 10, 20, 50):
        years = [y for y in segment.years if y % step == 0]
        if step * per_year >= room:
            return years or [segment.first_year]
    return [segment.first_year]


def _year(week: int) -> int:
    return thursday(week).year


def _shares(weeks: list[int], room: float, least: float) -> list[float]:
    """Widths in proportion to weeks, none below ``least`` (taken off the others)."""
    least = min(least, room / len(weeks))
    small = {i for i, w in enumerate(weeks) if w * room / sum(weeks) < least}
    while True:
        rest = sum(w for i, w in enumerate(weeks) if i not in small)
        left = room - least * len(small)
        more = {i for i, w in enumerate(weeks) if i not in small and w * left / rest < least}
        if not more:
            return [least if i in small else w * left / rest for i, w in enumerate(weeks)]
        small |= more
