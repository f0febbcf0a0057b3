"""Lines that are simply read off a meter, and what is added where a converter is suspected."""

from __future__ import annotations

from ..lines import Bound, Line
from ..readings import Bench
from ..telling import against, shown, tell
from .clipping import Clipped


def read_line(
    bench: Bench, line: str, bounds: tuple[Bound, ...] = (), expected: float | None = None
) -> Line:
    """A line as a meter shows it, held against ``bounds``; not measured where nothing was read."""
    reading = bench.reading(line)
    if reading is None or reading.value is None:
        return tell(bench, line, bounds=bounds, expected=expected)
    unit = bench.kinds[line].unit
    says = f"{shown(reading.value, unit)}: {against(reading.value, bounds, unit)}."
    return tell(
        bench,
        line,
        value=reading.value,
        bounds=bounds,
        expected=expected,
        says=says,
        works="As read off the meter.",
        readings=(reading,),
    )


def heard(says: str, suspected: Clipped | None) -> str:
    """``says``, with what is suspected of the converter behind it."""
    return says if suspected is None else f"{says} Mind: {suspected.says}."
