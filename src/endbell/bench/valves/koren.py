"""What a valve conducts at given electrode voltages, by the equations of Koren (1996).

N. L. Koren, 'Improved Vacuum-Tube Models for SPICE Simulations', Glass Audio 8 (5-6), 1996.

Triode:  E1 = (Vp/kp) ln(1 + exp(kp (1/mu + Vg/sqrt(kvb + Vp^2)))),  Ip = 2 E1^ex / kg1.
Pentode: E1 = (Vs/kp) ln(1 + exp(kp (1/mu + Vg/Vs))),  Ip = 2 E1^ex / kg1 * atan(Vp/kvb),
         Is = max(Vg + Vs/mu, 0)^1.5 / kg2.  The author's later SPICE form, which all later fits
         by other hands use, raises to ``ex`` instead of 1.5: ``screen_ex``.

Both E1 have the shape ``t ln(1 + exp(b/t))``; written as ``max(b, 0) + t ln(1 + exp(-|b|/t))``
it neither overflows nor loses digits however far the valve is cut off.  Voltages are against the
cathode, in V; currents in A.  No grid current: the equations hold for a grid that is not positive.
Some later fits add a contact potential ``vct`` (V) to the grid voltage; the author's own do not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

# Below this an electrode draws nothing; it keeps the divisions below finite.
_NO_VOLTS = 1e-9
# Beyond this no valve goes; a slip of the finger must not overflow the powers below.
_ALL_VOLTS = 1e9


@dataclass(frozen=True, slots=True)
class Triode:
    """Parameters of a triode; each a number or an array that broadcasts with the voltages."""

    mu: float | Floats
    ex: float | Floats
    kg1: float | Floats
    kp: float | Floats
    kvb: float | Floats  # V^2
    vct: float | Floats = 0.0


@dataclass(frozen=True, slots=True)
class Pentode:
    """Parameters of a pentode, beam tetrode or tetrode; ``mu`` is grid 1 against the screen."""

    mu: float | Floats
    ex: float | Floats
    kg1: float | Floats
    kg2: float | Floats
    kp: float | Floats
    kvb: float | Floats  # V
    vct: float | Floats = 0.0
    screen_ex: float | Floats = 1.5


Valve = Triode | Pentode


@dataclass(frozen=True, slots=True)
class Flow:
    """Currents (A) and their derivatives (A/V), each of the broadcast shape of the voltages.

    ``gm``: plate current by grid; ``gp``: by plate (1/rp); ``gs``: by screen.  ``screen_gm``,
    ``screen_gs``: the screen current by grid and by screen.  For a triode all of the screen is 0.
    """

    plate: Floats
    screen: Floats
    gm: Floats
    gp: Floats
    gs: Floats
    screen_gm: Floats
    screen_gs: Floats

    @property
    def rp(self) -> Floats:
        """Plate resistance in ohm; infinite where the valve is cut off."""
        with np.errstate(divide="ignore"):
            return np.asarray(1.0 / self.gp)

    @property
    def mu(self) -> Floats:
        """Amplification factor gm rp; 0 where the valve is cut off (0/0)."""
        return np.divide(self.gm, self.gp, out=np.zeros_like(self.gp), where=self.gp > 0.0)


def flow(valve: Valve, plate: ArrayLike, grid: ArrayLike, screen: ArrayLike | None = None) -> Flow:
    """Currents and derivatives of ``valve`` at voltages (V) against its cathode.

    ``screen`` is needed for a pentode and unused for a triode; :class:`ValueError` where it is
    missing.
    """
    vp, vg = _volts(plate), _volts(grid) + valve.vct
    if isinstance(valve, Triode):
        return _triode(valve, vp, vg)
    if screen is None:
        raise ValueError("a pentode conducts by its screen: its voltage is needed")
    return _pentode(valve, vp, vg, _volts(screen))


def _volts(typed: ArrayLike) -> Floats:
    return np.clip(np.asarray(typed, float), -_ALL_VOLTS, _ALL_VOLTS)


def plate_current(
    valve: Valve, plate: ArrayLike, grid: ArrayLike, screen: ArrayLike | None = None
) -> Floats:
    """Plate current in A, never negative."""
    return flow(valve, plate, grid, screen).plate


def screen_current(valve: Pentode, grid: ArrayLike, screen: ArrayLike) -> Floats:
    """Screen current in A: by the equation it does not depend on the plate."""
    vs = _volts(screen)
    drive = _volts(grid) + valve.vct + vs / valve.mu
    conducts = vs > _NO_VOLTS
    return np.where(conducts, np.maximum(drive, 0.0) ** valve.screen_ex, 0.0) / valve.kg2


def _soft(b: Floats, t: Floats) -> tuple[Floats, Floats]:
    """``t ln(1 + exp(b/t))`` and ``1/(1 + exp(-b/t))`` for t > 0."""
    with np.errstate(over="ignore", under="ignore"):
        small = np.exp(-np.abs(b) / t)
        return (
            np.maximum(b, 0.0) + t * np.log1p(small),
            np.where(b >= 0.0, 1.0, small) / (1.0 + small),
        )


def _power(e1: Floats, ex: float | Floats, kg1: float | Floats) -> tuple[Floats, Floats]:
    """``2 e1^ex / kg1`` and its derivative by e1."""
    with np.errstate(under="ignore"):
        return 2.0 * e1**ex / kg1, 2.0 * ex * e1 ** (np.asarray(ex) - 1.0) / kg1


def _triode(valve: Triode, plate: Floats, grid: Floats) -> Flow:
    vp, vg = np.broadcast_arrays(plate, grid)
    conducts = vp > _NO_VOLTS
    vp = np.where(conducts, vp, _NO_VOLTS)
    # hypot: the square of an absurd voltage must not overflow
    root = np.hypot(vp, np.sqrt(valve.kvb))
    t = vp / valve.kp
    share = vp / root
    e1, bend = _soft(np.asarray(vp / valve.mu + vg * share), np.asarray(t))
    current, slope = _power(e1, valve.ex, valve.kg1)
    by_grid = bend * share
    # d E1/d Vp = E1/Vp + Vp d/dVp(Vg/root) bend; the second term is the grid's waning reach
    by_plate = np.maximum(e1 / vp - bend * vg / root * share**2, 0.0)
    zero = np.zeros(np.shape(current))
    return Flow(
        np.where(conducts, current, 0.0),
        zero,
        np.where(conducts, slope * by_grid, 0.0),
        np.where(conducts, slope * by_plate, 0.0),
        zero,
        zero,
        zero,
    )


def _pentode(valve: Pentode, plate: Floats, grid: Floats, screen: Floats) -> Flow:
    vp, vg, vs = np.broadcast_arrays(plate, grid, screen)
    conducts = (vs > _NO_VOLTS) & (vp > 0.0)
    vs_in = np.where(vs > _NO_VOLTS, vs, _NO_VOLTS)
    vp_in = np.maximum(vp, 0.0)
    e1, bend = _soft(np.asarray(vs_in / valve.mu + vg), np.asarray(vs_in / valve.kp))
    current, slope = _power(e1, valve.ex, valve.kg1)
    knee = np.arctan(vp_in / valve.kvb)
    # d knee/d Vp = kvb/(kvb^2 + Vp^2), in a form that cannot overflow
    by_plate = 1.0 / (valve.kvb * np.hypot(1.0, vp_in / valve.kvb) ** 2)
    by_screen = np.maximum((e1 - bend * vg) / vs_in, 0.0)
    drive = np.maximum(vg + vs_in / valve.mu, 0.0)
    draws = vs > _NO_VOLTS
    slow = np.asarray(valve.screen_ex) - 1.0
    screen_gm = np.where(draws, valve.screen_ex * drive**slow, 0.0) / valve.kg2
    return Flow(
        np.where(conducts, current * knee, 0.0),
        np.asarray(np.where(draws, drive**valve.screen_ex, 0.0) / valve.kg2),
        np.where(conducts, slope * bend * knee, 0.0),
        np.where(conducts, current * by_plate, 0.0),
        np.where(conducts, slope * by_screen * knee, 0.0),
        np.asarray(screen_gm),
        np.asarray(screen_gm / valve.mu),
    )
