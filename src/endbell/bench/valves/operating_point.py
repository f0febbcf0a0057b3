"""Where a valve settles between its supply, its load and its bias.

The valve is one curve (:mod:`.koren`), the parts round it another; they cross once, because more
current always leaves the valve less voltage.  Everything broadcasts: give arrays for the parts or
for the valve's parameters and as many stages are solved at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .koren import Pentode, Triode, Valve, flow
from .roots import crossing

Floats = NDArray[np.float64]
Number = float | Floats


@dataclass(frozen=True, slots=True)
class Wiring:
    """What is round one valve; V and ohm, against chassis.

    ``supply``: the rail behind the plate load; ``load_ohm``: the load's DC resistance (a plate
    resistor, or half the primary of an output transformer).  ``cathode_ohm``: the resistor the
    bias drops across; ``tail_ohm``: one below it that the grid is returned to the top of (a phase
    inverter's tail).  ``sharing``: how many like valves draw through both.  ``grid``: voltage the
    grid is returned to, negative for fixed bias.  ``screen_supply``, ``screen_ohm``: the rail and
    resistor of the screen, ``screen_sharing``: how many like screens draw through it.
    """

    supply: Number
    load_ohm: Number = 0.0
    cathode_ohm: Number = 0.0
    tail_ohm: Number = 0.0
    sharing: Number = 1.0
    grid: Number = 0.0
    screen_supply: Number = 0.0
    screen_ohm: Number = 0.0
    screen_sharing: Number = 1.0


@dataclass(frozen=True, slots=True)
class Point:
    """Where one valve settled: currents in A, electrodes in V against chassis."""

    plate_amp: Floats
    screen_amp: Floats
    plate: Floats
    screen: Floats
    cathode: Floats
    grid: Floats

    @property
    def plate_watt(self) -> Floats:
        """What the plate turns into heat."""
        return np.asarray(self.plate_amp * (self.plate - self.cathode))

    @property
    def screen_watt(self) -> Floats:
        """What the screen turns into heat."""
        return np.asarray(self.screen_amp * (self.screen - self.cathode))


class NoWiring(ValueError):
    """The parts cannot be what was said: a negative resistor, a supply that is no number."""


def settle(valve: Valve, wiring: Wiring) -> Point:
    """The operating point of ``valve`` in ``wiring``; :class:`NoWiring` for impossible parts.

    >>> from .models import model
    >>> at = settle(model("12AX7").valve, Wiring(300.0, 100e3, 1500.0))
    >>> f"{at.plate:.0f} V, {at.cathode:.2f} V, {1e3 * at.plate_amp:.2f} mA"
    '196 V, 1.56 V, 1.04 mA'
    """
    _check(wiring)
    if not isinstance(valve, Pentode):
        return _triode(valve, wiring)
    below = np.asarray(wiring.cathode_ohm, float) + wiring.tail_ohm
    if not np.any(below):
        plate, screen = _by_cathode(valve, wiring, np.asarray(0.0))[:2]
        return _point(wiring, plate, screen, np.zeros(np.shape(plate)))
    cathode_top = np.maximum(np.maximum(wiring.supply, wiring.screen_supply), 0.0)
    shape = np.broadcast_shapes(*(np.shape(v) for v in _numbers(valve, wiring)))
    total = np.asarray(below * wiring.sharing)

    def excess(volts: Floats) -> tuple[Floats, Floats]:
        plate, screen, slope = _by_cathode(valve, wiring, volts)
        return volts - total * (plate + screen), 1.0 - total * slope

    high = np.broadcast_to(cathode_top, shape)
    cathode = crossing(excess, np.zeros(shape), high)
    plate, screen, _slope = _by_cathode(valve, wiring, cathode)
    return _point(wiring, plate, screen, cathode)


def _triode(valve: Triode, wiring: Wiring) -> Point:
    """A triode has one current: it lifts the cathode and pulls down the plate at once."""
    below = np.asarray(wiring.cathode_ohm, float) + wiring.tail_ohm
    total = np.asarray(below * wiring.sharing)
    load = np.asarray(wiring.load_ohm, float)

    def excess(amp: Floats) -> tuple[Floats, Floats]:
        cathode = total * amp
        bias, by_cathode = _bias(wiring, cathode)
        at = flow(valve, wiring.supply - load * amp - cathode, bias)
        return amp - at.plate, 1.0 + (load + total) * at.gp - total * by_cathode * at.gm

    shape = np.broadcast_shapes(*(np.shape(v) for v in _numbers(valve, wiring)))
    none = np.zeros(shape)
    most = np.broadcast_to(flow(valve, wiring.supply, _bias(wiring, none)[0]).plate, shape)
    plate = crossing(excess, none, most) if np.any(load + total) else most
    return _point(wiring, plate, np.zeros(shape), total * plate)


def _by_cathode(valve: Pentode, wiring: Wiring, cathode: Floats) -> tuple[Floats, Floats, Floats]:
    """Plate and screen current with the cathode held at a voltage, and how their sum changes
    with it (A/V, negative)."""
    bias, by_cathode = _bias(wiring, cathode)
    screen, screen_volts, screen_slope, volts_slope = _screen(
        valve, wiring, cathode, bias, by_cathode
    )
    load = np.asarray(wiring.load_ohm, float)
    room = np.maximum(np.asarray(wiring.supply - cathode), 0.0)

    def excess(amp: Floats) -> tuple[Floats, Floats]:
        at = flow(valve, room - load * amp, bias, screen_volts)
        return amp - at.plate, 1.0 + load * at.gp

    if np.any(load):
        most = flow(valve, room, bias, screen_volts).plate
        plate = crossing(excess, np.zeros_like(most), most)
    else:
        plate = flow(valve, room, bias, screen_volts).plate
    at = flow(valve, room - load * plate, bias, screen_volts)
    slope = (at.gm * by_cathode - at.gp + at.gs * volts_slope) / (1.0 + load * at.gp)
    return plate, screen, np.asarray(slope + screen_slope)


def _screen(
    valve: Pentode, wiring: Wiring, cathode: Floats, bias: Floats, by_cathode: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Screen current, its voltage against the cathode, and the slopes of both by the cathode's."""
    ohm = np.asarray(wiring.screen_ohm * np.asarray(wiring.screen_sharing, float))
    room = np.asarray(wiring.screen_supply - cathode, float)

    def excess(amp: Floats) -> tuple[Floats, Floats]:
        at = flow(valve, 1.0, bias, room - ohm * amp)
        return amp - at.screen, 1.0 + ohm * at.screen_gs

    most = flow(valve, 1.0, bias, room).screen
    amp = crossing(excess, np.zeros_like(most), most) if np.any(ohm) else most
    volts = np.asarray(room - ohm * amp)
    at = flow(valve, 1.0, bias, volts)
    slope = (at.screen_gm * by_cathode - at.screen_gs) / (1.0 + ohm * at.screen_gs)
    return amp, volts, np.asarray(slope), np.asarray(-1.0 - ohm * slope)


def _bias(wiring: Wiring, cathode: Floats) -> tuple[Floats, Floats]:
    """Grid against cathode, and its slope by the cathode's voltage: a grid returned to the top of
    a tail rides up with the tail's share of it."""
    below = np.asarray(wiring.cathode_ohm, float) + wiring.tail_ohm
    tail = np.divide(wiring.tail_ohm, below, out=np.zeros(np.shape(below)), where=below > 0.0)
    return np.asarray(wiring.grid - cathode * (1.0 - tail)), np.asarray(tail - 1.0)


def _point(wiring: Wiring, plate: Floats, screen: Floats, cathode: Floats) -> Point:
    plate, screen, cathode = np.broadcast_arrays(plate, screen, cathode)
    ohm = np.asarray(wiring.screen_ohm * np.asarray(wiring.screen_sharing, float))
    return Point(
        plate,
        screen,
        np.asarray(wiring.supply - wiring.load_ohm * plate),
        np.asarray(wiring.screen_supply - ohm * screen),
        cathode,
        np.asarray(_bias(wiring, cathode)[0] + cathode),
    )


def _numbers(valve: Valve, wiring: Wiring) -> tuple[Number, ...]:
    parts = (
        wiring.supply,
        wiring.load_ohm,
        wiring.cathode_ohm,
        wiring.tail_ohm,
        wiring.sharing,
        wiring.grid,
        wiring.screen_supply,
        wiring.screen_ohm,
        wiring.screen_sharing,
    )
    own = (valve.mu, valve.ex, valve.kg1, valve.kp, valve.kvb, valve.vct)
    more = (valve.kg2, valve.screen_ex) if isinstance(valve, Pentode) else ()
    return (*parts, *own, *more)


def _check(wiring: Wiring) -> None:
    for name in ("load_ohm", "cathode_ohm", "tail_ohm", "screen_ohm"):
        if not np.all(np.asarray(getattr(wiring, name)) >= 0.0):
            raise NoWiring(f"{name} is {getattr(wiring, name)}: a resistance is 0 ohm or more")
    for name in ("supply", "grid", "screen_supply"):
        if not np.all(np.isfinite(getattr(wiring, name))):
            raise NoWiring(f"{name} is {getattr(wiring, name)}: a number of volts is needed")
    for name in ("sharing", "screen_sharing"):
        if not np.all(np.asarray(getattr(wiring, name)) > 0.0):
            raise NoWiring(f"{name} is {getattr(wiring, name)}: at least one valve draws")
