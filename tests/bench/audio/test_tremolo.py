"""Tremolo: rate and depth of a wave that goes up and down, whatever its shape."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from scipy.signal import sawtooth

from endbell.bench.audio import RecordingError, measure_tremolo

from .made import Floats, converted, moments


def through(shape: Floats, t: Floats, rate: int) -> Floats:
    noise = np.random.default_rng(1).normal(size=t.size) * 1e-3
    hum = 5e-3 * np.sin(2 * pi * 100 * t)
    return converted(0.25 * np.sin(2 * pi * 1000 * t) * shape + noise + hum + 0.02, 16)


@pytest.mark.parametrize("rate", [44100, 96000])
@pytest.mark.parametrize(("hz", "depth"), [(1.3, 0.9), (4.37, 0.6), (6.0, 0.1), (9.5, 0.5)])
def test_rate_and_depth_of_a_smooth_tremolo(rate: int, hz: float, depth: float) -> None:
    t = moments(rate, 10.0)
    found = measure_tremolo(through(1 + depth * np.sin(2 * pi * hz * t), t, rate), rate)
    assert found.hertz == pytest.approx(hz, rel=2e-3)
    assert found.depth == pytest.approx(depth, rel=0.02)


def test_a_tremolo_that_jumps_as_a_lamp_and_cell_do() -> None:
    t = moments(48000, 10.0)
    gate = np.where((4.0 * t) % 1.0 < 0.3, 0.3, 1.0)
    found = measure_tremolo(through(gate, t, 48000), 48000)
    assert found.hertz == pytest.approx(4.0, rel=3e-3)
    assert found.depth == pytest.approx(0.7 / 1.3, rel=0.05)


def test_a_sawtooth_is_counted_once_a_turn() -> None:
    t = moments(48000, 10.0)
    found = measure_tremolo(through(1 + 0.5 * sawtooth(2 * pi * 5.5 * t), t, 48000), 48000)
    assert found.hertz == pytest.approx(5.5, rel=3e-3)


def test_depth_in_db_is_loudest_over_softest() -> None:
    t = moments(48000, 8.0)
    found = measure_tremolo(through(1 + 0.5 * np.sin(2 * pi * 5 * t), t, 48000), 48000)
    assert found.depth_db == pytest.approx(20 * np.log10(3.0), abs=0.15)


def test_a_steady_tone_has_no_tremolo() -> None:
    t = moments(48000, 8.0)
    with pytest.raises(RecordingError, match="plug the foot switch in"):
        measure_tremolo(through(np.ones_like(t), t, 48000), 48000)


def test_two_turns_are_too_few() -> None:
    t = moments(48000, 1.6)
    with pytest.raises(RecordingError, match="Record ten turns"):
        measure_tremolo(through(1 + 0.5 * np.sin(2 * pi * 1.2 * t), t, 48000), 48000)
