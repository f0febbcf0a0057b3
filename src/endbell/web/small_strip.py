"""A dossier's strip in small, for one row of a list: years as bars on the list's own time line."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ..store.strips import LEAST

YEAR = 3.0
HIGH = 22.0
Years = Sequence[tuple[int, float]]
"""(year, P of it), as the strips cache holds them."""


def time_line(strips: Iterable[Years]) -> tuple[int, int]:
    """The years that a list's strips need together: whole decades, first and one after the last."""
    years = [year for strip in strips for year, p in strip if p >= LEAST]
    if not years:
        return (1950, 1960)
    return (min(years) // 10 * 10, max(years) // 10 * 10 + 10)


def small_strip(years: Years, line: tuple[int, int]) -> str:
    """The strip as SVG on the time line ``line``; it stands beside its words and says nothing new.

    >>> small_strip([(1964, 1.0)], (1960, 1970)).count("s-year")
    1
    """
    first, after = line
    wide = (after - first) * YEAR
    decades = "".join(f"M{(y - first) * YEAR:g} 0v{HIGH:g}" for y in range(first, after, 10))
    bars: list[str] = []
    for year, p in years:
        if p >= LEAST and first <= year < after:
            high = max(p, 0.05) * (HIGH - 2)
            at = (year - first) * YEAR + 0.25
            bars.append(f"M{at:g} {HIGH - 1:g}v-{high:.4g}h{YEAR - 0.5:g}v{high:.4g}z")
    # numbers alone: nothing here has to be escaped
    return (
        f'<svg class="small-strip" viewBox="0 0 {wide:g} {HIGH:g}" preserveAspectRatio="none" '
        f'aria-hidden="true" focusable="false"><path d="{decades}" class="s-decade"/>'
        f'<path d="M0 {HIGH - 0.5:g}h{wide:g}" class="s-base"/>'
        f'<path d="{"".join(bars)}" class="s-year"/></svg>'
    )
