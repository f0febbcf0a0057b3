"""The rows of the time line: assemblies, their parts, the parts' marks; in words and in weeks."""

from __future__ import annotations

from dataclasses import dataclass

from ..chronology.verdict import AssemblyVerdict, MarkVerdict, PartVerdict, Verdict, WeighedReading
from ..reference.types import Reference
from .numbers import percent, week_words
from .scale import Scale, weeks_of_reading
from .wording import best_reading, title_of_class

NAMED_OUTSIDE = 2
"""Readings beyond the axis that are named one by one; further ones are counted."""


@dataclass(frozen=True, slots=True)
class Tick:
    """A reading on the axis: stretches of x, and whether it goes on without end on a side."""

    reading: WeighedReading
    stretches: tuple[tuple[float, float], ...]
    open_left: bool
    open_right: bool


@dataclass(frozen=True, slots=True)
class MarkRow:
    """A mark with the ticks that fall on the axis and words for the readings that do not."""

    mark: MarkVerdict
    ticks: tuple[Tick, ...]
    outside: tuple[str, ...]
    says: str


@dataclass(frozen=True, slots=True)
class PartRows:
    """A part (None: marks on a part the verdict does not judge) and its marks."""

    id: str
    part: PartVerdict | None
    marks: tuple[MarkRow, ...]


@dataclass(frozen=True, slots=True)
class AssemblyRows:
    id: str
    married: AssemblyVerdict | None
    parts: tuple[PartRows, ...]


def rows(verdict: Verdict, scale: Scale) -> tuple[AssemblyRows, ...]:
    """Every mark of the verdict, in its place: assemblies as the verdict lists its parts."""
    judged = {p.part: p for p in verdict.parts}
    by_part: dict[str, list[MarkVerdict]] = {}
    for mark in verdict.marks:
        by_part.setdefault(mark.mark.part, []).append(mark)
    order: dict[str, list[str]] = {}
    for part in verdict.parts:
        if part.part in by_part:
            order.setdefault(part.assembly, []).append(part.part)
    others = [p for p in by_part if p not in judged]
    if others:
        order.setdefault("not judged", []).extend(others)
    married = {a.assembly: a for a in verdict.assemblies}
    return tuple(
        AssemblyRows(
            name,
            married.get(name),
            tuple(
                PartRows(p, judged.get(p), tuple(mark_row(m, scale) for m in by_part[p]))
                for p in parts
            ),
        )
        for name, parts in order.items()
    )


def part_title(part: PartRows, reference: Reference | None) -> str:
    """'ot: output transformer'; the id alone where the class says the same or is not judged."""
    if part.part is None:
        return part.id
    title = title_of_class(reference, part.part.part_class)
    return title if title.lower() == part.id.lower() else f"{part.id}: {title}"


def mark_row(mark: MarkVerdict, scale: Scale) -> MarkRow:
    """Ticks for the readings on the axis, words for the others and for the row as a whole."""
    ticks: list[Tick] = []
    outside: list[WeighedReading] = []
    for reading in mark.readings:
        first, last = weeks_of_reading(reading)
        if first is None and last is None:
            continue
        a = scale.first if first is None else first
        b = scale.end - 1 if last is None else last
        stretches = tuple(scale.clipped(a, b)) if a <= b else ()
        if stretches:
            ticks.append(Tick(reading, stretches, first is None, last is None))
        else:
            outside.append(reading)
    return MarkRow(mark, tuple(ticks), _outside(outside, scale), _says(mark))


def _outside(readings: list[WeighedReading], scale: Scale) -> tuple[str, ...]:
    """'← 1953 week 48, 2%': arrow, date and weight of readings that the axis does not show."""
    out: list[str] = []
    for arrow, inside in (("←", -1), ("in a gap:", 0), ("→", 1)):
        here = [r for r in readings if _side(r, scale) == inside]
        here.sort(key=lambda r: -r.p)
        named = here if len(here) <= NAMED_OUTSIDE else here[:1]
        out += [f"{arrow} {week_words(r.label)}, {percent(r.p)}" for r in named]
        if rest := here[len(named) :]:
            out.append(f"{arrow} {len(rest)} more, {percent(sum(r.p for r in rest))} in all")
    return tuple(out)


def _side(reading: WeighedReading, scale: Scale) -> int:
    first, last = weeks_of_reading(reading)
    if last is not None and last < scale.first:
        return -1
    if first is not None and first >= scale.end:
        return 1
    return 0


def _says(mark: MarkVerdict) -> str:
    """The mark's best reading with its weight, or why it has none."""
    best = best_reading(mark)
    if not mark.weighed:
        return "not weighed"
    if best is None:
        return "says nothing of a date"
    return f"{week_words(best.label)}, {percent(best.p)}"
