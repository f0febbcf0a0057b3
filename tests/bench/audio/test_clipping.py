"""A converter that clips is found and said; an amp that clips is what is measured."""

from __future__ import annotations

import numpy as np
import pytest

from endbell.bench.audio import RecordingError, clipped
from endbell.bench.audio.clipping import refuse_clipped

from .made import converted, distorted, moments

RATES = (44100, 96000, 192000)
STEP = {16: 2.0**-15, 24: 2.0**-23}


@pytest.mark.parametrize("bits", [16, 24])
@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("hz", [41.0, 1000.0, 5000.0])
@pytest.mark.parametrize("over_db", [0.1, 1.0, 12.0])
def test_a_converter_that_clips_is_found(rate: int, hz: float, bits: int, over_db: float) -> None:
    wave = distorted(moments(rate, 0.5), hz, 10 ** (over_db / 20), {})
    found = clipped(converted(wave, bits), rate, STEP[bits])
    assert found is not None and found.certain
    assert "interface, not the amp" in found.says


@pytest.mark.parametrize("bits", [16, 24])
@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("hz", [20.0, 100.0, 1000.0, 11025.0])
def test_a_tone_a_tenth_of_a_db_below_full_scale_is_not_clipped(
    rate: int, hz: float, bits: int
) -> None:
    wave = converted(distorted(moments(rate, 1.0), hz, 10 ** (-0.1 / 20), {}), bits)
    assert clipped(wave, rate, STEP[bits]) is None


@pytest.mark.parametrize("bits", [16, 24])
@pytest.mark.parametrize("top", [0.3, 0.7, 0.9])
def test_an_amp_that_clips_is_not_taken_for_the_converter(bits: int, top: float) -> None:
    t = moments(96000, 1.0)
    amp = np.clip(distorted(t, 1000.0, 2.0 * top, {}), -top, top)
    # what a supply and the valves leave on the flat of it, 80 dB down
    amp += 1e-4 * top * np.sin(2 * np.pi * 100 * t)
    amp += 3e-5 * np.random.default_rng(1).normal(size=t.size)
    assert clipped(converted(amp, bits), 96000, STEP[bits]) is None


def test_an_interface_that_clips_a_little_below_full_scale_is_found() -> None:
    wave = np.clip(distorted(moments(48000, 1.0), 1000.0, 1.3, {}), -0.985, 0.985)
    found = clipped(wave, 48000, STEP[24])
    assert found is not None and found.certain


def test_one_side_alone_is_enough() -> None:
    wave = converted(distorted(moments(48000, 1.0), 1000.0, 0.9, {}, offset=0.3), 16)
    found = clipped(wave, 48000, STEP[16])
    assert found is not None and found.certain


def test_a_clipped_recording_turned_down_afterwards_is_suspected() -> None:
    wave = 0.5 * np.clip(distorted(moments(48000, 1.0), 1000.0, 1.4, {}), -1.0, 1.0)
    found = clipped(wave, 48000, STEP[24])
    assert found is not None and not found.certain
    assert "before its level was changed" in found.says


def test_a_float_recording_may_go_beyond_full_scale() -> None:
    assert clipped(distorted(moments(48000, 1.0), 1000.0, 1.7, {}), 48000, STEP[24]) is None


def test_a_clipped_recording_is_never_measured() -> None:
    wave = converted(distorted(moments(48000, 1.0), 1000.0, 1.5, {}), 24)
    with pytest.raises(RecordingError, match="3 dB below full scale"):
        refuse_clipped(wave, 48000, STEP[24])
