"""Between weeks of dispatch and build weeks: the lag of an original delivery, both ways.

Few weeks on either side are summed term by term, many by Fourier transform; the sums are the same.
"""

from __future__ import annotations

import numpy as np

from .convolve import fast_length, later_backward
from .lags import EARLY
from .plan import Plan
from .time import Array, ComplexArray, IntArray

LEAST = 1e-7
"""Weeks of dispatch that carry less of every delivery than this are left out."""

MOST = 8_000
"""More pairs of a week of dispatch and a build week than that go by Fourier transform."""

LOOKED_AT = 16 * MOST
"""More pairs than that, and all weeks of dispatch are kept: to look which carry something costs
more."""


class LagKernel:
    """P(L = B - D | u) for some build weeks B and the weeks D in which deliveries can have left.

    ``on``: each delivery's date on ``days``, (rows, days); ``weight``: of the build weeks.
    """

    def __init__(self, plan: Plan, weeks: IntArray, weight: Array, days: IntArray, on: Array):
        self.table = plan.lags.original.table
        self.ages = self.table.shape[0]
        self.early: IntArray = np.flatnonzero(days <= int(weeks[-1]) + EARLY)
        if self.early.size * weeks.size <= LOOKED_AT:
            self._drop(plan, weeks, weight, days, on)
        self.on = on[:, self.early]
        self.spectral = self.early.size * weeks.size > MOST
        if self.spectral:
            self._transform(weeks, days[self.early])
        else:
            self.column: IntArray = weeks - days[self.early][:, None] + EARLY
            at = np.where(self.column >= 0, self.column, self.table.shape[1])
            padded = plan.workspace.get(
                ("padded", plan.lags.original.key),
                lambda: np.concatenate([self.table, np.zeros((self.ages, 1))], axis=1),
            )
            self.values = padded.take(at, axis=1)  # (U, days, weeks)

    def _drop(self, plan: Plan, weeks: IntArray, weight: Array, days: IntArray, on: Array) -> None:
        """Leave out weeks of dispatch that carry nothing."""
        reach = plan.workspace.get(
            ("reach", plan.lags.original.key), lambda: np.append(self.table.max(axis=0), 0.0)
        )
        column = np.maximum(weeks - days[self.early][:, None] + EARLY, -1)
        carried = reach[column] @ weight * on[:, self.early]  # (rows, days), at the most
        most = carried.max(axis=1, keepdims=True, initial=0.0)
        self.early = self.early[(carried > LEAST * most).any(axis=0)]

    def forwards(self) -> Array:
        """sum over D of P(L = B - D | u) on(D), (U, rows, weeks)."""
        if not self.spectral:
            return np.matmul(self.on, self.values)
        found = np.fft.irfft(self.dates[None] * self.spectrum[:, None], self.length, axis=2)
        return np.maximum(found[:, :, self.weeks + EARLY], 0.0)

    def lags(self, weight: Array) -> Array:
        """Expected deliveries by stock age and lag; ``weight``: (U, rows, weeks); (U, n)."""
        if not self.early.size:
            return np.zeros((self.ages, 1))
        if not self.spectral:
            crossed = np.matmul(self.on.T, weight)
            crossed *= self.values
            width = int(self.column.max()) + 1
            ages: IntArray = np.arange(0, width * self.ages, width, dtype=np.int64)
            place: IntArray = np.maximum(self.column, 0) + ages.reshape(-1, 1, 1)
            counts = np.bincount(
                place.ravel(), weights=crossed.ravel(), minlength=width * self.ages
            )
            flat: Array = counts.astype(np.float64, copy=False)
            return flat.reshape(self.ages, width)
        # correlation: found[n] = sum over D of weight(D + n) on(D), the columns turned by EARLY
        product = (self._builds(weight) * self.dates.conj()[None]).sum(axis=1)
        found = np.roll(np.fft.irfft(product, self.length, axis=1), EARLY, axis=1)
        return np.maximum(found[:, : self.columns], 0.0) * self.table[:, : self.columns]

    def backwards(self, weight: Array) -> Array:
        """sum over u and B of weight(u, row, B) P(L = B - D | u), (rows, early days)."""
        if not self.spectral:
            rows = weight.transpose(1, 0, 2).reshape(weight.shape[1], -1)
            days = self.values.transpose(0, 2, 1)
            return rows @ days.reshape(rows.shape[1], self.early.size)
        product = (self._builds(weight) * self.spectrum.conj()[:, None]).sum(axis=0)
        found = np.roll(np.fft.irfft(product, self.length, axis=1), EARLY, axis=1)
        return np.maximum(found[:, self.days], 0.0)

    def _transform(self, weeks: IntArray, days: IntArray) -> None:
        """Counted from the first week of dispatch; as long as it takes for what wraps round to fall
        where nothing is asked.
        """
        base = min(int(days[0]), int(weeks[0])) if days.size else int(weeks[0])
        self.weeks, self.days = weeks - base, days - base
        span = int(weeks[-1]) - base + EARLY + 1
        self.columns = min(span + EARLY, self.table.shape[1])
        self.length = fast_length(span + int(weeks[-1] - weeks[0]) + 4 * EARLY)
        dense = np.zeros((self.on.shape[0], span))
        dense[:, self.days] = self.on
        self.dates = np.fft.rfft(dense, self.length, axis=1)
        self.spectrum = np.fft.rfft(self.table[:, : self.columns], self.length, axis=1)

    def _builds(self, weight: Array) -> ComplexArray:
        dense = np.zeros((*weight.shape[:2], int(self.weeks[-1]) + 1))
        dense[:, :, self.weeks] = weight
        return np.fft.rfft(dense, self.length, axis=2)


def fitted_backwards(plan: Plan, weeks: IntArray, days: IntArray, weight: Array) -> Array:
    """The transpose of the mean over service weeks after B: ``weight`` (rows, weeks) by week of
    dispatch, (rows, days).
    """
    service, size = plan.lags.service, plan.size
    if days.size * weeks.size > MOST:
        whole = np.zeros((weight.shape[0], size))
        whole[:, weeks] = weight
        return np.array([later_backward(row, service)[days] for row in whole])
    tail = service.suffixes
    first = np.minimum(weeks + 1, size - 1)
    after = tail[np.maximum(first - days[:, None] + EARLY, 0)]
    beyond = tail[size - days + EARLY][:, None]
    return weight @ (np.maximum(after - beyond, 0.0) / (size - first)).T
