"""An amp at rest: hum by harmonic, hiss, A-weighted noise, and the mains found by itself."""

from __future__ import annotations

from collections.abc import Mapping
from math import log10, pi, sqrt

import numpy as np
import pytest

from endbell.bench.audio import RecordingError, a_weight, measure_noise

from .made import Floats, converted, moments


def rest(
    rate: float,
    mains: float,
    hum: Mapping[int, float],
    hiss: float,
    seconds: float = 8.0,
    ppm: float = 0.0,
) -> Floats:
    """``hum``: rms by harmonic; ``hiss``: rms of white noise up to half the sample rate."""
    t = moments(rate, seconds, ppm)
    wave = np.random.default_rng(2).normal(size=t.size) * hiss
    for order, rms in hum.items():
        wave += sqrt(2) * rms * np.sin(2 * pi * order * mains * t + order)
    return wave


@pytest.mark.parametrize(
    ("rate", "mains"),
    [(44100, 49.8), (44100, 60.02), (96000, 50.0), (96000, 59.6), (192000, 50.21), (48000, 60.0)],
)
def test_the_mains_is_found_and_each_harmonic_of_its_hum(rate: int, mains: float) -> None:
    hum = {1: 1e-4, 2: 8e-4, 4: 2e-4, 6: 1e-4}
    noise = measure_noise(rest(rate, mains, hum, 5e-5, ppm=100.0), rate)
    assert noise.mains == pytest.approx(mains, rel=3e-4)
    for order, rms in hum.items():
        assert noise.hum[order - 1] == pytest.approx(rms, rel=0.03)
    assert noise.hum_rms == pytest.approx(sqrt(sum(h * h for h in hum.values())), rel=0.01)


def test_a_harmonic_both_mains_share_does_not_decide() -> None:
    # 300 Hz is the sixth of 50 Hz and the fifth of 60 Hz; a little at 120 Hz tells
    noise = measure_noise(rest(48000, 60.0, {5: 1e-3, 2: 2e-5}, 1e-5), 48000)
    assert noise.mains == pytest.approx(60.0, rel=1e-3)


def test_a_mains_that_wanders_keeps_its_hum_together() -> None:
    t = moments(48000, 20.0)
    phase = 2 * pi * 100 * (t + 2e-4 * np.sin(2 * pi * t / 20))
    wave = 1e-3 * np.sin(phase) + np.random.default_rng(5).normal(size=t.size) * 1e-5
    assert measure_noise(wave, 48000).hum[1] == pytest.approx(1e-3 / sqrt(2), rel=0.01)


def test_hiss_alone_has_no_mains() -> None:
    for seed in range(4):
        wave = np.random.default_rng(seed).normal(size=48000 * 6) * 1e-4
        noise = measure_noise(wave, 48000)
        assert noise.mains is None and noise.hum == ()


@pytest.mark.parametrize(("rate", "bits"), [(44100, 16), (48000, 24), (96000, 16), (192000, 24)])
def test_signal_to_noise_is_found_within_a_tenth_of_a_db(rate: int, bits: int) -> None:
    wave = converted(rest(rate, 50.0, {2: 1e-3}, 1e-3) + 0.05, bits)
    noise = measure_noise(wave, rate)
    hiss = 1e-6 * (20000 - 20) / (rate / 2)
    assert noise.below(0.5) == pytest.approx(20 * log10(0.5 / sqrt(1e-6 + hiss)), abs=0.1)
    assert noise.hiss == pytest.approx(sqrt(hiss), rel=0.02)


def test_a_weighted_noise_is_that_of_the_curve() -> None:
    rate = 96000
    noise = measure_noise(rest(rate, 50.0, {1: 1e-2}, 1e-3, 20.0), rate)
    hertz = np.arange(10.0, 22000.0)
    hiss = float(np.sum(a_weight(hertz) ** 2)) * 1e-6 / (rate / 2)
    hum = 1e-4 * float(a_weight(50.0)) ** 2
    assert noise.weighted == pytest.approx(sqrt(hiss + hum), rel=0.01)


def test_a_steady_offset_is_no_hum() -> None:
    wave = rest(48000, 50.0, {2: 1e-3}, 1e-5)
    assert measure_noise(wave + 0.2, 48000).all == pytest.approx(
        measure_noise(wave, 48000).all, rel=1e-3
    )


def test_half_a_second_of_rest_is_too_little() -> None:
    with pytest.raises(RecordingError, match="Record ten seconds"):
        measure_noise(rest(48000, 50.0, {2: 1e-3}, 1e-5, 0.5), 48000)
