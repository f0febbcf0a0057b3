"""The rows of the time line: assemblies, their parts, the parts' marks; in words and in weeks."""

from __future__ import annotations

from dataclasses import dataclass

from ..chronology.verdict import AssemblyVerdict, MarkVerdict, PartVerdict, Verdict, WeighedReading
from ..reference.types import Reference
from .fitted import Window, windows, windows_words
from .numbers import percent, week_words
from .scale import Scale, weeks_of_reading
from .wording import RESULTS, title_of_class

NAMED_OUTSIDE = 2
"""Readings beyond the axis that are named one by one on either side; further ones are counted."""

NEGLIGIBLE = 0.005
"""Readings beyond the axis that weigh less are not named in the drawing."""


@dataclass(frozen=True, slots=True)
class Tick:
    """A reading on the axis: stretches of x, and whether it goes on beyond the axis on a side."""

    reading: WeighedReading
    stretches: tuple[tuple[float, float], ...]
    open_left: bool
    open_right: bool


@dataclass(frozen=True, slots=True)
class MarkRow:
    """A mark with the ticks that fall on the axis and words for the readings that do not.

    ``fitted``: the stretches in which a feature's value was fitted; they carry no weight.
    """

    mark: MarkVerdict
    ticks: tuple[Tick, ...]
    fitted: tuple[Tick, ...]
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


def rows(
    verdict: Verdict, scale: Scale, reference: Reference | None = None
) -> tuple[AssemblyRows, ...]:
    """Every mark of the verdict, in its place.

    The chassis comes first, then the assemblies as the verdict lists their parts.
    """
    judged = {p.part: p for p in verdict.parts}
    by_part: dict[str, list[MarkVerdict]] = {}
    for mark in verdict.marks:
        by_part.setdefault(mark.mark.part, []).append(mark)
    order: dict[str, list[str]] = {"chassis": []}
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
                PartRows(
                    p,
                    judged.get(p),
                    tuple(mark_row(m, scale, windows(m, verdict, reference)) for m in by_part[p]),
                )
                for p in parts
            ),
        )
        for name, parts in order.items()
        if parts
    )


def part_title(part: PartRows, reference: Reference | None) -> str:
    """'ot: output transformer'; the id alone where the class says the same or is not judged."""
    if part.part is None:
        return part.id
    title = title_of_class(reference, part.part.part_class)
    return title if title.lower() == part.id.lower() else f"{part.id}: {title}"


def mark_row(mark: MarkVerdict, scale: Scale, fitted: tuple[Window, ...] = ()) -> MarkRow:
    """Ticks for the readings on the axis, words for the others and for the row as a whole.

    ``fitted``: when the value seen was fitted, for a feature.
    """
    ticks: list[Tick] = []
    outside: list[WeighedReading] = []
    for reading in mark.readings:
        first, last = weeks_of_reading(reading)
        if first is None and last is None:
            continue
        stretches = _stretches(first, last, scale)
        if stretches:
            ticks.append(Tick(reading, stretches, *_goes_on(first, last, scale)))
        else:
            outside.append(reading)
    spans: list[Tick] = []
    for start, stop in fitted:
        reading = WeighedReading(windows_words(((start, stop),)), 0.0, first=start, last=stop)
        first, last = weeks_of_reading(reading)
        if stretches := _stretches(first, last, scale):
            spans.append(Tick(reading, stretches, *_goes_on(first, last, scale)))
    words = _outside(outside, scale)
    return MarkRow(mark, tuple(ticks), tuple(spans), words, _says(mark, fitted))


def _stretches(
    first: int | None, last: int | None, scale: Scale
) -> tuple[tuple[float, float], ...]:
    a = scale.first if first is None else first
    b = scale.end - 1 if last is None else last
    return tuple(scale.clipped(a, b)) if a <= b else ()


def _goes_on(first: int | None, last: int | None, scale: Scale) -> tuple[bool, bool]:
    return first is None or first < scale.first, last is None or last >= scale.end


def _outside(readings: list[WeighedReading], scale: Scale) -> tuple[str, ...]:
    """'← 1953 week 48, 2%': readings that the axis does not show, with arrow, date and weight.

    What weighs next to nothing, one by one or all together, is left to the table of marks.
    """
    out: list[str] = []
    for arrow, inside in (("←", -1), ("in a gap:", 0), ("→", 1)):
        here = [r for r in readings if _side(r, scale) == inside]
        here.sort(key=lambda r: -r.p)
        named = [r for r in here if r.p >= NEGLIGIBLE][:NAMED_OUTSIDE]
        out += [f"{arrow} {week_words(r.label)}, {percent(r.p)}" for r in named]
        rest = here[len(named) :]
        if (weight := sum(r.p for r in rest)) >= NEGLIGIBLE:
            out.append(f"{arrow} {len(rest)} {'more' if named else 'others'}, {percent(weight)}")
    return tuple(out)


def _side(reading: WeighedReading, scale: Scale) -> int:
    first, last = weeks_of_reading(reading)
    if last is not None and last < scale.first:
        return -1
    if first is not None and first >= scale.end:
        return 1
    return 0


def _says(mark: MarkVerdict, fitted: tuple[Window, ...]) -> str:
    """The mark's best reading with its weight, or when its value was fitted, or neither."""
    if mark.mark.result in RESULTS:
        return RESULTS[mark.mark.result]
    if not mark.weighed:
        return "not weighed"
    if fitted:
        return windows_words(fitted)
    best = max((r for r in mark.readings if r.first or r.last), key=lambda r: r.p, default=None)
    return f"{week_words(best.label)}, {percent(best.p)}" if best else "no date of its own"
