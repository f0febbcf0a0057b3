"""What was learned, value by value: the packs' own, the new one, its 90% interval, its records."""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from .fit import Estimate, data_information
from .parameters import Scalar, Simplex, Space

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Learned:
    """One value.  ``scale``: as the parameter's, 'share' for a member of a set of shares.

    ``low``, ``high``: the 90% interval; an edge is in weeks from the pack's day.  ``records``: the
    expected number of records behind it.  ``moved``: how far it went, in widths of its prior.
    """

    name: str
    scale: str
    pack: float
    value: float
    low: float
    high: float
    records: float
    moved: float


def learned(space: Space, found: Estimate) -> list[Learned]:
    """Every value, in the order of the parameters; all members of each set of shares."""
    low, high = found.interval()
    records = found.last.sums.records
    out: list[Learned] = []
    for i, s in enumerate(space.scalars):
        x, a, b = float(found.theta[i]), float(low[i]), float(high[i])
        if s.scale == "logit":
            a, b = _skewed(s, x, float(found.sd[i]))
        out.append(
            Learned(
                s.name,
                s.scale,
                s.pack,
                s.value(x),
                s.value(a),
                s.value(b),
                float(records[i]),
                x / s.width,
            )
        )
    own = data_information(space, found.last)
    for s, part in zip(space.simplices, space.slices(), strict=True):
        out.extend(_shares(s, found.theta[part], own[part, part], records[part]))
    return out


def _skewed(s: Scalar, x: float, sd: float) -> tuple[float, float]:
    """The 5% and 95% points of log odds whose likelihood is that of k cases among n.

    n and k are those that have the data's information, and its slope, at the mode.  With few cases
    the likelihood reaches far down: there a normal curve would put the rate too high.
    """
    p = s.value(x)
    n = max(sd**-2 - s.width**-2, 0.0) / (p * (1.0 - p))
    k = min(max(n * p + x / s.width**2, 0.0), n)
    at = x + sd * np.linspace(-10.0, 8.0, 1801)
    odds = log(s.pack / (1.0 - s.pack)) + at
    height = k * odds - n * np.logaddexp(0.0, odds) - 0.5 * (at / s.width) ** 2
    below = np.cumsum(np.exp(height - height.max()))
    low, high = np.interp([0.05, 0.95], below / below[-1], at)
    return float(low), float(high)


def _shares(s: Simplex, theta: Array, information: Array, records: Array) -> list[Learned]:
    """Intervals of the Beta distribution: as many records as the pack's shares are worth, and as
    many as the information in the data comes to.
    """
    from scipy.special import betaincinv

    q = s.shares(theta)
    base = float(information.sum())
    own = np.insert(np.diag(information), s.base, base)
    spread = np.maximum(q * (1.0 - q), 1e-300)
    seen = float(records[0]) if records.size else 0.0
    counted = np.clip(own / spread, 0.0, seen)
    out: list[Learned] = []
    for j, (name, pack) in enumerate(zip(s.members, s.pack, strict=True)):
        n = s.records + float(counted[j])
        a, b = n * q[j], n * (1.0 - q[j])
        width = np.sqrt(pack * (1.0 - pack) / (s.records + 1.0))
        out.append(
            Learned(
                f"{s.name}.{name}",
                "share",
                pack,
                float(q[j]),
                float(betaincinv(a, b, 0.05)),
                float(betaincinv(a, b, 0.95)),
                seen,
                float((q[j] - pack) / width),
            )
        )
    return out
