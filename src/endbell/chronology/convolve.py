"""Sums over the lag, forwards (date -> build) and backwards (build -> date), exact on the grid."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .bounds import Bounds, window_ends
from .dates import Dates, Runs
from .lags import EARLY
from .time import Array, ComplexArray, IntArray
from .workspace import Workspace

NOTHING = 1e-11
"""Lags that together hold less than this are left out when looking backwards."""


@dataclass(frozen=True, eq=False)
class LagTable:
    """P(L = n | u), n = -EARLY..size-1, with the key it is remembered by. Shape (U, size+EARLY)."""

    table: Array
    key: Hashable

    @property
    def nbytes(self) -> int:
        """With the spectra that are kept beside the table."""
        return 4 * int(self.table.nbytes)

    @property
    def size(self) -> int:
        return self.table.shape[1] - EARLY

    @cached_property
    def bounds(self) -> Bounds:
        """Its highest between blocks of weeks."""
        return Bounds(self.table)

    @cached_property
    def suffixes(self) -> Array:
        """P(L >= n) of the first stock age, n = -EARLY .. size: (size + EARLY + 1,)."""
        return np.append(np.cumsum(self.table[0, ::-1])[::-1], 0.0)

    def suffix_head(self, length: int) -> ComplexArray:
        """Spectrum of P(L >= n), n = 0, 1 ... (half as many as its length)."""
        if length not in self._suffix_heads:
            head = self.suffixes[EARLY : EARLY + length // 2]
            self._suffix_heads[length] = np.fft.rfft(head, length)
        return self._suffix_heads[length]

    @cached_property
    def _suffix_heads(self) -> dict[int, ComplexArray]:
        return {}

    @cached_property
    def reach(self) -> int:
        """Columns of the table that hold all but NOTHING of it."""
        left = self.table[:, ::-1].max(axis=0).cumsum()[::-1]
        return int(np.count_nonzero(left > NOTHING)) or 1

    @cached_property
    def length(self) -> int:
        return fast_length(2 * self.size + EARLY)

    @cached_property
    def spectrum(self) -> ComplexArray:
        return np.fft.rfft(self.table, self.length, axis=1)

    def forward(self, d: Dates, workspace: Workspace, weeks: IntArray | None = None) -> Array:
        """sum over D of P(L = B - D | u) d(D), shape (U, size), or on some (rising) build weeks."""
        if d.spread_out:
            return self._by_spectrum(d, np.arange(self.size) if weeks is None else weeks)
        if weeks is None:
            return self._everywhere(d.runs, workspace)
        out: Array | None = None
        for run in d.runs if weeks.size else ():
            # what is dated after all the weeks has no say in any
            n = int(run.starts.searchsorted(int(weeks[-1]) + EARLY, side="right"))
            if n:
                column = weeks - (run.starts[:n, None] - EARLY)
                found = self._gathered(run, column, run.scales[:n], workspace)
                out = found if out is None else out + found
        return np.zeros((self.table.shape[0], weeks.size)) if out is None else out

    def _gathered(self, run: Runs, column: IntArray, scales: Array, workspace: Workspace) -> Array:
        """The sum over rising columns of the table smoothed by a pattern of weeks.

        A pattern that comes again is smoothed once and kept; else only the columns in use are.
        """
        if workspace.again(("run", self.key, run.key)):
            return gathered(self._smooth(run, workspace), column, scales)
        lo, hi = max(int(column[-1, 0]), 0), int(column[0, -1]) + 1
        return gathered(_smoothed(self.table, run.pattern, lo, hi), column - lo, scales)

    def _everywhere(self, runs: tuple[Runs, ...], workspace: Workspace) -> Array:
        out = np.zeros((self.table.shape[0], self.size))
        for run in runs:
            smooth = self._smooth(run, workspace)
            for s, scale in zip(run.starts.tolist(), run.scales.tolist(), strict=True):
                lo = max(0, s - EARLY)
                out[:, lo:] += scale * smooth[:, lo - s + EARLY : self.size - s + EARLY]
        return out

    def _smooth(self, run: Runs, workspace: Workspace) -> Array:
        """The table smoothed by a pattern of weeks, and a last column of nothing."""
        return workspace.get(("run", self.key, run.key), lambda: _smoothed(self.table, run.pattern))

    def backward(self, weight: Array, weeks: IntArray) -> Array:
        """sum over B, u of weight(u, B) P(L = B - D | u), for every D; shape (size,).

        ``weight``: (U or 1, len(weeks)) on the given build weeks.  What is dropped is
        below 1e-18 of the whole by week, and lags that hold less than NOTHING.
        """
        total = weight.sum(axis=0)
        peak = total.max(initial=0.0)
        if peak <= 0:
            return np.zeros(self.size)
        held = np.flatnonzero(total > peak * 1e-18)
        lo, hi = int(weeks[held[0]]), int(weeks[held[-1]]) + 1
        n = hi - lo
        dense = np.zeros((self.table.shape[0], n))
        dense[:, hi - 1 - weeks[held]] = weight[:, held]  # turned round, for the correlation
        length = 1024
        while length < n + self.reach:
            length *= 2
        if length >= self.length:
            length, spectrum = self.length, self.spectrum
        else:
            spectrum = self._short_spectrum(length)
        full = np.fft.irfft((np.fft.rfft(dense, length) * spectrum).sum(axis=0), length)
        # full[k]: k = (hi - 1 - B) + (L + EARLY), D = B - L -> k = hi - 1 + EARLY - D
        k = hi - 1 + EARLY - np.arange(self.size)
        out = np.where((k >= 0) & (k < length), full[np.clip(k, 0, length - 1)], 0.0)
        return np.maximum(out, 0.0)

    def _short_spectrum(self, length: int) -> ComplexArray:
        if length not in self._spectra:
            self._spectra[length] = np.fft.rfft(self.table[:, : self.reach], length, axis=1)
        return self._spectra[length]

    @cached_property
    def _spectra(self) -> dict[int, ComplexArray]:
        return {}

    def _by_spectrum(self, d: Dates, weeks: IntArray) -> Array:
        """The sum by Fourier transform, over the dates before the last of the (rising) weeks."""
        if weeks.size == 0:
            return np.zeros((self.table.shape[0], 0))
        known = int(weeks[-1]) + EARLY + 1  # no later date, and no longer lag
        length = 1024
        while length < 2 * known:
            length *= 2
        if length < self.length:
            if length not in self._heads:
                self._heads[length] = np.fft.rfft(self.table[:, : length // 2], length, axis=1)
            spectrum = self._heads[length]
        else:
            length, spectrum = self.length, self.spectrum
        full = np.fft.irfft(np.fft.rfft(d.dense[:known], length) * spectrum, length, axis=1)
        return np.maximum(full[:, weeks + EARLY], 0.0)

    @cached_property
    def _heads(self) -> dict[int, ComplexArray]:
        return {}

    def suffix(self, run: Runs, workspace: Workspace) -> Array:
        """Sums of the smoothed table from each column on: lags at least that long; (width + 1,)."""

        def make() -> Array:
            return np.cumsum(self._smooth(run, workspace)[0, ::-1])[::-1]

        return workspace.get(("suffix", self.key, run.key), make)


def _smoothed(table: Array, pattern: Array, lo: int = 0, hi: int | None = None) -> Array:
    """A table (U, width) smoothed along its columns lo .. hi-1, and a last column of nothing."""
    # as wide as the table: values beyond its end would lie after the grid anyway
    width = table.shape[1]
    end = width if hi is None else max(min(hi, width), lo)
    out = np.zeros((table.shape[0], end - lo + 1))
    for j, p in enumerate(pattern[:end].tolist()):
        first = max(j - lo, 0)
        out[:, first:-1] += p * table[:, lo + first - j : end - j]
    return out


def gathered(table: Array, column: IntArray, scales: Array) -> Array:
    """sum over rows r of scales[r] * table[:, column[r]], columns before the first being nothing.

    ``table``: (U, width), its last column nothing; ``column``: (R, weeks). Returns (U, weeks).
    """
    # a column before the first is counted from the end, where there is nothing
    column = np.maximum(column, -1)
    return scales @ table.take(column, axis=1)


def later_at(d: Dates, service: LagTable, workspace: Workspace, weeks: IntArray | None) -> Array:
    """mean over R = B+1..T-1 (T-1 for the last week) of sum_D s(R-D) d(D), for build weeks B;
    shape (weeks,), or (size,) for None.
    """
    size = d.size
    if weeks is None:
        weeks = np.arange(size)
    if d.spread_out and weeks.size:
        out = _later_sums(d, service, weeks)
    else:
        out = np.zeros(weeks.size)
        for run in d.runs:
            suffix = service.suffix(run, workspace)
            first = np.maximum(weeks - (run.starts[:, None] - EARLY - 1), 0)
            after = suffix[size - run.starts + EARLY]
            out += run.scales @ np.maximum(suffix[first] - after[:, None], 0.0)
    out /= np.maximum(size - 1 - weeks, 1)
    if weeks.size and weeks[-1] == size - 1:
        out[-1] = fitted_last(d, service)
    return out


def _later_sums(d: Dates, service: LagTable, weeks: IntArray) -> Array:
    """sum over R = B+1..T-1 of sum_D s(R-D) d(D): dates up to B + 1 by Fourier transform, less what
    of them would be put in after the last week; later ones by what is put in before.
    """
    known = int(weeks[-1]) + 2
    length = 1024
    while length < 2 * known:
        length *= 2
    spectrum = service.suffix_head(length)
    near = np.fft.irfft(np.fft.rfft(d.dense[:known], length) * spectrum, length)[weeks + 1]
    split = d.at.searchsorted(weeks + 2)
    after = np.append(0.0, np.cumsum(service.suffixes[d.size - d.at + EARLY] * d.values))
    within = service.table[0].cumsum()[d.size - 1 - d.at + EARLY] * d.values
    far = np.append(np.cumsum(within[::-1])[::-1], 0.0)
    return np.maximum(near - after[split], 0.0) + far[split]


def fitted_last(d: Dates, service: LagTable) -> float:
    """sum over D of s(T-1-D) d(D): put in in the last week there is."""
    return float(service.table[0, d.size - 1 - d.at + EARLY] @ d.values)


def later_bound(d: Dates, service: LagTable) -> Array:
    """At least :func:`later_at` in every week of a block; (blocks,)."""
    after = float(service.suffixes[d.size - d.at + EARLY] @ d.values)
    return service.bounds.put_in(d, after, fitted_last(d, service))


def window_at(t: Dates, half: int, weeks: IntArray) -> Array:
    """mean of t over [B - half, B + half] cut to the grid, for some weeks B; (weeks,)."""
    lo, hi = window_ends(weeks, half, t.size)
    return t.between(lo, hi) / (hi - lo)


def later_backward(weight: Array, service: LagTable) -> Array:
    """Transpose of :func:`later_at`: weight(B) -> weight of every D; shape (size,)."""
    n = weight.shape[0]
    share = np.zeros(n)
    share[:-1] = weight[:-1] / np.arange(n - 1, 0, -1, dtype=np.float64)
    on = np.zeros(n)
    on[1:] = share[:-1].cumsum()
    on[-1] += weight[-1]
    return service.backward(on[None, :], np.arange(n, dtype=np.int64))


def window_backward(weight: Array, half: int) -> Array:
    """Transpose of :func:`window_at`; shape (size,)."""
    n = weight.shape[0]
    lo, hi = window_ends(np.arange(n, dtype=np.int64), half, n)
    share = weight / (hi - lo)
    edges = np.zeros(n + 1)
    np.add.at(edges, lo, share)
    np.subtract.at(edges, hi, share)
    return np.maximum(np.cumsum(edges)[:n], 0.0)


def fast_length(n: int) -> int:
    """Smallest 2^a 3^b 5^c >= n: lengths the FFT likes."""
    best = 1 << (n - 1).bit_length()
    five = 1
    while five < best:
        three = five
        while three < best:
            rest = -(-n // three)
            two = 1 << max(rest - 1, 0).bit_length()
            if n <= three * two < best:
                best = three * two
            three *= 3
        five *= 5
    return best
