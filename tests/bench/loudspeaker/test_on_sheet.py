"""Loudspeakers on a sheet."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from endbell.bench.audio import Sweep
from endbell.bench.circuit import Circuit
from endbell.bench.kinds import line_kinds
from endbell.bench.lines import Judgement, Line
from endbell.bench.loudspeaker import lines
from endbell.bench.readings import Bench, Reading, Recording

from .test_thiele_small import DRIVERS, READ, driver

CIRCUIT = Circuit(id="wick-6", title="", source="", confidence="", load_ohm=8.0)


def told(
    *readings: tuple[str, str, float], recordings: tuple[Recording, ...] = ()
) -> dict[str, Line]:
    made = tuple(Reading(n, line, at, str(v), v) for n, (line, at, v) in enumerate(readings, 1))
    found = lines(Bench(CIRCUIT, made, line_kinds(), recordings=recordings))
    return {f"{line.id} {line.at}".strip(): line for line in found}


def curve(name: str = "") -> list[tuple[str, str, float]]:
    z = np.abs(driver(np.array(READ, float), *DRIVERS[0])).tolist()
    return [("speaker-impedance", f"{name}{hz}", v) for hz, v in zip(READ, z, strict=True)]


def test_a_loudspeaker_not_measured_yet_is_asked_for() -> None:
    found = told()
    assert list(found) == ["speaker-re", "speaker-polarity", "speaker-impedance"]
    assert all(line.judgement is Judgement.NOT_MEASURED for line in found.values())
    assert not any(line_kinds()[line.id].powered for line in found.values())


@pytest.mark.parametrize(("ohm", "judgement"), [(6.3, "within"), (3.1, "low"), (13.0, "high")])
def test_a_coil_is_held_against_what_the_amp_is_made_for(ohm: float, judgement: str) -> None:
    assert told(("speaker-re", "", ohm))["speaker-re"].judgement == judgement


def test_a_curve_read_off_a_meter_gives_resonance_and_q() -> None:
    found = told(("speaker-re", "", 6.3), *curve())
    assert found["speaker-fs"].value == pytest.approx(82.0, rel=1e-3)
    assert found["speaker-qts"].value == pytest.approx(8 * 0.9 / 8.9, rel=1e-3)
    assert "the classical way" in found["speaker-qms"].says
    assert len(found["speaker-fs"].readings) == len(READ)


def test_each_loudspeaker_of_a_cabinet_has_its_own_lines() -> None:
    found = told(
        ("speaker-polarity", "left", 1.0), ("speaker-polarity", "right", -1.0), *curve("left@")
    )
    assert found["speaker-polarity left"].judgement is Judgement.WITHIN
    assert found["speaker-polarity right"].judgement is Judgement.ODD
    assert found["speaker-fs left"].value == pytest.approx(82.0, rel=1e-3)
    assert found["speaker-impedance right"].judgement is Judgement.NOT_MEASURED


def test_a_place_that_is_no_frequency_is_said() -> None:
    found = told(*curve(), ("speaker-impedance", "loud", 8.0))
    assert "is no frequency" in found["speaker-fs loud"].says


def test_a_curve_with_too_few_readings_is_said() -> None:
    found = told(*curve()[:4])
    assert found["speaker-fs"].value is None and "too few" in found["speaker-fs"].says


def test_values_of_another_instrument_are_taken_as_read() -> None:
    found = told(("speaker-fs", "", 91.0), ("speaker-qts", "", 0.7))
    assert (found["speaker-fs"].value, found["speaker-qts"].value) == (91.0, 0.7)
    assert found["speaker-qms"].judgement is Judgement.NOT_MEASURED


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_stereo_recording_of_a_sweep_gives_the_same(tmp_path: Path, side: str) -> None:
    rate = 48000
    wave = np.concatenate([Sweep(10, 21000, 5).samples(rate), np.zeros(rate)]) * 0.5
    hertz = np.fft.rfftfreq(wave.size, 1 / rate)
    hertz[0] = 1e-3
    z = driver(hertz, *DRIVERS[0])
    current = np.fft.rfft(wave) / (z + 10.0)
    pair = [np.fft.irfft(s, wave.size) for s in (current * z, current * 10.0)]
    soundfile.write(
        tmp_path / "z.wav",
        np.stack(pair if side == "left" else pair[::-1], axis=1),
        rate,
        subtype="PCM_24",
    )
    keys = {"series_ohm": 10.0, "speaker": side}
    made = Recording(1, "impedance", str(tmp_path / "z.wav"), keys=keys)
    found = told(("speaker-re", "", 6.3), recordings=(made,))
    assert found["speaker-fs"].value == pytest.approx(82.0, rel=0.01)
    assert found["speaker-qms"].value == pytest.approx(8.0, rel=0.03)
    bare = Recording(1, "impedance", str(tmp_path / "z.wav"))
    assert "series_ohm" in told(recordings=(bare,))["speaker-fs"].says
