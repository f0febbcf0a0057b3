"""A sweep through something known: response, harmonics, clocks that differ."""

from __future__ import annotations

import numpy as np
import pytest

from endbell.bench.audio import RecordingError, Sweep, response

from .made import Floats, converted, through

HERTZ = np.concatenate([20.0 * 10 ** (np.arange(31) / 10.0)])[:31]
CASES = [
    (44100, 21500.0, 16, 0.0),
    (48000, 22500.0, 24, 100.0),
    (96000, 30000.0, 16, -100.0),
    (192000, 40000.0, 24, 100.0),
]


def amp(hertz: Floats) -> Floats:
    """A coupling capacitor at 30 Hz, and an output transformer at 9 kHz with a little rise."""
    return (
        (1j * hertz / 30) / (1 + 1j * hertz / 30) / (1 + 1.2j * hertz / 9000 - (hertz / 9000) ** 2)
    )


def decibels(hertz: Floats) -> Floats:
    return 20 * np.log10(np.abs(amp(hertz) / amp(np.array([1000.0]))))


def recorded(
    rate: int,
    high: float,
    bits: int,
    ppm: float,
    seconds: float = 6.0,
    second: float = 0.0,
    third: float = 0.0,
) -> tuple[Floats, Sweep]:
    sweep = Sweep(10.0, high, seconds)
    played = sweep.samples(rate, ppm * 1e-6)
    wave = np.concatenate([np.zeros(int(0.37 * rate)), played, np.zeros(int(0.8 * rate))])
    bent = wave + second * (2 * wave**2) + third * (4 * wave**3 - 3 * wave)
    return converted(0.4 * through(bent, rate, amp) + 0.01, bits), sweep


@pytest.mark.parametrize(("rate", "high", "bits", "ppm"), CASES)
def test_the_response_is_found_within_a_twentieth_of_a_db(
    rate: int, high: float, bits: int, ppm: float
) -> None:
    wave, sweep = recorded(rate, high, bits, ppm)
    found = response(wave, rate, sweep)
    assert np.abs(found.decibels(HERTZ) - decibels(HERTZ)).max() < 0.05
    assert found.clock * 1e6 == pytest.approx(ppm, abs=25.0)
    assert found.delay == pytest.approx(0.37, abs=0.003)


def test_its_own_distortion_does_not_reach_the_response() -> None:
    wave, sweep = recorded(96000, 30000.0, 24, 0.0, second=0.1, third=0.05)
    found = response(wave, 96000, sweep)
    # the third harmonic's curve gives back a part of the fundamental, which was taken off above
    assert np.abs(found.decibels(HERTZ) - decibels(HERTZ)).max() < 0.05


@pytest.mark.parametrize("part", [0.1, 0.01, 0.001])
def test_harmonics_are_told_apart_by_order(part: float) -> None:
    wave, sweep = recorded(96000, 30000.0, 24, -50.0, second=part, third=0.5 * part)
    found = response(wave, 96000, sweep)
    hertz = np.array([200.0, 700.0, 2000.0, 5000.0])
    for order, made in ((2, part), (3, 0.5 * part)):
        told = made * np.abs(amp(order * hertz) / amp(hertz))
        assert 20 * np.log10(found.distortion(order, hertz) / told) == pytest.approx(0.0, abs=0.3)
    assert (found.distortion(4, hertz) < 0.1 * part).all()
    assert (found.thd(hertz) > found.distortion(2, hertz)).all()


def test_gain_is_what_came_out_over_what_was_played() -> None:
    wave, sweep = recorded(48000, 22000.0, 24, 0.0)
    gain = response(wave, 48000, sweep).gain(np.array([1000.0]))
    assert gain[0] == pytest.approx(0.4 * abs(amp(np.array([1000.0]))[0]), rel=1e-3)


def test_nothing_is_told_beyond_what_was_swept() -> None:
    sweep = Sweep(100.0, 5000.0, 3.0)
    wave = np.concatenate([sweep.samples(48000), np.zeros(24000)]) * 0.5
    found = response(wave, 48000, sweep)
    assert np.isnan(found.gain(np.array([50.0, 6000.0]))).all()
    assert np.isnan(found.distortion(3, np.array([2000.0]))).all()
    assert found.decibels(np.array([200.0, 3000.0])) == pytest.approx([0.0, 0.0], abs=0.02)


def test_a_long_sweep_stands_for_a_slow_twin() -> None:
    """Against plain division of the whole spectra, smoothed over a band, in double precision."""
    wave, sweep = recorded(44100, 21500.0, 24, 0.0)
    found = response(wave, 44100, sweep)
    n = 2 * wave.size
    divided = np.fft.rfft(wave - wave.mean(), n) / np.fft.rfft(sweep.samples(44100), n)
    hertz = np.fft.rfftfreq(n, 1 / 44100)
    for at in (100.0, 1000.0, 5000.0):
        near = np.abs(hertz / at - 1) < 0.01
        turned = divided[near] * np.exp(2j * np.pi * hertz[near] * found.delay)
        assert abs(turned.mean()) == pytest.approx(float(found.gain(np.array([at]))[0]), rel=0.01)


@pytest.mark.parametrize(
    "sweep", [Sweep(0.0), Sweep(100.0, 50.0), Sweep(10.0, 30000.0), Sweep(seconds=0.0)]
)
def test_a_sweep_that_cannot_be_is_refused(sweep: Sweep) -> None:
    with pytest.raises(RecordingError, match="hz_from, hz_to"):
        sweep.samples(48000)


def test_a_recording_shorter_than_its_sweep_is_refused() -> None:
    with pytest.raises(RecordingError, match="Start the recorder before the sweep"):
        response(np.random.default_rng(1).normal(size=48000) * 0.1, 48000, Sweep())


def test_another_signal_is_no_sweep() -> None:
    noise = np.random.default_rng(1).normal(size=48000 * 12) * 0.1
    with pytest.raises(RecordingError, match="does not hold the sweep"):
        response(noise, 48000, Sweep())
    tone = np.sin(2 * np.pi * 1000 * np.arange(48000 * 12) / 48000) * 0.1
    with pytest.raises(RecordingError, match="does not hold the sweep"):
        response(tone, 48000, Sweep())


def test_a_sweep_of_another_length_is_not_the_one_that_was_named() -> None:
    wave, _ = recorded(44100, 21500.0, 16, 0.0)
    with pytest.raises(RecordingError, match="does not hold the sweep"):
        response(wave, 44100, Sweep(10.0, 21500.0, 5.0))


def test_clocks_a_thousandth_apart_are_allowed_for() -> None:
    wave, sweep = recorded(48000, 22000.0, 24, 1000.0)
    found = response(wave, 48000, sweep)
    assert np.abs(found.decibels(HERTZ) - decibels(HERTZ)).max() < 0.05
