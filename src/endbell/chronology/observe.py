"""What one mark says on its own: likelihoods by week, before origins and deliveries."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil, log, pi, sqrt

import numpy as np

from ..marks import MarkReading, TermHit
from ..marks.tables import SerialRange
from .lags import log_normal
from .texts import interval_likelihood
from .time import Array, Grid
from .weeks import week_of

LABEL_LAG = 520  # weeks a printed label can wait, at the most

NO_DENSITY = 39.0  # standard deviations beyond which a normal density is no number

ASSEMBLY_KINDS = ("chart-letters", "year-stamp", "hand-date")


def scheme_weeks(reading: MarkReading, grid: Grid) -> slice:
    """The weeks a scheme of final assembly can say."""
    if reading.scheme is None:
        return slice(0, grid.size)
    found = grid.weeks_of(*reading.scheme)
    return found if found.stop > found.start else slice(0, grid.size)


def final_assembly(
    reading: MarkReading, kind: str, grid: Grid, assume: Mapping[str, float]
) -> tuple[Array, float]:
    """P(mark | original) by build week, shape (size,), and P(mark | replaced)."""
    t = interval_likelihood(reading.readings, grid)
    mean = float(t[scheme_weeks(reading, grid)].mean())
    misread, before, after = assembly_mark(kind, assume)
    near = np.zeros(grid.size)
    n = grid.size
    for d in range(-before, after + 1):
        lo, hi = max(0, -d), min(n, n - d)
        near[lo:hi] += t[lo + d : hi + d]
    near /= before + after + 1
    return (1.0 - misread) * near + misread * mean, mean


def assembly_mark(kind: str, assume: Mapping[str, float]) -> tuple[float, int, int]:
    """Misread probability, weeks before and weeks after final assembly."""
    p = f"assembly_mark.{kind}."
    return assume[p + "misread"], int(assume[p + "before_weeks"]), int(assume[p + "after_weeks"])


def term_fit(
    first: int | None, last: int | None, strictness: str, weeks: Array, assume: Mapping[str, float]
) -> Array:
    """g(D) of one term that can be printed from week ``first`` to week ``last``."""
    if strictness == "info":
        return np.ones(weeks.shape)
    outside = np.zeros(weeks.shape)
    if first is not None:
        outside = np.maximum(outside, first - weeks)
    if last is not None:
        outside = np.maximum(outside, weeks - last)
    leak = assume["terminus.hard_leak"]
    if strictness == "hard":
        return np.where(outside > 0, leak, 1.0)
    return np.where(
        outside > 0, np.maximum(leak, np.exp(-outside / assume["terminus.soft_weeks"])), 1.0
    )


def printed(reading: MarkReading, weeks: Array, assume: Mapping[str, float]) -> Array:
    """g(D) of a label's terms or a patent number, for the given weeks."""
    if reading.dating == "terms":
        g = np.ones(weeks.shape)
        for hit in reading.terms:
            g *= term_fit(*_term_weeks(hit), hit.strictness, weeks, assume)
        return g
    g = np.zeros(weeks.shape)
    for r in reading.readings:
        first = None if r.first is None else week_of(r.first)
        g += r.p * term_fit(first, None, "hard", weeks, assume)
    return g


def _term_weeks(hit: TermHit) -> tuple[int | None, int | None]:
    return (
        None if hit.not_before is None else week_of(hit.not_before),
        None if hit.not_after is None else week_of(hit.not_after),
    )


def label(
    readings: Sequence[MarkReading], grid: Grid, assume: Mapping[str, float]
) -> tuple[Array, float]:
    """P(everything printed on a part | original) by build week, (size,), and P(... | replaced)."""
    weeks = np.arange(-LABEL_LAG, grid.size, dtype=np.float64)
    g = np.prod([printed(reading, weeks, assume) for reading in readings], axis=0)
    lag = log_normal(
        LABEL_LAG + 1, log(assume["label.lag_median_weeks"]), assume["label.lag_sigma"]
    )
    lag /= lag.sum()
    return np.convolve(g, lag, mode="valid")[-grid.size :], float(g[LABEL_LAG:].mean())


def existed(day_week: int, grid: Grid, assume: Mapping[str, float]) -> Array:
    """A paper shows that the amp existed by a week; shape (size,)."""
    other = assume["document.other_amp"]
    by = np.where(np.arange(grid.size) <= day_week, 1.0, assume["document.leak"])
    return (1.0 - other) * by + other


def serial(
    reading: MarkReading,
    ranges: Sequence[SerialRange],
    models: Sequence[str | None],
    grid: Grid,
    assume: Mapping[str, float],
) -> tuple[Array, float]:
    """P(serial | original) by model and build week, shape (M, size), and P(serial | replaced)."""
    open_models = {r.id: r.models for r in ranges}
    leak = assume["serial.leak"]
    out = np.full((len(models), grid.size), leak / grid.size)
    for r in reading.readings:
        if r.first is None or r.spread_weeks <= 0:
            continue
        # beyond it the density is less than any number that can be told from nothing
        week, reach = week_of(r.first), ceil(NO_DENSITY * r.spread_weeks)
        lo, hi = max(week - reach, 0), max(week + reach + 1, 0)
        weeks = np.arange(lo, min(hi, grid.size), dtype=np.float64)
        open_to = {m for k, v in r.facts if k == "range" for m in open_models.get(v, ())}
        density = np.exp(-0.5 * ((weeks - week) / r.spread_weeks) ** 2)
        density /= r.spread_weeks * sqrt(2.0 * pi)
        for m, model in enumerate(models):
            if not open_to or model in open_to:
                out[m, lo:hi] += (1.0 - leak) * r.p * density
    return out, 1.0 / grid.size
