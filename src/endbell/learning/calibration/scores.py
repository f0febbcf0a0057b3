"""Log scores: how much probability stood on what was true, for the engine and for plain rules.

A rule names a year and nothing else.  To be scored it needs a distribution, made as honestly as can
be: its own errors, counted on dossiers drawn for that alone, smoothed, and mixed with the years in
which such amps were made, in the proportion that served best on the other half of those dossiers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .rules import FIRST_YEAR

Array = NDArray[np.float64]
Years = NDArray[np.int64]

NO_YEAR = -1
KERNEL = np.array([0.05, 0.9, 0.05])
SHARES = np.array([0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 0.8])
LEAST = 1e-12


@dataclass(frozen=True, eq=False)
class RuleScore:
    """A rule's distribution of the true year, learned from its own errors.

    ``errors``: P(true year - rule's year = e), e from -span to span, shape (2 span + 1,);
    ``share``: what is given to ``made`` (shape (Y,), years from 1930) instead.
    """

    errors: Array
    share: float
    made: Array

    @classmethod
    def learned(cls, named: Years, true: Years, made: Array) -> RuleScore:
        """From a training draw: years the rule named (NO_YEAR: none) and the true ones, (N,)."""
        usable = named != NO_YEAR
        e = (true - named)[usable]
        span = made.size
        first, second = _histogram(e[::2], span), e[1::2]
        at = np.clip(true[usable][1::2] - FIRST_YEAR, 0, span - 1)
        own, plain = first[second + span], made[at]
        gains = [np.log(np.maximum((1 - s) * own + s * plain, LEAST)).mean() for s in SHARES]
        best = float(SHARES[int(np.argmax(gains))]) if second.size else 1.0
        return cls(_histogram(e, span), best, made)

    def log_scores(self, named: Years, true: Years) -> Array:
        """ln P(true year) by this rule, shape (N,); without a code it is that of ``made``.

        The years are scaled to those that there are: no weight is lost beyond either end.
        """
        span = self.made.size
        years = FIRST_YEAR + np.arange(span)
        out = np.empty(true.size)
        for year in np.unique(named).tolist():
            rows = np.flatnonzero(named == year)
            p = self.made
            if year != NO_YEAR:
                own = self.errors[years - year + span]
                p = (1 - self.share) * own / own.sum() + self.share * self.made
            out[rows] = np.log(np.maximum(p[true[rows] - FIRST_YEAR], LEAST))
        return out


def told(named: Years, true: Years, made: Array) -> Array:
    """Log scores of a rule that knows its errors in these very dossiers, shape (N,).

    Each half is scored with the errors of the other: what the rule would be worth to someone who
    had learned his errors in this world, though nobody told the engine of it.
    """
    out = np.empty(true.size)
    for half in (0, 1):
        rule = RuleScore.learned(named[1 - half :: 2], true[1 - half :: 2], made)
        out[half::2] = rule.log_scores(named[half::2], true[half::2])
    return out


def _histogram(errors: Years, span: int) -> Array:
    """Smoothed shares of -span..span, shape (2 span + 1,): a neighbour's kernel, and a thousandth
    of an observation everywhere.
    """
    counts = np.bincount(errors + span, minlength=2 * span + 1).astype(np.float64)
    smooth = np.convolve(counts, KERNEL, mode="same") + 1e-3
    return smooth / smooth.sum()


@dataclass(frozen=True, slots=True)
class Gain:
    """Mean of paired differences with its standard error."""

    mean: float
    se: float


def gain(better: Array, worse: Array) -> Gain:
    """How much one log score is above another on the same dossiers, shape (N,) each."""
    d = better - worse
    if d.size < 2:
        return Gain(float(d.mean()) if d.size else float("nan"), 0.0)
    return Gain(float(d.mean()), float(d.std(ddof=1) / np.sqrt(d.size)))
