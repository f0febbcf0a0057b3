"""Output power at the onset of clipping, from steps and from a ramp."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
import pytest
from scipy.optimize import brentq

from endbell.bench.audio import RecordingError, power_at, steps_of

from .made import Floats, clipped_sine_thd, converted, moments

RATE = 48000
TOP = 0.4  # where the amp clips, of full scale


def steps(levels_db: Floats, seconds: float = 0.5, top: float = TOP) -> Floats:
    t = moments(RATE, seconds)
    tone = np.sin(2 * pi * 997 * t)
    wave = np.concatenate([np.clip(top * 10 ** (g / 20) * tone, -top, top) for g in levels_db])
    hum = 1e-5 * np.sin(2 * pi * 100 * np.arange(wave.size) / RATE)
    return converted(wave + hum, 24)


def power_of(limit: float, volts: float, ohm: float) -> float:
    """By the definition, worked out on one period of a clipped sine."""
    peak = brentq(lambda p: clipped_sine_thd(p) - limit, 1.0001, 3.0)
    wave = np.clip(peak * np.sin(2 * pi * np.arange(1 << 15) / (1 << 15)), -1, 1)
    return (TOP * volts) ** 2 * float(np.mean(wave**2)) / ohm


@pytest.mark.parametrize("limit", [0.01, 0.05, 0.1])
@pytest.mark.parametrize("up", [True, False])
def test_power_at_a_distortion_is_found_from_steps_of_1_db_up_or_down(
    limit: float, up: bool
) -> None:
    levels = np.arange(-20.0, 5.0) if up else np.arange(-20.0, 5.0)[::-1]
    found = power_at(steps_of(steps(levels), RATE), limit, 8.0, 100.0)
    # 1 dB is 26 % of power; a straight line between two steps is good for a tenth of that
    assert found == pytest.approx(power_of(limit, 100.0, 8.0), rel=0.03)


@pytest.mark.parametrize("limit", [0.01, 0.05])
def test_a_ramp_tells_it_more_closely(limit: float) -> None:
    t = moments(RATE, 20.0)
    wave = np.clip(TOP * 10 ** ((-26 + 1.5 * t) / 20) * np.sin(2 * pi * 1000 * t), -TOP, TOP)
    found = power_at(steps_of(converted(wave, 24), RATE), limit, 8.0, 100.0)
    assert found == pytest.approx(power_of(limit, 100.0, 8.0), rel=0.01)


def test_silence_before_and_after_the_steps_does_not_matter() -> None:
    wave = steps(np.arange(-10.0, 4.0))
    quiet = np.random.default_rng(1).normal(size=RATE) * 1e-5
    longer = np.concatenate([quiet, wave, quiet])
    alone, within = (power_at(steps_of(w, RATE), 0.05, 8.0) for w in (wave, longer))
    assert within == pytest.approx(alone, rel=0.005)


def test_each_step_is_told_with_its_level_and_distortion() -> None:
    found = steps_of(steps(np.array([-20.0, -10.0, 3.0]), 1.0), RATE)
    assert len(found) == 3
    assert found[0].rms == pytest.approx(TOP * 0.1 / sqrt(2), rel=1e-3)
    assert found[2].thd == pytest.approx(clipped_sine_thd(10 ** (3 / 20)), rel=3e-3)


def test_an_amp_not_driven_into_clipping_is_said_with_what_it_gave() -> None:
    with pytest.raises(RecordingError, match="never reaches 5%: there is more than"):
        power_at(steps_of(steps(np.arange(-20.0, -3.0)), RATE), 0.05, 8.0)


def test_an_amp_that_distorts_at_every_level_is_said() -> None:
    with pytest.raises(RecordingError, match="above 1% at every level"):
        power_at(steps_of(steps(np.arange(1.0, 5.0)), RATE), 0.01, 8.0)


def test_noise_holds_no_steps() -> None:
    with pytest.raises(RecordingError):
        steps_of(np.random.default_rng(1).normal(size=RATE * 3) * 0.1, RATE)
