"""The worlds that dossiers are drawn from while the engine goes on weighing with the packs' values.

One is as stated; the others are wrong in one way each: what a shop would meet whose amps are not
what the packs say.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from zlib import crc32

import numpy as np

AS_STATED = "as-stated"
HIGHEST_RATE = 0.98
"""Rates that would be doubled beyond it stop there: a probability has to stay one."""


@dataclass(frozen=True, slots=True)
class Change:
    """Assumptions whose names begin and end so, times ``factor``, and no more than ``most``."""

    begins: str
    ends: str
    factor: float
    most: float = float("inf")

    def applied(self, assume: Mapping[str, float]) -> dict[str, float]:
        return {
            name: min(value * self.factor, max(self.most, value))
            if name.startswith(self.begins) and name.endswith(self.ends)
            else value
            for name, value in assume.items()
        }

    @property
    def words(self) -> str:
        return f"`{self.begins}*{self.ends}` × {self.factor:g}"


@dataclass(frozen=True, slots=True)
class Mend:
    """A change of what the engine assumes that ought to set things right, and how to say it."""

    words: str
    changes: tuple[Change, ...]

    def applied(self, assume: Mapping[str, float]) -> dict[str, float]:
        out = dict(assume)
        for change in self.changes:
            out = change.applied(out)
        return out


@dataclass(frozen=True, slots=True)
class Scenario:
    """``changes``: to the assumptions dossiers are drawn with; ``twist``: other ways in which the
    world departs, by name; ``floor``: the least its 95% sets should hold (None: what they say);
    ``mends``: assumptions that ought to mend it, tried where it falls short.
    """

    id: str
    title: str
    words: str
    changes: tuple[Change, ...] = ()
    twist: Mapping[str, float | bool] = field(default_factory=dict[str, "float | bool"])
    floor: float | None = None
    mends: tuple[Mend, ...] = ()

    def drawn_with(self, assume: Mapping[str, float]) -> dict[str, float]:
        """The assumptions of this world."""
        return Mend("", self.changes).applied(assume)


def _lags(factor: float) -> Change:
    return Change("lag.", ".median_weeks", factor)


def _rates(factor: float) -> Change:
    return Change("replaced.", ".probability", factor, HIGHEST_RATE)


_OLD_STOCK = Mend(
    "more old stock and a wider spread of lags within an amp: "
    "`lag.*.old_stock_weight` × 3, `lag.*.sigma` × 1.5",
    (Change("lag.", ".old_stock_weight", 3.0, 0.5), Change("lag.", ".sigma", 1.5)),
)
_WIDER_AGE = Mend(
    "more room for all lags of an amp together: `stock_age.sigma` × 2",
    (Change("stock_age.sigma", "", 2.0),),
)
_UNLISTED = Mend(
    "more originals from suppliers that no list has: `source.unlisted` × 6",
    (Change("source.unlisted", "", 6.0, 0.9),),
)

SCENARIOS: tuple[Scenario, ...] = (
    Scenario(AS_STATED, "as stated", "dossiers drawn with the very values they are weighed with"),
    Scenario(
        "lags-half",
        "lags × 0.5",
        "parts lay about half as long: `lag.*.median_weeks` × 0.5",
        (_lags(0.5),),
        floor=0.90,
        mends=(Mend(_lags(0.5).words, (_lags(0.5),)), _WIDER_AGE),
    ),
    Scenario(
        "lags-double",
        "lags × 2",
        "parts lay about twice as long: `lag.*.median_weeks` × 2",
        (_lags(2.0),),
        floor=0.78,
        mends=(Mend(_lags(2.0).words, (_lags(2.0),)), _WIDER_AGE),
    ),
    Scenario(
        "rates-half",
        "replacement rates × 0.5",
        "half as many parts were replaced: `replaced.*.probability` × 0.5",
        (_rates(0.5),),
        floor=0.85,
        mends=(Mend(_rates(0.5).words, (_rates(0.5),)),),
    ),
    Scenario(
        "rates-double",
        "replacement rates × 2",
        f"twice as many parts were replaced: `replaced.*.probability` × 2, at most {HIGHEST_RATE}",
        (_rates(2.0),),
        floor=0.85,
        mends=(Mend(_rates(2.0).words, (_rates(2.0),)),),
    ),
    Scenario(
        "heavy-tails",
        "heavier tails",
        "lags have heavier tails than the log-normal with its old stock",
        twist={"heavy_tails": True},
        floor=0.85,
        mends=(_OLD_STOCK, _WIDER_AGE),
    ),
    Scenario(
        "wrong-suppliers",
        "wrong list of suppliers",
        "originals came from other suppliers, at other times, than the packs list",
        twist={"wrong_suppliers": True},
        floor=0.85,
        mends=(_UNLISTED,),
    ),
    Scenario(
        "wrong-marks",
        "5% of marks wrong",
        "one mark in twenty is simply wrong",
        twist={"wrong_marks": 0.05},
        floor=0.85,
        mends=(
            Mend(_rates(2.0).words + ": a wrong mark looks like a later part", (_rates(2.0),)),
            _OLD_STOCK,
        ),
    ),
)

BY_ID: Mapping[str, Scenario] = {scenario.id: scenario for scenario in SCENARIOS}


def stream(seed: int, *names: str) -> int:
    """A seed of its own for each world and pack, from the one that was given.

    >>> stream(1, "", "lags-half") != stream(1, "brackwater", "lags-half")
    True
    """
    words = [crc32(name.encode()) for name in names]
    return int(np.random.SeedSequence([seed, *words]).generate_state(1, np.uint64)[0] >> 1)
