"""Sums over the lag, forwards (date -> build) and backwards (build -> date), exact on the grid."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .lags import EARLY
from .time import Array, ComplexArray, IntArray
from .workspace import Workspace

SPARSE_RUNS = 60

NOTHING = 1e-11
"""Lags that together hold less than this are left out when looking backwards."""


@dataclass(frozen=True, eq=False)
class LagTable:
    """P(L = n | u), n = -EARLY..size-1, with the key it is remembered by. Shape (U, size+EARLY)."""

    table: Array
    key: tuple[object, ...]

    @property
    def nbytes(self) -> int:
        """With the spectra that are kept beside the table."""
        return 4 * int(self.table.nbytes)

    @property
    def size(self) -> int:
        return self.table.shape[1] - EARLY

    @cached_property
    def envelope(self) -> LagTable:
        """The highest of every column over stock ages: bounds any sum over the lag from above."""
        return LagTable(self.table.max(axis=0, keepdims=True), (*self.key, "envelope"))

    @cached_property
    def reach(self) -> int:
        """Columns of the table that hold all but NOTHING of it."""
        left = self.table[:, ::-1].max(axis=0).cumsum()[::-1]
        return int(np.count_nonzero(left > NOTHING)) or 1

    @cached_property
    def length(self) -> int:
        return _fast_length(2 * self.size + EARLY)

    @cached_property
    def spectrum(self) -> ComplexArray:
        return np.fft.rfft(self.table, self.length, axis=1)

    def forward(self, d: Array, workspace: Workspace, weeks: IntArray | None = None) -> Array:
        """sum over D of P(L = B - D | u) d(D), shape (U, size), or on some build weeks only."""
        at = np.flatnonzero(d)
        out = np.zeros((self.table.shape[0], self.size if weeks is None else weeks.size))
        if at.size == 0:
            return out
        starts = np.flatnonzero(np.diff(at, prepend=-2) > 1)
        if starts.size > SPARSE_RUNS or at.size > 12 * SPARSE_RUNS:
            full = self._dense(d)
            return full if weeks is None else full[:, weeks]
        ends = np.append(starts[1:], at.size)
        for i, j in zip(starts.tolist(), ends.tolist(), strict=True):
            s = int(at[i])
            values = d[s : s + j - i]
            scale = float(values.max())
            pattern = np.round(values / scale, 14)
            smooth = workspace.get(
                ("run", self.key, pattern.tobytes()),
                lambda pattern=pattern: self._smoothed(pattern),
            )
            if weeks is None:
                lo = max(0, s - EARLY)
                out[:, lo:] += scale * smooth[:, lo - s + EARLY : self.size - s + EARLY]
            else:
                first = int(np.searchsorted(weeks, s - EARLY))
                out[:, first:] += scale * smooth[:, weeks[first:] - (s - EARLY)]
        return out

    def backward(self, weight: Array, weeks: IntArray) -> Array:
        """sum over B, u of weight(u, B) P(L = B - D | u), for every D; shape (size,).

        ``weight``: (U or 1, len(weeks)) on the given build weeks.  What is dropped is below 1e-18
        of
        the whole by week, and lags that hold less than NOTHING.
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

    def _smoothed(self, pattern: Array) -> Array:
        # as wide as the table: values beyond its end would lie after the grid anyway
        out = np.zeros_like(self.table)
        for j, p in enumerate(pattern.tolist()):
            out[:, j:] += p * self.table[:, : self.table.shape[1] - j]
        return out

    def _dense(self, d: Array) -> Array:
        full = np.fft.irfft(np.fft.rfft(d, self.length) * self.spectrum, self.length, axis=1)
        return np.maximum(full[:, EARLY : EARLY + self.size], 0.0)


def later_forward(d: Array, service: LagTable, workspace: Workspace) -> Array:
    """mean over R = B+1..T-1 (T-1 for the last week) of sum_D s(R-D) d(D); shape (size,)."""
    fitted = service.forward(d, workspace)[0]
    return mean_after(fitted)


def mean_after(fitted: Array) -> Array:
    """mean over R > B of fitted(R); at the last week its own value; shape (size,)."""
    n = fitted.shape[0]
    out = np.empty(n)
    out[:-1] = np.cumsum(fitted[:0:-1])[::-1] / np.arange(n - 1, 0, -1, dtype=np.float64)
    out[-1] = fitted[-1]
    return out


def later_backward(weight: Array, service: LagTable) -> Array:
    """Transpose of :func:`later_forward`: weight(B) -> weight of every D; shape (size,)."""
    n = weight.shape[0]
    share = np.zeros(n)
    share[:-1] = weight[:-1] / np.arange(n - 1, 0, -1, dtype=np.float64)
    on = np.zeros(n)
    on[1:] = share[:-1].cumsum()
    on[-1] += weight[-1]
    return service.backward(on[None, :], np.arange(n, dtype=np.int64))


def window_mean(t: Array, half: int) -> Array:
    """mean of t over [B - half, B + half] cut to the grid; shape (size,)."""
    n = t.shape[0]
    c = np.concatenate(([0.0], np.cumsum(t)))
    lo, hi = _window(n, half)
    return np.maximum(c[hi] - c[lo], 0.0) / (hi - lo)


def window_backward(weight: Array, half: int) -> Array:
    """Transpose of :func:`window_mean`; shape (size,)."""
    n = weight.shape[0]
    lo, hi = _window(n, half)
    share = weight / (hi - lo)
    edges = np.zeros(n + 1)
    np.add.at(edges, lo, share)
    np.subtract.at(edges, hi, share)
    return np.maximum(np.cumsum(edges)[:n], 0.0)


def _window(n: int, half: int) -> tuple[IntArray, IntArray]:
    b = np.arange(n)
    return np.maximum(b - half, 0), np.minimum(b + half, n - 1) + 1


def _fast_length(n: int) -> int:
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
