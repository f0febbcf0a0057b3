"""Audio against published figures: weighting, levels, distortion of known waves, loudspeakers.

Rows of ``data/audio_tables.csv`` carry their own source and say whether it was seen or is from
memory; other figures have theirs beside them.
"""

from __future__ import annotations

import re
from math import log, log10, pi, sqrt

import numpy as np
import pytest
from scipy import signal

from endbell.bench.audio import (
    Sweep,
    a_weight_db,
    measure_decay,
    measure_tone,
    response,
)
from endbell.bench.audio.arrays import root_mean_square
from endbell.bench.audio.impedance import output_impedance
from endbell.bench.audio.levels import (
    dbfs,
    dbu,
    dbv,
    volts_of_dbu,
    volts_of_dbv,
    volts_of_watts,
    watts,
)
from endbell.bench.audio.weighting import poles
from endbell.bench.loudspeaker import ImpedanceCurve, by_added_mass, classical, fitted

from .rows import Row, rows

ROWS = rows("audio_tables")
WEIGHTING = [row for row in ROWS if row["table"] == "A_weighting"]
LEVELS = {row["key"]: row for row in ROWS if row["table"] == "level"}


# ---- A-weighting


def test_there_is_a_row_for_every_third_octave_from_10_hz_to_20_khz() -> None:
    assert len(WEIGHTING) == 34
    assert (WEIGHTING[0]["key"], WEIGHTING[-1]["key"]) == ("10", "20000")


@pytest.mark.parametrize("row", WEIGHTING, ids=lambda row: row["key"])
def test_a_weighting_at_every_third_octave_of_the_table(row: Row) -> None:
    """IEC 61672-1 table 3 (nominal frequencies), rounded there to a tenth of a dB; the exact
    frequency of a band is 1000 times a power of 10^0.1, as the standard has it."""
    nominal = float(row["key"])
    exact = 1000.0 * 10 ** (round(10 * log10(nominal / 1000.0)) / 10.0)
    assert float(a_weight_db(exact)) == pytest.approx(float(row["value"]), abs=0.051)


@pytest.mark.parametrize("row", WEIGHTING, ids=lambda row: row["key"])
def test_a_weighting_at_the_exact_frequencies_to_a_hundredth(row: Row) -> None:
    """The note of each row: the standard's formula with its published poles, worked out apart."""
    found = re.search(r"([\d.]+) Hz: (-?[\d.]+)", row["note"])
    assert found
    hertz, level = (float(group) for group in found.groups())
    assert float(a_weight_db(hertz)) == pytest.approx(level, abs=0.006)


def test_the_poles_are_those_of_the_standard() -> None:
    row = next(row for row in ROWS if row["table"] == "A_weighting_formula")
    told = [float(value) for value in re.findall(r"=([\d.]+)", row["value"])]
    assert poles() == pytest.approx(told, rel=1e-6)


# ---- levels


@pytest.mark.parametrize(
    ("key", "volts"),
    [
        ("0 dBu", volts_of_dbu(0.0)),
        ("0 dBV", volts_of_dbv(0.0)),
        ("-10 dBV", volts_of_dbv(-10.0)),
        ("+4 dBu", volts_of_dbu(4.0)),
        ("0 dBm(600)", volts_of_watts(0.001, 600.0)),
        ("0 VU", volts_of_dbu(4.0)),
    ],
)
def test_levels_in_volts(key: str, volts: float) -> None:
    assert volts == pytest.approx(float(LEVELS[key]["value"]), rel=1e-4)


def test_0_dbv_is_2_218_dbu() -> None:
    assert "+2.218 dBu" in LEVELS["0 dBV"]["note"]
    assert dbu(volts_of_dbv(0.0)) == pytest.approx(2.218, abs=5e-4)
    assert dbv(volts_of_dbu(0.0)) == pytest.approx(-2.218, abs=5e-4)


def test_100_w_in_8_ohm_are_28_28_v() -> None:
    note = next(row["note"] for row in ROWS if row["table"] == "output")
    assert note.startswith("28.28 V in 8 ohm = 100 W")
    assert watts(28.28, 8.0) == pytest.approx(100.0, abs=0.05)
    assert volts_of_watts(100.0, 8.0) == pytest.approx(28.28, abs=0.005)


def test_a_sine_whose_peak_reaches_full_scale_is_0_dbfs() -> None:
    """AES17, from memory."""
    wave = np.sin(2 * pi * 997 * np.arange(48000) / 48000)
    assert dbfs(root_mean_square(wave)) == pytest.approx(0.0, abs=1e-6)


# ---- distortion of waves whose series is known
# Fourier series of any textbook: square 1/n (odd), triangle 1/n² (odd), sawtooth 1/n.


@pytest.mark.parametrize(
    ("parts", "whole_series"),
    [
        ({n: 1 / n for n in range(3, 11, 2)}, 0.4834),
        ({n: 1 / n**2 for n in range(3, 11, 2)}, 0.1212),
        ({n: 1 / n for n in range(2, 11)}, 0.8031),
    ],
    ids=["square", "triangle", "sawtooth"],
)
def test_the_distortion_of_square_triangle_and_sawtooth(
    parts: dict[int, float], whole_series: float
) -> None:
    t = np.arange(48000 * 4) / 48000
    wave = np.sin(2 * pi * 997 * t)
    for n, part in parts.items():
        wave = wave + part * np.sin(2 * pi * n * 997 * t)
    tone = measure_tone(0.3 * wave, 48000)
    told = sqrt(sum(part**2 for part in parts.values()))
    assert tone.thd_of_fundamental == pytest.approx(told, rel=1e-4)
    # IEC 60268-3 (from memory): relative to the whole signal
    assert tone.thd == pytest.approx(told / sqrt(1 + told**2), rel=1e-4)
    # the whole series: sqrt(pi²/8 - 1), sqrt(pi⁴/96 - 1), sqrt(pi²/6 - 1)
    assert told < whole_series


def test_thd_with_noise_of_a_square_wave_is_43_5_per_cent() -> None:
    """All harmonics over all: sqrt(1 - 8/pi²); here to 20 kHz, of a square of 101 Hz."""
    t = np.arange(96000 * 4) / 96000
    orders = range(1, int(20000 / 101) + 1, 2)
    wave = np.sum([np.sin(2 * pi * n * 101 * t) / n for n in orders], axis=0)
    assert measure_tone(0.5 * wave, 96000).thd_noise == pytest.approx(0.4352, abs=0.002)


@pytest.mark.parametrize(("bits", "level"), [(16, 98.08), (12, 74.0)])
def test_the_noise_of_a_converter_is_6_02_db_a_bit_and_1_76(bits: int, level: float) -> None:
    """W. R. Bennett, Bell System Technical Journal 27 (1948); from memory.  Over half the sample
    rate, so that the audio band holds a little less; with dither of two steps (triangular) 4.77 dB
    more (Lipshitz, Wannamaker and Vanderkooy, J. Audio Eng. Soc. 40, 1992; from memory)."""
    rng = np.random.default_rng(1)
    step = 2.0 ** (1 - bits)
    wave = (1 - 2 * step) * np.sin(2 * pi * 997 * np.arange(48000 * 6) / 48000)
    dithered = np.round(wave / step + rng.random(wave.size) - rng.random(wave.size)) * step
    tone = measure_tone(dithered, 48000)
    below = 20 * log10(tone.whole / tone.rest)
    assert below == pytest.approx(level - 4.77 + 10 * log10(24000 / 19980), abs=0.15)


# ---- response against an independent library


@pytest.mark.parametrize("order", [1, 2, 4])
def test_the_response_of_filters_is_that_of_scipy_signal(order: int) -> None:
    rate, sweep = 96000, Sweep(10.0, 30000.0, 5.0)
    high = signal.butter(order, 2 * pi * 40, "high", analog=True)
    low = signal.butter(order, 2 * pi * 12000, "low", analog=True)
    played = np.concatenate([np.zeros(9600), sweep.samples(rate), np.zeros(rate)])
    n = 1 << 20
    omega = 2 * pi * np.fft.rfftfreq(n, 1 / rate)
    gain = signal.freqs(*high, omega)[1] * signal.freqs(*low, omega)[1]
    heard = np.fft.irfft(np.fft.rfft(played, n) * gain, n)[: played.size]
    hertz = np.geomspace(20, 20000, 61)
    told = signal.freqs(*high, 2 * pi * hertz)[1] * signal.freqs(*low, 2 * pi * hertz)[1]
    one = signal.freqs(*high, [2000 * pi])[1] * signal.freqs(*low, [2000 * pi])[1]
    truth = 20 * np.log10(np.abs(told / one))
    assert np.abs(response(0.3 * heard, rate, sweep).decibels(hertz) - truth).max() < 0.05


def test_a_harmonic_of_a_sweep_stands_ahead_as_farina_has_it() -> None:
    """A. Farina, AES preprint 5093 (2000): T ln(n)/ln(f2/f1); from memory."""
    assert Sweep(20.0, 20000.0, 10.0).ahead(2) == pytest.approx(10 * log(2) / log(1000))
    assert Sweep(20.0, 20000.0, 10.0).ahead(2) == pytest.approx(1.0034, abs=1e-4)


# ---- output impedance


@pytest.mark.parametrize(
    ("loaded", "ohm", "factor", "sag"), [(0.987654, 0.1, 80.0, -0.11), (0.888888, 1.0, 8.0, -1.02)]
)
def test_two_amps_of_a_worked_example(loaded: float, ohm: float, factor: float, sag: float) -> None:
    """Worked example seen at audioplay.it, 'Fattore di smorzamento e impedenza d'uscita': 1 V
    unloaded falls to 0.987654 V (0.888888 V) at 8 ohm with 0.1 ohm (1 ohm) inside."""
    found = output_impedance((8.0, loaded), (float("inf"), 1.0))
    assert found.ohm == pytest.approx(ohm, rel=1e-3)
    assert found.damping(8.0) == pytest.approx(factor, rel=1e-3)
    assert 20 * log10(loaded) == pytest.approx(sag, abs=0.005)


# ---- decay


@pytest.mark.parametrize("tau", [0.1, 0.3])
def test_a_decay_by_60_db_lasts_6_91_time_constants(tau: float) -> None:
    """M. R. Schroeder (1965): 60 dB are a factor of 1000 in amplitude, ln 1000 = 6.908."""
    t = np.arange(48000 * 5) / 48000
    rng = np.random.default_rng(1)
    wave = np.exp(-t / tau) * np.sin(2 * pi * 700 * t) * 0.5 + 1e-5 * rng.normal(size=t.size)
    assert measure_decay(wave, 48000).seconds == pytest.approx(6.908 * tau, rel=0.01)


# ---- a loudspeaker from its mechanics

# Data of a lumped driver with the formulas, seen at comsol.com, 'lumped_loudspeaker_driver_
# parameters.txt' (a simulation example, no make): mass without air 33.4 g, 1.18e-3 m/N, 1.85 kg/s,
# 11.4 T m, 7 ohm, piston radius 12 cm; Fs = 1/(2 pi sqrt(C M)), Qes = 2 pi Fs M Re/Bl²,
# Qms = 2 pi Fs M/R, Vas = rho c² Sd² C, M with the air on both sides of a piston.
RHO, SOUND, RADIUS = 1.2, 343.0, 0.12
AREA = pi * RADIUS**2
MASS = 33.4e-3 + 2 * AREA**2 * 8 * RHO / (3 * pi**2 * RADIUS)
GIVE, LOSS, FORCE, COIL = 1.18e-3, 1.85, 11.4, 7.0
FS = 1 / (2 * pi * sqrt(GIVE * MASS))
QES, QMS = 2 * pi * FS * MASS * COIL / FORCE**2, 2 * pi * FS * MASS / LOSS


def mechanical(hertz: np.ndarray, added: float = 0.0) -> np.ndarray:
    """Z at the terminals from mass, spring and loss: Re + Bl²/Zm."""
    s = 2j * pi * hertz
    return COIL + FORCE**2 / (s * (MASS + added) + LOSS + 1 / (s * GIVE))


HERTZ = np.geomspace(5.0, 1000.0, 400)


def test_thiele_small_parameters_of_a_published_driver_the_classical_way() -> None:
    found = classical(ImpedanceCurve(HERTZ, np.abs(mechanical(HERTZ))), COIL)
    assert found.fs == pytest.approx(FS, rel=2e-3)
    assert found.qms == pytest.approx(QMS, rel=0.01)
    assert found.qes == pytest.approx(QES, rel=0.01)
    assert found.qts == pytest.approx(QMS * QES / (QMS + QES), rel=0.01)


def test_and_by_least_squares() -> None:
    found = fitted(ImpedanceCurve(HERTZ, np.abs(mechanical(HERTZ))), COIL)
    assert (found.fs, found.qms, found.qes) == pytest.approx((FS, QMS, QES), rel=1e-3)


def test_its_mass_compliance_volume_and_force_by_added_mass() -> None:
    free, loaded = (
        fitted(ImpedanceCurve(HERTZ, np.abs(mechanical(HERTZ, added))), COIL)
        for added in (0.0, 0.03)
    )
    found = by_added_mass(free, loaded.fs, 0.03, AREA, density=RHO, sound=SOUND)
    assert found.mass == pytest.approx(MASS, rel=2e-3)
    assert found.compliance == pytest.approx(GIVE, rel=2e-3)
    assert found.volume == pytest.approx(RHO * SOUND**2 * AREA**2 * GIVE, rel=2e-3)
    assert found.force == pytest.approx(FORCE, rel=2e-3)
