"""The time line drawn in characters: a column is a stretch of weeks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

from ..chronology.verdict import Verdict
from ..reference.types import Reference
from .numbers import index_of, percent
from .pen import Pen
from .rows import MarkRow, PartRows, Tick, part_title, rows
from .scale import Scale, Segment, fit, labelled_years, year_start
from .wording import SIGNS, kind_words, origin_words, verbatim

HEIGHT = 2  # lines of the curve


@dataclass(frozen=True, slots=True)
class Glyphs:
    """The characters of one alphabet. ``solid``/``hollow``: a tick by rising weight."""

    levels: str
    solid: str
    hollow: str
    bar: str
    run: str
    left: str
    right: str
    ends: str
    inside: str
    gap: str


UNICODE = Glyphs(" ▁▂▃▄▅▆▇█", "▂▄▆█", "▫▫□□", "━", "─", "◂", "▸", "├┤", "·", "╱")
ASCII = Glyphs(" .:-=+*#@", ".oO#", "xxXX", "=", "-", "<", ">", "[]", ":", "/")


@dataclass(frozen=True, slots=True)
class Columns:
    """Widths: labels at the left, the plot, words at the right."""

    left: int
    plot: int
    right: int


def columns(width: int) -> Columns:
    """How a line of ``width`` columns is shared out; narrow ones do without words at the right."""
    right = 26 if width >= 72 else 0
    left = min(34, max(14, width * 3 // 10))
    return Columns(left, width - left - right - (2 if right else 1), right)


def draw(pen: Pen, verdict: Verdict, reference: Reference | None) -> None:
    """Years, curve, sets and a row a mark, onto the pen."""
    width = columns(pen.width)
    glyphs = UNICODE if pen.unicode else ASCII
    scale = whole_columns(fit(verdict, x0=0, x1=width.plot, gap=3, least=5, most=4))
    chart = _Chart(pen, width, glyphs, scale, verdict)
    chart.years()
    chart.curve()
    chart.sets()
    for group in rows(verdict, scale, reference):
        married = ""
        if group.married is not None:
            married = f" (another amp's: {percent(group.married.married)})"
        pen.put((pen.cut(f"{group.id.upper()}{married}", pen.width), "soft"))
        for part in group.parts:
            chart.part(part, reference)


def whole_columns(scale: Scale) -> Scale:
    """The scale with segments that begin and end between two characters."""
    return Scale(
        tuple(
            replace(s, x0=float(round(s.x0)), x1=float(max(round(s.x1), round(s.x0) + 1)))
            for s in scale.segments
        )
    )


class _Chart:
    """The drawing under way."""

    def __init__(
        self, pen: Pen, width: Columns, glyphs: Glyphs, scale: Scale, verdict: Verdict
    ) -> None:
        self.pen, self.width, self.glyphs, self.scale, self.verdict = (
            pen,
            width,
            glyphs,
            scale,
            verdict,
        )
        self.density = [_density(verdict, s) for s in scale.segments]

    def row(self, label: str, plot: list[str], words: str = "", style: str = "") -> None:
        left = self.pen.padded(label, self.width.left)
        right = self.pen.cut(words, self.width.right) if self.width.right else ""
        self.pen.put(
            (left, style), (" " + "".join(plot), ""), (" " + right if right else "", style)
        )

    def empty(self, *, inside: bool = False) -> list[str]:
        """A plot with its breaks; ``inside``: with the weeks of the 95% set dotted."""
        plot = [" "] * self.width.plot
        for a, b in pairwise(self.scale.segments):
            middle = int(a.x1 + b.x0) // 2
            if middle < len(plot):
                plot[middle] = self.glyphs.gap
        if inside:
            for first, last, _ in self.verdict.build.sets.get("0.95", ()):
                self.fill(plot, index_of(first), index_of(last), self.glyphs.inside)
        return plot

    def fill(self, plot: list[str], first: int, last: int, glyph: str) -> None:
        for a, b in self.scale.clipped(first, last):
            for x in range(int(a), max(int(a) + 1, int(b + 0.999))):
                if x < len(plot):
                    plot[x] = glyph

    def years(self) -> None:
        plot = self.empty()
        for s in self.scale.segments:
            for year in labelled_years(s, 5):
                x = int(s.at(year_start(year)))
                for i, digit in enumerate(str(year)):
                    if x + i < len(plot):
                        plot[x + i] = digit
        self.row("", plot, style="soft")

    def curve(self) -> None:
        highest = max((p for bins in self.density for p in bins), default=0.0) or 1.0
        steps = len(self.glyphs.levels) - 1
        for line in reversed(range(HEIGHT)):
            plot = self.empty()
            for s, bins in zip(self.scale.segments, self.density, strict=True):
                for i, p in enumerate(bins):
                    level = round(p / highest * steps * HEIGHT) - steps * line
                    plot[int(s.x0) + i] = self.glyphs.levels[min(max(level, 0), steps)]
            build = self.verdict.build
            words = f"{percent(build.p_mode_year)} in {build.mode_year}" if line == 0 else ""
            self.row("build date" if line == 0 else "", plot, words)

    def sets(self) -> None:
        for level in ("0.50", "0.80", "0.95"):
            plot = self.empty()
            for first, last, _ in self.verdict.build.sets.get(level, ()):
                self.fill(plot, index_of(first), index_of(last), self.glyphs.bar)
            self.row(f"{100 * float(level):.0f}% set", plot)

    def part(self, part: PartRows, reference: Reference | None) -> None:
        judged = part.part
        word = judged.word if judged is not None else ""
        sign = SIGNS.get(word, ("◇", "?"))[0 if self.pen.unicode else 1]
        title = part_title(part, reference)
        says = origin_words(judged) if judged is not None else "not judged"
        self.pen.put(
            (f"{sign} ", ""),
            (self.pen.padded(title, self.width.left + self.width.plot - 1), "strong"),
            (" " + self.pen.cut(says, self.width.right) if self.width.right else "", "strong"),
        )
        if not self.width.right:
            self.pen.put(("  " + self.pen.cut(says, self.pen.width - 2), ""))
        for row in part.marks:
            self.mark(row, word)

    def mark(self, row: MarkRow, word: str) -> None:
        plot = self.empty(inside=True)
        glyphs = (
            self.glyphs.hollow if word in ("replaced", "probably replaced") else self.glyphs.solid
        )
        for span in row.fitted:
            self.span(plot, span)
        for tick in sorted(row.ticks, key=lambda t: t.reading.p):
            glyph = glyphs[min(int(tick.reading.p * 4), 3)]
            for a, b in tick.stretches:
                start, end = int(a), min(int(b + 0.999), len(plot))
                if b - a <= 1:
                    start = min(int((a + b) / 2), len(plot) - 1)
                    end = start + 1
                if end - start <= 3:
                    plot[start:end] = glyph * (end - start)
                    continue
                self.span(plot, tick)
        mark = row.mark.mark
        self.row(f"{mark.n:>4} {verbatim(mark) or kind_words(mark)}", plot, row.says)
        if not self.width.right:
            self.pen.put(("     " + self.pen.cut(row.says, self.pen.width - 5), "soft"))
        for said in row.outside:
            if self.width.right:
                self.row("", self.empty(), said, "soft")
            else:
                self.pen.put(("     " + self.pen.cut(said, self.pen.width - 5), "soft"))

    def span(self, plot: list[str], drawn: Tick) -> None:
        """A stretch of weeks as a line with ends, or arrows where it goes on."""
        last = len(drawn.stretches) - 1
        for i, (a, b) in enumerate(drawn.stretches):
            start, end = int(a), min(int(b + 0.999), len(plot))
            plot[start:end] = self.glyphs.run * (end - start)
            if i == 0:
                plot[start] = self.glyphs.left if drawn.open_left else self.glyphs.ends[0]
            if i == last:
                plot[end - 1] = self.glyphs.right if drawn.open_right else self.glyphs.ends[1]


def _density(verdict: Verdict, segment: Segment) -> list[float]:
    """Mean p a week under each column of a segment."""
    count = int(segment.x1 - segment.x0)
    per = (segment.end - segment.first) / count
    weeks = verdict.build.weeks
    out: list[float] = []
    for i in range(count):
        a = segment.first + int(i * per)
        b = max(segment.first + int((i + 1) * per), a + 1)
        out.append(float(weeks[max(a, 0) : max(b, 0)].sum()) / (b - a))
    return out
