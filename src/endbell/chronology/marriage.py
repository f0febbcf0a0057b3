"""Assemblies that may be another amp's: both accounts of each, summed exactly. docs/model.md,
section 9.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from . import blocks
from .logs import log_of, log_product, log_sum
from .setting import Setting
from .time import Array, IntArray, on_weeks


@dataclass(frozen=True, eq=False)
class Marriage:
    """What an assembly adds: ln Lambda, ln Z by model, mu; all (M or 1, U or 1, size) or (M or
    1,).
    """

    log_lambda: Array
    log_z: Array
    mu: float

    def on(self, weeks: IntArray) -> Marriage:
        """The same on some weeks (Z stays that of the whole grid)."""
        return Marriage(on_weeks(self.log_lambda, weeks), self.log_z, self.mu)

    @cached_property
    def log_mix(self) -> Array:
        own = (
            np.log1p(-self.mu) + self.log_lambda
            if self.mu < 1
            else np.full_like(self.log_lambda, -np.inf)
        )
        other = (log_of(np.array(self.mu)) + self.log_z)[:, None, None]
        return np.logaddexp(own, other)

    @cached_property
    def log_mix_bound(self) -> Array:
        """ln of the mixture at its highest over models and stock ages, by block; (blocks,)."""
        by_model = blocks.highest(self.log_lambda.max(axis=1))
        own = by_model + (np.log1p(-self.mu) if self.mu < 1 else -np.inf)
        other = log_of(np.array(self.mu)) + self.log_z[:, None]
        return np.logaddexp(own, other).max(axis=0)

    @cached_property
    def belongs(self) -> Array:
        """P(the assembly belongs | model, week, stock age)."""
        return np.exp(np.log1p(-self.mu) + self.log_lambda - self.log_mix)


def marriage(values: Sequence[Array], setting: Setting, mu: float) -> Marriage:
    """The two accounts of an assembly from its units' values."""
    log_lambda = log_product(values)
    by_age = log_lambda.shape[1] > 1
    log = (donor_log(setting) if by_age else log_of(setting.era)[None, None, :]) + log_lambda
    log_z = np.array([log_sum(log[m]) for m in range(log.shape[0])])
    return Marriage(log_lambda, log_z, mu)


def donor_log(setting: Setting) -> Array:
    """ln donor(B') w_u', shape (1, U, size)."""
    return log_of(setting.era)[None, None, :] + log_of(setting.nodes[1])[None, :, None]
