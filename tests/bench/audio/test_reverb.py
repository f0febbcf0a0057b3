"""A reverb's decay by 60 dB, and when there is too little of it to tell."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from endbell.bench.audio import RecordingError, measure_decay
from endbell.bench.audio.reverb import decay_of

from .made import Floats, converted, moments


def tail(seconds: float, rate: int, noise: float, length: float = 9.0) -> Floats:
    t = moments(rate, length)
    rng = np.random.default_rng(3)
    wave = (
        0.2
        * rng.normal(size=t.size).clip(-3, 3)
        * np.exp(-np.maximum(t - 0.4, 0) / decay_of(seconds))
    )
    wave[t < 0.4] = 0.0
    return converted(wave + noise * rng.normal(size=t.size) + 0.01, 24)


@pytest.mark.parametrize("rate", [44100, 96000])
@pytest.mark.parametrize("seconds", [0.7, 1.8, 3.2])
def test_a_burst_that_dies_away_evenly(rate: int, seconds: float) -> None:
    found = measure_decay(tail(seconds, rate, 2e-4), rate)
    assert found.by == "T30"
    assert found.seconds == pytest.approx(seconds, rel=0.02)
    assert found.curve[0] == 0.0 and (np.diff(found.curve) <= 0.0).all()


def test_with_less_room_above_the_noise_a_shorter_range_is_taken_and_said() -> None:
    found = measure_decay(tail(1.8, 48000, 2e-3), 48000)
    assert found.by == "T20" and 35.0 < found.room < 45.0
    assert found.seconds == pytest.approx(1.8, rel=0.05)


def test_a_tone_that_stops() -> None:
    t = moments(48000, 6.0)
    level = np.where(t < 1.0, 0.5, 0.5 * np.exp(-(t - 1.0) / decay_of(2.0)))
    wave = level * np.sin(2 * pi * 500 * t) + np.random.default_rng(1).normal(size=t.size) * 1e-4
    assert measure_decay(wave, 48000).seconds == pytest.approx(2.0, rel=0.02)


def test_two_slopes_give_the_early_one_its_due() -> None:
    t = moments(48000, 8.0)
    early, late = np.exp(-t / decay_of(1.0)), 1e-3 * np.exp(-t / decay_of(4.0))
    wave = 0.2 * np.random.default_rng(3).normal(size=t.size).clip(-3, 3) * (early + late)
    assert 0.9 < measure_decay(wave, 48000).seconds < 1.3


def test_a_decay_lost_in_noise_is_said_with_what_is_needed() -> None:
    with pytest.raises(RecordingError, match="35 dB above the noise"):
        measure_decay(tail(1.8, 48000, 2e-2), 48000)
    with pytest.raises(RecordingError, match="until it cannot be heard"):
        measure_decay(np.ones(100), 48000)
