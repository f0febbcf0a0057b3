"""Which transformer is this? A likelihood for every candidate from what was measured.

Each reading is taken as normal about the candidate's value, with the spread of its making and of
the meter together, and a small share of slips that fit nothing (so that one wrong reading does not
decide).  Bayes' rule does the rest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import erfc, exp, hypot, log, pi, sqrt

from ..figures import checked


@dataclass(frozen=True, slots=True)
class Measured:
    """A reading: of what ('ratio:sec-8'), its value and one standard deviation, in SI units."""

    quantity: str
    value: float
    spread: float


@dataclass(frozen=True, slots=True)
class Expected:
    """What a candidate should read: its value and one standard deviation from one to the next."""

    value: float
    sd: float


@dataclass(frozen=True, slots=True)
class Candidate:
    """A transformer that this could be: what it should read, by quantity."""

    id: str
    expected: Mapping[str, Expected]
    prior: float = 1.0


@dataclass(frozen=True, slots=True)
class Likelihood:
    """``log``: log-likelihood; ``share``: probability among the candidates; ``used``: quantities
    that both were measured and are known of it; ``fit``: how often a right one reads as far off.
    """

    id: str
    log: float
    share: float
    used: tuple[str, ...]
    fit: float


def likelihoods(
    measured: Sequence[Measured], candidates: Sequence[Candidate], leak: float
) -> tuple[Likelihood, ...]:
    """Every candidate with its likelihood, the likeliest first (ties by the order given).

    ``leak``: share of slips, flat over the range that the candidates and the reading span.  A
    quantity that a candidate does not know counts alike for all: it is left out.
    """
    known = [
        one
        for one in measured
        if candidates and all(one.quantity in c.expected for c in candidates)
    ]
    scored: list[tuple[float, Candidate]] = []
    for candidate in candidates:
        total = log(max(candidate.prior, 1e-300))
        for one in known:
            total += _log_one(one, candidate, candidates, leak)
        scored.append((total, candidate))
    top = max((score for score, _ in scored), default=0.0)
    whole = sum(exp(score - top) for score, _ in scored)
    used = tuple(one.quantity for one in known)
    found = [
        Likelihood(
            candidate.id,
            score - log(max(candidate.prior, 1e-300)),
            exp(score - top) / whole,
            used,
            fit(known, candidate),
        )
        for score, candidate in scored
    ]
    return tuple(sorted(found, key=lambda one: -one.share))


def _log_one(
    one: Measured, candidate: Candidate, candidates: Sequence[Candidate], leak: float
) -> float:
    rows = [c.expected[one.quantity] for c in candidates]
    widths = [hypot(row.sd, one.spread) for row in rows]
    means = [row.value for row in rows]
    span = max(*means, one.value) - min(*means, one.value) + 20.0 * max(widths)
    row = candidate.expected[one.quantity]
    width = max(hypot(row.sd, one.spread), 1e-300)
    z = min(abs(one.value - row.value) / width, 1e3)
    density = exp(-0.5 * z * z) / (sqrt(2 * pi) * width)
    return log((1.0 - leak) * density + leak / max(span, 1e-300))


def fit(measured: Sequence[Measured], candidate: Candidate) -> float:
    """How often a right one reads at least as far off, 0 to 1: χ² over all its readings.

    1 where nothing was measured that is known of it.
    """
    known = [one for one in measured if one.quantity in candidate.expected]
    square = 0.0
    for one in known:
        row = candidate.expected[one.quantity]
        width = max(hypot(row.sd, checked("spread", one.spread, least=0.0)), 1e-300)
        square += min(abs(one.value - row.value) / width, 1e6) ** 2
    return chi_square_tail(square, len(known))


def chi_square_tail(square: float, freedom: int) -> float:
    """P(χ² with ``freedom`` degrees ≥ ``square``), by the recurrence for whole degrees.

    Q(x|1) = erfc(√(x/2)), Q(x|2) = e^(-x/2), Q(x|k+2) = Q(x|k) + (x/2)^(k/2)·e^(-x/2)/Γ(k/2 + 1)
    (Abramowitz and Stegun 26.4.4, 26.4.5, 26.4.8: from memory).

    >>> round(chi_square_tail(3.841, 1), 3), round(chi_square_tail(9.488, 4), 3)
    (0.05, 0.05)
    """
    if freedom <= 0 or square <= 0:
        return 1.0
    half = square / 2.0
    if half > 700:
        return 0.0
    if freedom % 2:
        tail, term, k = erfc(sqrt(half)), exp(-half) * sqrt(half) * 2.0 / sqrt(pi), 1
    else:
        tail, term, k = exp(-half), exp(-half) * half, 2
    while k < freedom:
        tail += term
        k += 2
        term *= half / (k / 2.0)
    return min(tail, 1.0)
