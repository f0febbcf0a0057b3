"""What can be learned, and the prior it is learned against: centred on the packs, widths as data.

Every parameter is measured from the packs' own value: 0 says what they say.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Scalar:
    """A number of its own.

    ``scale``: 'log' and 'logit' are the logarithm and the log odds of the value over the pack's,
    'weeks' a shift of an edge.  ``width``: standard deviation of the prior.  ``family``: parameters
    of one family are weighed against each other, those of two are held to be apart.
    """

    name: str
    scale: str
    pack: float
    width: float
    family: str

    def value(self, theta: float) -> float:
        """The value that a distance from the pack's stands for."""
        if self.scale == "log":
            return self.pack * exp(theta)
        if self.scale == "logit":
            return 1.0 / (1.0 + exp(-(log(self.pack / (1.0 - self.pack)) + theta)))
        return self.pack + theta


@dataclass(frozen=True, slots=True)
class Simplex:
    """Shares that sum to one: of suppliers, of what a digit is seen as.

    ``records``: how many records the pack's shares are worth; member ``base`` has no parameter, the
    others the logarithm of their odds against it, over the pack's.
    """

    name: str
    members: tuple[str, ...]
    pack: tuple[float, ...]
    records: float
    base: int
    family: str

    def shares(self, theta: Array) -> Array:
        """All members' shares, (len(members),); ``theta``: those of the members but the base."""
        full = np.insert(np.asarray(theta, dtype=np.float64), self.base, 0.0)
        weight = np.asarray(self.pack) * np.exp(full)
        return weight / weight.sum()


@dataclass(frozen=True)
class Space:
    """All parameters in a stated order: scalars first, then the free members of each simplex."""

    scalars: tuple[Scalar, ...]
    simplices: tuple[Simplex, ...]

    @property
    def size(self) -> int:
        """How many numbers are learned."""
        return len(self.scalars) + sum(len(s.members) - 1 for s in self.simplices)

    def place(self) -> Mapping[str, int]:
        """Where each scalar, and each simplex's first free member, stands."""
        out = {s.name: i for i, s in enumerate(self.scalars)}
        at = len(self.scalars)
        for s in self.simplices:
            out[s.name] = at
            at += len(s.members) - 1
        return out

    def families(self) -> list[Index]:
        """The places of each family's parameters."""
        found: dict[str, list[int]] = {}
        for i, s in enumerate(self.scalars):
            found.setdefault(s.family, []).append(i)
        for s, part in zip(self.simplices, self.slices(), strict=True):
            found.setdefault(s.family, []).extend(range(part.start, part.stop))
        return [np.array(places) for places in found.values()]

    def slices(self) -> list[slice]:
        """The places of each simplex's free members."""
        out: list[slice] = []
        at = len(self.scalars)
        for s in self.simplices:
            out.append(slice(at, at + len(s.members) - 1))
            at += len(s.members) - 1
        return out

    def log_prior(self, theta: Array) -> float:
        """ln of the prior density, up to a constant.  A simplex: Dirichlet with the pack's shares
        as its mean, as a density of the log odds, whose mode then is that mean.
        """
        out = 0.0
        for s, x in zip(self.scalars, theta.tolist(), strict=False):
            out -= 0.5 * (x / s.width) ** 2
        for s, part in zip(self.simplices, self.slices(), strict=True):
            shares = s.shares(theta[part])
            out += s.records * float(np.asarray(s.pack) @ np.log(np.maximum(shares, 1e-300)))
        return out

    def gradient(self, theta: Array) -> Array:
        """Of :meth:`log_prior`."""
        out = np.zeros(self.size)
        n = len(self.scalars)
        out[:n] = -theta[:n] / np.array([s.width**2 for s in self.scalars])
        for s, part in zip(self.simplices, self.slices(), strict=True):
            gap = s.records * (np.asarray(s.pack) - s.shares(theta[part]))
            out[part] = np.delete(gap, s.base)
        return out

    def precision(self, theta: Array) -> Array:
        """Minus the second derivative of :meth:`log_prior`, (size, size)."""
        out = np.zeros((self.size, self.size))
        n = len(self.scalars)
        out[range(n), range(n)] = [s.width**-2 for s in self.scalars]
        for s, part in zip(self.simplices, self.slices(), strict=True):
            q = np.delete(s.shares(theta[part]), s.base)
            out[part, part] = s.records * (np.diag(q) - np.outer(q, q))
        return out

    def far(self, move: Array) -> float:
        """The longest move, in widths of the priors."""
        n = len(self.scalars)
        most = [abs(x) / s.width for s, x in zip(self.scalars, move[:n].tolist(), strict=True)]
        for s, part in zip(self.simplices, self.slices(), strict=True):
            shares = np.asarray(s.pack)
            gap = np.abs(s.shares(move[part]) - shares)
            most.append(float((gap / np.sqrt(shares * (1 - shares) / (s.records + 1))).max()))
        return max(most, default=0.0)

    def draw(self, random: np.random.Generator) -> Array:
        """A truth drawn from the prior."""
        out = [random.normal(0.0, s.width) for s in self.scalars]
        for s in self.simplices:
            shares = np.maximum(random.dirichlet(s.records * np.asarray(s.pack)), 1e-12)
            ratio = np.log(shares / np.asarray(s.pack))
            out.extend(np.delete(ratio - ratio[s.base], s.base).tolist())
        return np.array(out)


def joined(spaces: Sequence[Space]) -> Space:
    """The parameters of all, each once."""
    scalars = {s.name: s for space in spaces for s in space.scalars}
    simplices = {s.name: s for space in spaces for s in space.simplices}
    return Space(tuple(scalars.values()), tuple(simplices.values()))
