"""How far an operating point may lie from its nominal value before anything is wrong.

Each part's tolerance becomes a standard deviation (a value is as likely anywhere within it: divide
by the square root of 3, GUM 4.3.7), the valve's own spread comes from ``data/valves/spreads.csv``
(common practice, no source), and the sensitivities carry them to every voltage and current.  A
Monte Carlo run with the true distributions checks the linear result.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from .koren import Pentode, Valve
from .operating_point import Point, Wiring, settle
from .tables import rows

Floats = NDArray[np.float64]

# Parts of a Wiring that can be off, and the two ways in which a valve can
PARTS = (
    "supply",
    "load_ohm",
    "cathode_ohm",
    "tail_ohm",
    "grid",
    "screen_supply",
    "screen_ohm",
)
VALVE = ("emission", "mu")
FIGURES = ("plate_amp", "screen_amp", "plate", "screen", "cathode", "plate_watt", "screen_watt")


@dataclass(frozen=True, slots=True)
class Assumed:
    """A spread that is assumed, with where it is from."""

    value: float
    note: str
    source: str
    confidence: str


@cache
def assumed() -> dict[str, Assumed]:
    """The assumed spreads and shares by id, from ``data/valves/spreads.csv``."""
    return {
        row["id"]: Assumed(float(row["value"]), row["note"], row["source"], row["confidence"])
        for row in rows("spreads")
    }


def even(tolerance: float) -> float:
    """Standard deviation of a value that is equally likely anywhere within ± ``tolerance``."""
    return tolerance / sqrt(3.0)


@dataclass(frozen=True, slots=True)
class Spreads:
    """One standard deviation of each figure of a :class:`Point`; ``shares``: what each part and
    the valve contribute to it, in the figure's unit (their squares add up)."""

    nominal: Point
    sd: Mapping[str, float]
    shares: Mapping[str, Mapping[str, float]]


def linear(
    valve: Valve, wiring: Wiring, sd: Mapping[str, float], valve_sd: Mapping[str, float]
) -> Spreads:
    """Spread by sensitivities. ``sd``: absolute, by field of :class:`Wiring`; ``valve_sd``: of
    ln(current at given voltages) as 'emission' and of ln(mu) as 'mu'."""
    names = [name for name in (*sd, *valve_sd) if {**sd, **valve_sd}[name] > 0.0]
    count = len(names)
    moved: dict[str, Floats] = {}
    step = 0.05  # of a standard deviation: small enough to be a tangent, large enough for digits
    for n, name in enumerate(names):
        change = np.zeros(2 * count + 1)
        change[2 * n], change[2 * n + 1] = step, -step
        moved[name] = change * {**sd, **valve_sd}[name]
    at = settle(*_moved(valve, wiring, moved))
    nominal = _last(at)
    shares: dict[str, dict[str, float]] = {}
    for figure in FIGURES:
        values = np.broadcast_to(getattr(at, figure), (2 * count + 1,))
        shares[figure] = {
            name: abs(float(values[2 * n] - values[2 * n + 1])) / (2.0 * step)
            for n, name in enumerate(names)
        }
    total = {f: sqrt(sum(v * v for v in shares[f].values())) for f in FIGURES}
    return Spreads(nominal, total, shares)


def monte_carlo(
    valve: Valve,
    wiring: Wiring,
    tolerance: Mapping[str, float],
    valve_sd: Mapping[str, float],
    draws: int,
    random: np.random.Generator,
) -> Mapping[str, Floats]:
    """The same by drawing: parts even within ± ``tolerance`` (absolute), the valve normal in ln.
    Every figure, shape (draws,)."""
    moved = {name: random.uniform(-tol, tol, draws) for name, tol in tolerance.items()}
    moved |= {name: random.normal(0.0, sd, draws) for name, sd in valve_sd.items()}
    at = settle(*_moved(valve, wiring, moved))
    return {f: np.broadcast_to(np.asarray(getattr(at, f)), (draws,)) for f in FIGURES}


def _moved(valve: Valve, wiring: Wiring, moved: Mapping[str, Floats]) -> tuple[Valve, Wiring]:
    parts = {n: getattr(wiring, n) + change for n, change in moved.items() if n in PARTS}
    emission = np.exp(moved.get("emission", np.zeros(1)))
    mu = np.exp(moved.get("mu", np.zeros(1)))
    if not parts and emission.size == mu.size == 1:
        return valve, wiring
    changed = {"kg1": valve.kg1 / emission, "mu": valve.mu * mu}
    if isinstance(valve, Pentode):
        return replace(valve, **changed, kg2=valve.kg2 / emission), replace(wiring, **parts)
    return replace(valve, **changed), replace(wiring, **parts)


def _last(at: Point) -> Point:
    def end(values: Floats) -> Floats:
        return np.asarray(values.reshape(-1)[-1])

    return Point(
        end(at.plate_amp),
        end(at.screen_amp),
        end(at.plate),
        end(at.screen),
        end(at.cathode),
        end(at.grid),
    )
