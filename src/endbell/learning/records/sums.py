"""What is kept of many dossiers: sums alone, whatever their number."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .scores import Score

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Sums:
    """Over dossiers, each counted as often as its pattern comes.

    ``slope``: of the log evidence, (size,); ``outer``: outer products of the dossiers' slopes, the
    information about the values, (size, size); ``curve``: what the squares of the slopes lack,
    (size,); ``records``: behind each value, (size,).
    ``impossible``: dossiers that no week fits, left out.
    """

    dossiers: int
    impossible: int
    log_evidence: float
    slope: Array
    outer: Array
    curve: Array
    records: Array

    @classmethod
    def nothing(cls, size: int) -> Sums:
        """The sums of no dossier."""
        zeros = np.zeros(size)
        return cls(0, 0, 0.0, zeros, np.zeros((size, size)), zeros, zeros)

    @classmethod
    def of(cls, scores: Sequence[Score], evidence: Sequence[float], times: Sequence[int]) -> Sums:
        """Of some dossiers (at least one); ``times``: how often each comes."""
        n = np.array(times, dtype=np.float64)
        slopes = np.array([s.slope for s in scores])
        return cls(
            sum(times),
            0,
            float(n @ np.array(evidence)),
            n @ slopes,
            (slopes * n[:, None]).T @ slopes,
            n @ np.array([s.curve for s in scores]),
            n @ np.array([s.records for s in scores]),
        )

    def placed(self, at: Index, size: int) -> Sums:
        """The same among ``size`` values, these being those at ``at``."""
        out = Sums.nothing(size)
        outer = np.zeros((size, size))
        outer[np.ix_(at, at)] = self.outer
        vectors = [v.copy() for v in (out.slope, out.curve, out.records)]
        for whole, mine in zip(vectors, (self.slope, self.curve, self.records), strict=True):
            whole[at] = mine
        slope, curve, records = vectors
        return Sums(self.dossiers, self.impossible, self.log_evidence, slope, outer, curve, records)

    def __add__(self, other: Sums) -> Sums:
        return Sums(
            self.dossiers + other.dossiers,
            self.impossible + other.impossible,
            self.log_evidence + other.log_evidence,
            self.slope + other.slope,
            self.outer + other.outer,
            self.curve + other.curve,
            self.records + other.records,
        )


def total(sums: Iterable[Sums], size: int) -> Sums:
    """The sum of sums, in the order given."""
    out = Sums.nothing(size)
    for s in sums:
        out = out + s
    return out


def as_bytes(sums: Sums, families: Sequence[Index]) -> bytes:
    """The sums as one npz, of the outer products what lies within a family."""
    file = io.BytesIO()
    blocks = [sums.outer[np.ix_(places, places)].ravel() for places in families]
    np.savez(
        file,
        head=np.array([sums.dossiers, sums.impossible, sums.log_evidence]),
        vectors=np.stack([sums.slope, sums.curve, sums.records]),
        outer=np.concatenate(blocks) if blocks else np.zeros(0),
    )
    return file.getvalue()


def from_bytes(data: bytes, families: Sequence[Index]) -> Sums:
    """Back again."""
    with np.load(io.BytesIO(data), allow_pickle=False) as kept:
        head, vectors, flat = kept["head"], kept["vectors"], kept["outer"]
    outer = np.zeros((vectors.shape[1], vectors.shape[1]))
    at = 0
    for places in families:
        n = places.size
        outer[np.ix_(places, places)] = flat[at : at + n * n].reshape(n, n)
        at += n * n
    return Sums(
        int(head[0]), int(head[1]), float(head[2]), vectors[0], outer, vectors[1], vectors[2]
    )
