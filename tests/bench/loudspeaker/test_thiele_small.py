"""Thiele–Small parameters from impedance curves that are known by construction."""

from __future__ import annotations

import numpy as np
import pytest

from endbell.bench.audio import RecordingError, Sweep
from endbell.bench.loudspeaker import (
    ImpedanceCurve,
    by_added_mass,
    classical,
    fitted,
    from_points,
    from_recording,
)
from endbell.bench.loudspeaker.thiele_small import impedance

DRIVERS = [
    (6.3, 82.0, 8.0, 0.9),
    (12.5, 105.0, 5.0, 0.5),
    (3.4, 55.0, 12.0, 1.4),
    (6.0, 70.0, 2.5, 2.0),
]
READ = (
    20,
    30,
    40,
    50,
    60,
    66,
    70,
    74,
    77,
    80,
    82,
    84,
    87,
    91,
    96,
    105,
    120,
    150,
    200,
    300,
    500,
    1000,
)


def driver(
    hertz: np.ndarray, re: float, fs: float, qms: float, qes: float, coil: float = 0.012
) -> np.ndarray:
    return impedance(hertz, re, fs, qms, qes) + coil * (2j * np.pi * hertz) ** 0.7


def curve(
    parameters: tuple[float, float, float, float], coil: float = 0.012, phase: bool = False
) -> ImpedanceCurve:
    hertz = np.geomspace(10.0, 20000.0, 300)
    z = driver(hertz, *parameters, coil)
    return ImpedanceCurve(hertz, np.abs(z), np.angle(z) if phase else None)


@pytest.mark.parametrize("parameters", DRIVERS)
def test_the_classical_way_is_exact_on_a_coil_without_inductance(
    parameters: tuple[float, float, float, float],
) -> None:
    re, fs, qms, qes = parameters
    found = classical(curve(parameters, 0.0), re)
    assert (found.fs, found.qms, found.qes) == pytest.approx((fs, qms, qes), rel=0.01)
    assert found.qts == pytest.approx(qms * qes / (qms + qes), rel=0.01)
    assert abs(found.asymmetry or 0.0) < 2e-3


@pytest.mark.parametrize("parameters", DRIVERS)
@pytest.mark.parametrize("phase", [False, True])
def test_least_squares_are_exact_with_inductance_too(
    parameters: tuple[float, float, float, float], phase: bool
) -> None:
    re, fs, qms, qes = parameters
    for known in (re, None):
        found = fitted(curve(parameters, phase=phase), known)
        assert (found.re, found.fs, found.qms, found.qes) == pytest.approx(
            (re, fs, qms, qes), rel=1e-3
        )


def test_inductance_pulls_the_classical_way_off_and_the_fit_not() -> None:
    parameters = DRIVERS[0]
    off = abs(classical(curve(parameters, 0.06), 6.3).qes / 0.9 - 1.0)
    assert off > 0.02
    assert fitted(curve(parameters, 0.06), 6.3).qms == pytest.approx(8.0, rel=1e-3)


def test_readings_of_a_meter_one_per_cent_off_give_q_within_a_few() -> None:
    rng = np.random.default_rng(1)
    z = np.abs(driver(np.array(READ, float), *DRIVERS[0])) * np.exp(
        0.01 * rng.normal(size=len(READ))
    )
    found = fitted(from_points(zip(map(float, READ), z.tolist(), strict=True)), 6.3)
    assert found.fs == pytest.approx(82.0, rel=0.01)
    assert found.qts == pytest.approx(8 * 0.9 / 8.9, rel=0.06)
    assert 0.0 < (found.misfit or 0.0) < 0.02


@pytest.mark.parametrize("rate", [44100, 96000])
def test_a_sweep_recorded_at_a_resistor_gives_the_curve(rate: int) -> None:
    rng = np.random.default_rng(2)
    wave = np.concatenate([np.zeros(8000), Sweep(10, 21000, 6).samples(rate), np.zeros(rate)]) * 0.5
    hertz = np.fft.rfftfreq(wave.size, 1 / rate)
    hertz[0] = 1e-3
    z = driver(hertz, *DRIVERS[0])
    current = np.fft.rfft(wave) / (z + 10.0)
    volts, amps = (
        np.fft.irfft(s, wave.size) + 3e-5 * rng.normal(size=wave.size)
        for s in (current * z, current * 10.0)
    )
    found = from_recording(volts, amps, rate, 10.0)
    inside = (found.hertz > 20) & (found.hertz < 10000)
    truth = np.abs(driver(found.hertz, *DRIVERS[0]))
    assert np.abs(found.ohm / truth - 1)[inside].max() < 0.02
    told = fitted(found, 6.3)
    assert (told.fs, told.qms, told.qes) == pytest.approx((82.0, 8.0, 0.9), rel=0.02)


def test_a_mass_on_the_cone_tells_moving_mass_and_volume() -> None:
    mass, compliance, area = 0.025, 1.5e-4, 0.053
    fs = 1 / (2 * np.pi * np.sqrt(mass * compliance))
    loaded = 1 / (2 * np.pi * np.sqrt((mass + 0.02) * compliance))
    free = classical(curve((6.3, fs, 8.0, 0.9), 0.0), 6.3)
    found = by_added_mass(free, loaded, 0.02, area, density=1.2, sound=343.0)
    assert found.mass == pytest.approx(mass, rel=0.02)
    assert found.volume == pytest.approx(1.2 * 343**2 * area**2 * compliance, rel=0.02)
    with pytest.raises(RecordingError, match="20 to 50 %"):
        by_added_mass(free, fs, 0.02, area, density=1.2, sound=343.0)


def test_too_few_readings_and_impossible_ones_are_refused() -> None:
    with pytest.raises(RecordingError, match="too few"):
        from_points([(50.0, 8.0), (80.0, 30.0)])
    with pytest.raises(RecordingError, match="not above zero"):
        from_points([(float(hz), -8.0) for hz in READ])


def test_a_resistor_is_no_loudspeaker() -> None:
    with pytest.raises(RecordingError, match="no peak"):
        classical(from_points([(float(hz), 8.0) for hz in READ]))


def test_a_curve_that_stops_at_its_peak_is_refused() -> None:
    z = np.abs(impedance(np.array(READ, float), *DRIVERS[0]))
    near = [(float(hz), v) for hz, v in zip(READ, z, strict=True) if 76 < hz < 97]
    with pytest.raises(RecordingError):
        classical(from_points(near), 6.3)


def test_re_of_another_loudspeaker_is_noticed() -> None:
    with pytest.raises(RecordingError, match="Measure Re of the same"):
        classical(curve(DRIVERS[0], 0.0), 70.0)


def test_a_cabinet_with_two_peaks_does_not_pass_for_free_air() -> None:
    hertz = np.geomspace(10.0, 1000.0, 200)
    z = impedance(hertz, 6.3, 40.0, 6.0, 0.6) + impedance(hertz, 6.3, 110.0, 8.0, 0.6) - 6.3
    with pytest.raises(RecordingError, match="free air"):
        fitted(ImpedanceCurve(hertz, np.abs(z)), 6.3)
