"""A tone of known distortion, as interfaces of all kinds record it."""

from __future__ import annotations

from math import log10, sqrt

import numpy as np
import pytest

from endbell.bench.audio import RecordingError, measure_tone
from endbell.bench.audio.tone import refuse_quiet

from .made import converted, distorted, moments

RATES = (44100, 48000, 88200, 96000, 192000)
PPM = (100.0, -100.0, 0.0, 100.0, -100.0)
SHAPE = {2: 0.8, 3: 0.5, 5: 0.33166}  # squares add up to 1


def db(ratio: float) -> float:
    return 20.0 * log10(ratio)


def told(thd_db: float) -> dict[int, float]:
    return {order: part * 10 ** (thd_db / 20) for order, part in SHAPE.items()}


def whole_thd_db(thd_db: float) -> float:
    """What IEC 60268-3 calls it, of a ratio to the fundamental."""
    return thd_db - 10.0 * log10(1.0 + 10 ** (thd_db / 10))


@pytest.mark.parametrize("bits", [16, 24])
@pytest.mark.parametrize("thd", [-20.0, -60.0, -80.0])
@pytest.mark.parametrize(("rate", "ppm"), list(zip(RATES, PPM, strict=True)))
def test_thd_is_found_within_a_tenth_of_a_db_and_level_within_a_fiftieth(
    rate: int, ppm: float, thd: float, bits: int
) -> None:
    t = moments(rate, 4.2, ppm)
    wave = converted(distorted(t, 997.0, 0.5, told(thd), offset=0.02), bits)
    tone = measure_tone(wave, rate)
    assert tone.thd_db == pytest.approx(whole_thd_db(thd), abs=0.1)
    assert db(tone.rms / (0.5 / sqrt(2))) == pytest.approx(0.0, abs=0.02)
    assert tone.hertz == pytest.approx(997.0 * (1 + ppm * 1e-6), rel=1e-6)


@pytest.mark.parametrize("peak", [0.1, 0.02])
def test_a_recording_made_too_low_still_tells_its_distortion_at_24_bits(peak: float) -> None:
    wave = converted(distorted(moments(48000, 6.0), 1000.0, peak, told(-80.0)), 24)
    assert measure_tone(wave, 48000).thd_db == pytest.approx(-80.0, abs=0.1)


def test_a_low_tone_of_a_bass_amp_is_measured_too() -> None:
    wave = converted(distorted(moments(44100, 8.0), 41.2, 0.5, told(-40.0)), 16)
    assert measure_tone(wave, 44100).thd_db == pytest.approx(whole_thd_db(-40.0), abs=0.1)


def test_a_clock_that_drifts_while_it_records_changes_nothing() -> None:
    t = moments(96000, 8.0)
    wave = converted(distorted(t + 0.5 * 100e-6 * t * t / 8.0, 1000.0, 0.5, told(-80.0)), 24)
    tone = measure_tone(wave, 96000)
    assert tone.thd_db == pytest.approx(-80.0, abs=0.1)
    assert tone.drift > 20e-6
    assert db(tone.rms / (0.5 / sqrt(2))) == pytest.approx(0.0, abs=0.02)


def test_a_steady_offset_counts_nowhere() -> None:
    t = moments(48000, 5.0)
    tone = measure_tone(distorted(t, 1000.0, 0.5, told(-60.0), offset=0.3), 48000)
    assert tone.thd_noise == pytest.approx(tone.thd, rel=1e-3)
    assert tone.offset == pytest.approx(0.3, abs=1e-6)


def test_distortion_is_relative_to_the_whole_and_to_the_fundamental_beside_it() -> None:
    tone = measure_tone(distorted(moments(48000, 5.0), 1000.0, 0.5, {3: 0.3}), 48000)
    assert tone.thd_of_fundamental == pytest.approx(0.3, rel=1e-5)
    assert tone.thd == pytest.approx(0.3 / sqrt(1.09), rel=1e-5)


def test_noise_and_hum_count_in_thd_with_noise_only() -> None:
    t = moments(48000, 10.0)
    noise = np.random.default_rng(3).normal(size=t.size) * 1e-3
    hum = 2e-3 * np.sin(2 * np.pi * 100 * t)
    tone = measure_tone(distorted(t, 1000.0, 0.5, told(-60.0)) + noise + hum, 48000)
    band = 1e-6 * 19980 / 24000
    rest = sqrt(band + 0.5 * 2e-3**2 + 0.125 * 1e-6)
    assert tone.thd_db == pytest.approx(-60.0, abs=0.1)
    assert db(tone.thd_noise / (rest / (0.5 / sqrt(2)))) == pytest.approx(0.0, abs=0.05)


def test_it_agrees_with_least_squares_on_sinusoids() -> None:
    t = moments(48000, 4.0)
    wave = converted(distorted(t, 1234.5, 0.4, told(-50.0), offset=0.01), 16)
    tone = measure_tone(wave, 48000)
    columns = [np.ones_like(t)]
    for order in range(1, 11):
        columns += [np.sin(2 * np.pi * order * 1234.5 * t), np.cos(2 * np.pi * order * 1234.5 * t)]
    fit = np.linalg.lstsq(np.stack(columns, axis=1), wave, rcond=None)[0]
    rms = np.hypot(fit[1::2], fit[2::2]) / sqrt(2)
    assert tone.rms == pytest.approx(rms[0], rel=1e-4)
    assert tone.distortion == pytest.approx(float(np.sqrt(np.sum(rms[1:] ** 2))), rel=3e-3)


def test_harmonics_beyond_half_the_sample_rate_are_not_made_up() -> None:
    tone = measure_tone(distorted(moments(44100, 5.0), 9000.0, 0.5, {2: 0.01}), 44100)
    assert tone.harmonics[0] == pytest.approx(0.01 * 0.5 / sqrt(2), rel=1e-3)
    assert tone.harmonics[1:] == (0.0,) * 8


def test_noise_alone_is_no_tone() -> None:
    noise = np.random.default_rng(4).normal(size=48000 * 5) * 0.1
    with pytest.raises(RecordingError, match="no tone stands out"):
        measure_tone(noise, 48000)


def test_a_tone_too_short_for_its_harmonics_is_said() -> None:
    with pytest.raises(RecordingError, match="too few periods"):
        measure_tone(distorted(moments(48000, 0.25), 50.0, 0.5, {}), 48000)


def test_a_tone_lost_near_the_bottom_of_the_converter_is_refused() -> None:
    with pytest.raises(RecordingError, match="Turn the interface up"):
        refuse_quiet(distorted(moments(48000, 1.0), 1000.0, 5e-5, {}))
