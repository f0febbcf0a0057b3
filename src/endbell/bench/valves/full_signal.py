"""What a stage gives at full drive: the valve run along its load line for one cycle of a sine.

The plate works into a transformer, so its average voltage stays at the supply; the load is a
resistance.  Two valves in push-pull share it: with v the swing at one plate and R the load from
plate to plate, ``v = R/4 (i1 - i2)``, because each valve drives half the turns.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .koren import Valve, flow
from .roots import crossing

Floats = NDArray[np.float64]

_STEPS = 256  # of one cycle; the highest harmonic kept is far below half of it
_SETTLING = 25  # rounds for the average current, each halving what is left


@dataclass(frozen=True, slots=True)
class Driven:
    """A stage at full drive: power in the load (W), harmonic distortion (ratio of all harmonics to
    the fundamental), average plate and screen current of all its valves (A)."""

    watt: float
    thd: float
    plate_amp: float
    screen_amp: float


def driven(
    valve: Valve,
    plate: float,
    grid: float,
    load_ohm: float,
    screen: float = 0.0,
    push_pull: bool = False,
) -> Driven:
    """Drive the grid from its bias up to 0 V and as far down; voltages (V) against the cathode."""
    angle = 2.0 * np.pi * np.arange(_STEPS) / _STEPS
    bias = grid - grid * np.cos(angle)
    screens = np.full(_STEPS, screen)
    if push_pull:
        swing = _push_pull(valve, plate, bias, 2.0 * grid - bias, load_ohm, screens)
        one = flow(valve, plate - swing, bias, screens)
        two = flow(valve, plate + swing, 2.0 * grid - bias, screens)
        across, ohm = 2.0 * swing, load_ohm
        total = one.plate + two.plate, one.screen + two.screen
    else:
        # the transformer passes no DC: the load line turns about the average current under drive
        mean = float(flow(valve, plate, grid, screen).plate)
        swing = _single(valve, plate, bias, mean, load_ohm, screens)
        for _round in range(_SETTLING):
            one = flow(valve, plate - swing, bias, screens)
            mean += 0.5 * (float(np.mean(one.plate)) - mean)
            swing = _single(valve, plate, bias, mean, load_ohm, screens)
        one = flow(valve, plate - swing, bias, screens)
        across, ohm = swing, load_ohm
        total = one.plate, one.screen
    lines = np.abs(np.fft.rfft(across)) * 2.0 / _STEPS
    harmonics = float(np.sqrt(np.sum(lines[2:30] ** 2)))
    return Driven(
        float(np.mean((across - np.mean(across)) ** 2)) / ohm,
        harmonics / float(lines[1]),
        float(np.mean(total[0])),
        float(np.mean(total[1])),
    )


def _single(
    valve: Valve, plate: float, grid: Floats, mean: float, ohm: float, screen: Floats
) -> Floats:
    def excess(swing: Floats) -> tuple[Floats, Floats]:
        at = flow(valve, plate - swing, grid, screen)
        return swing - ohm * (at.plate - mean), 1.0 + ohm * at.gp

    return crossing(excess, np.full(_STEPS, -ohm * mean), np.full(_STEPS, plate))


def _push_pull(
    valve: Valve, plate: float, one: Floats, two: Floats, ohm: float, screen: Floats
) -> Floats:
    share = ohm / 4.0

    def excess(swing: Floats) -> tuple[Floats, Floats]:
        up = flow(valve, plate - swing, one, screen)
        down = flow(valve, plate + swing, two, screen)
        return swing - share * (up.plate - down.plate), 1.0 + share * (up.gp + down.gp)

    return crossing(excess, np.full(_STEPS, -plate), np.full(_STEPS, plate))
