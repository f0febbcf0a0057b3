"""Polarity from a microphone's first swing."""

from __future__ import annotations

import numpy as np
import pytest

from endbell.bench.audio import RecordingError
from endbell.bench.loudspeaker import polarity

RATE = 48000


def pulse(sign: float, noise: float = 1e-3) -> np.ndarray:
    t = np.arange(RATE // 2) / RATE - 0.1
    swing = np.exp(-np.maximum(t, 0) / 0.004) * np.sin(2 * np.pi * 120 * t)
    return sign * np.where(t > 0, swing, 0.0) + noise * np.random.default_rng(1).normal(size=t.size)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("offset", [0.0, 0.2])
def test_the_first_swing_tells(sign: int, offset: float) -> None:
    assert polarity(pulse(sign) + offset, RATE) == sign


def test_a_later_and_larger_swing_does_not() -> None:
    wave = pulse(1)
    wave[RATE // 5 :] -= 2.0 * np.abs(pulse(1))[: wave.size - RATE // 5]
    assert polarity(wave, RATE) == 1


def test_a_pulse_lost_in_noise_is_said() -> None:
    with pytest.raises(RecordingError, match="does not stand out"):
        polarity(pulse(1, 0.4), RATE)
    with pytest.raises(RecordingError, match="no pulse"):
        polarity(np.zeros(1000), RATE)
