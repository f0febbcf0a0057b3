"""Levels in volts, dBu, dBV, dB of full scale, watts."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from endbell.bench.audio import RecordingError, measure_tone
from endbell.bench.audio.levels import (
    dbfs,
    dbu,
    dbv,
    full_scale,
    volts_of_dbu,
    volts_of_dbv,
    volts_of_watts,
    watts,
)

from .made import converted, distorted, moments


@pytest.mark.parametrize("level", [-60.0, -10.0, 0.0, 4.0, 22.0])
def test_a_level_and_its_volts_turn_into_each_other(level: float) -> None:
    assert dbu(volts_of_dbu(level)) == pytest.approx(level, abs=1e-12)
    assert dbv(volts_of_dbv(level)) == pytest.approx(level, abs=1e-12)


def test_a_sine_that_reaches_full_scale_is_0_db_of_it() -> None:
    wave = np.sin(2 * np.pi * np.arange(48000) / 48)
    assert dbfs(float(np.sqrt(np.mean(wave**2)))) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("rate", "bits"), [(44100, 16), (96000, 24), (192000, 16)])
def test_a_known_tone_calibrates_full_scale_within_a_fiftieth_of_a_db(rate: int, bits: int) -> None:
    wave = converted(distorted(moments(rate, 4.0, 100.0), 997.0, 0.25, {2: 0.001}), bits)
    volts = full_scale(10.0, measure_tone(wave, rate).rms)
    assert 20 * np.log10(volts / (10.0 * sqrt(2) / 0.25)) == pytest.approx(0.0, abs=0.02)


def test_no_level_calibrates_nothing() -> None:
    with pytest.raises(RecordingError, match="calibrates nothing"):
        full_scale(0.0, 0.1)
    with pytest.raises(RecordingError, match="calibrates nothing"):
        full_scale(10.0, float("nan"))


def test_power_needs_a_load() -> None:
    assert watts(volts_of_watts(20.0, 8.0), 8.0) == pytest.approx(20.0)
    with pytest.raises(RecordingError, match="measured load in ohm"):
        watts(10.0, 0.0)
