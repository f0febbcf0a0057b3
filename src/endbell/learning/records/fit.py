"""The values that the records and the packs together make likeliest, and how sure they are.

Scoring: steps of Newton's method whose curvature is the information in the dossiers' own slopes
(Berndt, Hall, Hall, Hausman 1974) and the prior's.  The slopes are exact, so where it stops the
gradient of the true posterior is nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .parameters import Space
from .sums import Sums

Array = NDArray[np.float64]

ENOUGH = 0.05
"""A step that promises, or brought, less than this of log posterior is the last: a fraction of a
standard deviation along its direction; what it leaves is of the second order."""
MOST_ROUNDS = 30
LEAST_PART = 1 / 32
LEAST_SHARE = 0.2  # of the slopes' own squares, that the information keeps whatever is lacking
Z90 = 1.6448536269514722


@dataclass(frozen=True, slots=True)
class Round:
    """One pass over the records: where, what was found, and how good it is."""

    theta: Array
    sums: Sums
    log_posterior: float


@dataclass(frozen=True, slots=True)
class Estimate:
    """``theta``: the values, as distances from the pack's; ``sd``: their standard deviations."""

    theta: Array
    sd: Array
    last: Round
    rounds: int

    def interval(self) -> tuple[Array, Array]:
        """The ends of the 90% intervals."""
        return self.theta - Z90 * self.sd, self.theta + Z90 * self.sd


def climb(
    space: Space,
    evaluate: Callable[[Array], Sums],
    start: Array | None = None,
    *,
    enough: float = ENOUGH,
    most_rounds: int = MOST_ROUNDS,
) -> Estimate:
    """The mode of the posterior; ``evaluate`` passes over the records at some values.

    What the gradient did between rounds corrects the curvature (BFGS: Nocedal 1980).  A step that
    makes things worse is halved until it doesn't.  The last step is taken without another pass.
    """
    theta = evaluable(space, np.zeros(space.size) if start is None else start)
    best: Round | None = None
    path = _Path()
    move, part, rounds = np.zeros(space.size), 1.0, 0
    while True:
        here = one_round(space, evaluate, theta)
        rounds += 1
        if best is not None:
            path.add(here.theta - best.theta, _gradient(space, best) - _gradient(space, here))
        if best is None or here.log_posterior > best.log_posterior:
            gained = np.inf if best is None else here.log_posterior - best.log_posterior
            best = here
            part = min(1.0, 2.0 * part)
            move, promised = step(space, best, path)
            if min(promised, gained) < enough:
                break
        else:
            part /= 2.0
        if rounds >= most_rounds or part < LEAST_PART:
            break
        theta = evaluable(space, best.theta + part * _held_back(space, move))
        if np.array_equal(theta, best.theta):
            break
    return estimate(space, best, rounds, path)


class _Path:
    """The last moves, and how the gradient fell over each."""

    def __init__(self) -> None:
        self._pairs: list[tuple[Array, Array, float]] = []

    def add(self, move: Array, fall: Array) -> None:
        """Note a move, unless the posterior is not concave along it."""
        curved = float(move @ fall)
        if curved > 1e-10 * float(move @ move):
            self._pairs = [*self._pairs[-9:], (move, fall, curved)]

    def direction(self, gradient: Array, solve: Callable[[Array], Array]) -> Array:
        """The step for a gradient; ``solve``: that of the information alone."""
        q = gradient.copy()
        factors: list[float] = []
        for move, fall, curved in reversed(self._pairs):
            factors.append(float(move @ q) / curved)
            q -= factors[-1] * fall
        out = solve(q)
        for (move, fall, curved), a in zip(self._pairs, reversed(factors), strict=True):
            out += (a - float(fall @ out) / curved) * move
        return out


def one_round(space: Space, evaluate: Callable[[Array], Sums], theta: Array) -> Round:
    """A pass over the records."""
    sums = evaluate(theta)
    return Round(theta, sums, sums.log_evidence + space.log_prior(theta))


def estimate(space: Space, last: Round, rounds: int, path: _Path | None = None) -> Estimate:
    """One more step from a round's values, and the standard deviations there.

    From values that are already within reach of the mode, the step loses nothing in the limit of
    many records (Le Cam's one-step estimator).
    """
    move, _ = step(space, last, path)
    information = information_of(space, last)
    sd = np.zeros(space.size)
    for places in space.families():
        block = information[np.ix_(places, places)]
        sd[places] = np.sqrt(np.diag(np.linalg.inv(block)))
    return Estimate(last.theta + _held_back(space, move), sd, last, rounds)


def step(space: Space, here: Round, path: _Path | None = None) -> tuple[Array, float]:
    """Newton's step, family by family, and the gain of log posterior that it promises."""
    gradient = _gradient(space, here)
    information = information_of(space, here)

    def solve(of: Array) -> Array:
        out = np.zeros(space.size)
        for places in space.families():
            out[places] = np.linalg.solve(information[np.ix_(places, places)], of[places])
        return out

    out = solve(gradient) if path is None else path.direction(gradient, solve)
    promised = 0.5 * float(gradient @ out)
    if promised <= 0:
        out = solve(gradient)
        promised = 0.5 * float(gradient @ out)
    return out, promised


def _gradient(space: Space, here: Round) -> Array:
    return here.sums.slope + space.gradient(here.theta)


def information_of(space: Space, here: Round) -> Array:
    """Minus the second derivative of the log posterior, (size, size)."""
    return data_information(space, here) + space.precision(here.theta)


def data_information(space: Space, here: Round) -> Array:
    """Minus the second derivative of the log evidence, (size, size).

    Of the evidence Z of a dossier it is slope slope' - Z''/Z.  The second term, which is nothing on
    the average, is known for numbers one by one and for each set of shares; without it a value of
    which no case has been seen yet would pass for unknown.  Between numbers the slopes' products
    stand alone, in the proportion that the numbers' own information has to theirs.
    """
    sums = here.sums
    out = sums.outer.copy()
    n = len(space.scalars)
    own = np.diag(out).copy()
    better = np.maximum(own + sums.curve, LEAST_SHARE * own)[:n]
    scale = np.ones(space.size)
    scale[:n] = np.sqrt(better / np.maximum(own[:n], 1e-300))
    out *= np.outer(scale, scale)
    out[range(n), range(n)] = better
    for s, part in zip(space.simplices, space.slices(), strict=True):
        q = np.delete(s.shares(here.theta[part]), s.base)
        slope = sums.slope[part]
        lacking = np.outer(slope, q) + np.outer(q, slope) - np.diag(slope)
        block = out[part, part] + lacking
        prior = s.records * (np.diag(q) - np.outer(q, q))
        if float(np.linalg.eigvalsh(block + prior)[0]) > 0:
            out[part, part] = block
    return out


def evaluable(space: Space, theta: Array) -> Array:
    """The nearest values that the model can be asked at: edges on whole weeks."""
    out = theta.copy()
    for i, s in enumerate(space.scalars):
        if s.scale == "weeks":
            out[i] = round(out[i])
    return out


def _held_back(space: Space, move: Array) -> Array:
    """No value moves by more than its prior's width at once, shares by no more than a factor e."""
    most = np.ones(space.size)
    n = len(space.scalars)
    most[:n] = [s.width if s.scale != "weeks" else s.width / 2.0 for s in space.scalars]
    return np.clip(move, -most, most)
