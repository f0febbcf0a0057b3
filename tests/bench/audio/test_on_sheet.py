"""Audio on a sheet: from files to lines, with what is said of each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import pi, sqrt
from pathlib import Path

import numpy as np
import pytest
import soundfile
from scipy.optimize import brentq

from endbell.bench.audio import Sweep, lines
from endbell.bench.audio.plots import plot_of
from endbell.bench.audio.recorded import measured
from endbell.bench.circuit import Circuit, Seat, Winding
from endbell.bench.kinds import line_kinds, line_subjects
from endbell.bench.lines import Judgement, Line
from endbell.bench.readings import Bench, Reading, Recording

from .made import Floats, distorted, moments

RATE = 48000
TOP = 24.0  # V where the amp of the steps bends
FULL = 60.0  # volts at the load of full scale
CIRCUIT = Circuit(id="wick-6", title="", source="", confidence="", rated_watt=20.0, load_ohm=8.0)
COMBO = replace(
    CIRCUIT,
    seats=(Seat("V3", "12AX7", "tremolo"), Seat("V4", "12AT7", "reverb drive")),
    windings=(Winding("rt-s", "rt", "reverb"),),
)


def clip(volts: Floats, top: float) -> Floats:
    """An amp that clips softly at ``top`` volts."""
    return top * np.tanh(volts / top)


def bent_power(limit: float) -> float:
    """W in 8 ohm where the amp distorts by ``limit``, worked out on one period."""
    period = np.sin(2 * pi * np.arange(4096) / 4096)

    def thd(peak: float) -> float:
        line = np.abs(np.fft.rfft(clip(peak * period, TOP)))[1:11]
        return float(np.sqrt(np.sum(line[1:] ** 2) / np.sum(line**2)))

    peak = brentq(lambda p: thd(p) - limit, 1.0, 100.0)
    return float(np.mean(clip(peak * period, TOP) ** 2)) / 8.0


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("recordings")
    rng = np.random.default_rng(7)
    t = moments(RATE, 5.0)
    tone = np.sin(2 * pi * 1000 * t)
    step = tone[: RATE // 2]
    sweep = np.concatenate([np.zeros(9000), Sweep(10, 21500, 5).samples(RATE), np.zeros(RATE)])
    fade = np.where(t < 0.3, 0.0, 10 ** (-3 * (t - 0.3) / 2.0))
    made: Mapping[str, Floats] = {
        "sine": distorted(t, 1000.0, 10 * sqrt(2) / FULL, {2: 0.01, 3: 0.02}),
        "quiet sine": 1e-5 * tone,
        "steps": np.concatenate([clip(60 * 10 ** (g / 20) * step, TOP) for g in range(-24, 3)])
        / FULL,
        "rest": (8e-3 * np.sin(2 * pi * 100 * t) + 2e-3 * np.sin(2 * pi * 50 * t)) * sqrt(2) / FULL,
        "hiss": np.zeros_like(t),
        "sweep": 0.05 * sweep,
        "tremolo": 0.2 * tone * (1 + 0.5 * np.sin(2 * pi * 5 * t)),
        "reverb": 0.1 * rng.normal(size=t.size) * fade,
        "clipped": np.clip(1.5 * tone, -1, 1),
    }
    for name, wave in made.items():
        noise = rng.normal(size=wave.size) * (0.0 if name == "clipped" else 1e-5)
        soundfile.write(folder / f"{name}.wav", wave + noise, RATE, subtype="PCM_24")
    return folder


def recording(
    files: Path, n: int, kind: str, name: str, scale: float | None = FULL, **keys: float | str
) -> Recording:
    load = keys.pop("load", None)
    return Recording(
        n, kind, str(files / f"{name}.wav"), scale, float(load) if load else None, keys=keys
    )


def read(n: int, line: str, value: float, at: str = "") -> Reading:
    return Reading(n, line, at, str(value), value)


def told(
    *recordings: Recording, readings: tuple[Reading, ...] = (), circuit: Circuit = CIRCUIT
) -> dict[str, Line]:
    found = lines(Bench(circuit, readings, line_kinds(), recordings=recordings))
    return {f"{line.id} {line.at}".strip(): line for line in found}


def test_an_amp_not_measured_yet_is_asked_for_its_load_first() -> None:
    found = told(circuit=COMBO)
    assert next(iter(found)) == "dummy-load-ohm"
    assert all(line.judgement is Judgement.NOT_MEASURED for line in found.values())
    assert {"output-watt", "thd", "hum", "noise-a", "tremolo-rate", "reverb-decay"} <= set(found)


def test_an_amp_without_tremolo_and_reverb_is_not_asked_for_them() -> None:
    assert not [line for line in told() if line.startswith(("tremolo", "reverb"))]


def test_every_powered_line_waits_for_its_load_and_warns() -> None:
    own = [kind for kind in line_kinds().values() if line_subjects()[kind.id] == "audio"]
    kinds = [kind for kind in own if kind.powered]
    assert len(kinds) >= 14
    for kind in kinds:
        assert "dummy-load-ohm" in kind.needs and "leakage-both" in kind.needs
        for words in (
            "Never run a valve amp without its load",
            "hot",
            "High voltage",
            "local codes",
            "licensed",
        ):
            assert words in kind.caution


@pytest.mark.parametrize(("ohm", "judgement"), [(7.9, "within"), (4.0, "low"), (16.0, "high")])
def test_a_load_the_amp_is_not_made_for_is_off(ohm: float, judgement: str) -> None:
    assert told(readings=(read(1, "dummy-load-ohm", ohm),))["dummy-load-ohm"].judgement == judgement


def test_power_is_told_with_its_definition_and_judged_by_the_rated_one(files: Path) -> None:
    line = told(recording(files, 1, "level steps", "steps", load=8.0))["output-watt"]
    assert line.judgement is Judgement.WITHIN
    assert line.value == pytest.approx(bent_power(0.05), rel=0.02)
    assert "at 5% distortion in 8 Ω" in line.says and "at 1%" in line.says
    assert "IEC 60268-3" in line.works and "20 W" in line.bounds[0].title


def test_a_weak_amp_is_low(files: Path) -> None:
    strong = replace(CIRCUIT, rated_watt=50.0)
    line = told(recording(files, 1, "level steps", "steps", load=8.0), circuit=strong)[
        "output-watt"
    ]
    assert line.judgement is Judgement.LOW


def test_power_by_a_meter_will_do(files: Path) -> None:
    line = told(readings=(read(3, "output-volts", 12.0), read(4, "dummy-load-ohm", 8.0)))[
        "output-watt"
    ]
    assert line.value == pytest.approx(18.0) and line.readings == (3,)


def test_without_calibration_ratios_are_told_and_watts_are_not(files: Path) -> None:
    found = told(
        recording(files, 1, "sine", "sine", None), recording(files, 2, "level steps", "steps", None)
    )
    assert found["thd"].value == pytest.approx(sqrt(5e-4 / (1 + 5e-4)), rel=1e-3)
    assert "not calibrated" in found["thd"].says
    assert (
        found["output-watt"].value is None
        and "without volts of full scale" in found["output-watt"].says
    )


def test_a_tone_read_by_the_meter_calibrates_the_others(files: Path) -> None:
    sine = recording(files, 1, "sine", "sine", None, meter_volts=10.0 * sqrt(1 + 5e-4))
    found = told(sine, recording(files, 2, "silence", "rest", None))
    assert "10 V or 12.5 W at the load" in found["thd"].says
    assert found["hum"].value == pytest.approx(20 * np.log10(sqrt(68) * 1e-3 / sqrt(160)), abs=0.05)
    assert "calibrated by recording 1" in found["hum"].works.lower()


def test_distortion_names_its_harmonics(files: Path) -> None:
    line = told(recording(files, 1, "sine", "sine", load=8.0))["thd"]
    assert "2.: 1 %, 3.: 2 %" in line.says and line.judgement is Judgement.WITHIN


def test_hum_and_noise_are_told_against_the_rated_output(files: Path) -> None:
    found = told(recording(files, 1, "silence", "rest"))
    assert "8.25 mV of hum, the most of it at 100.0 Hz (mains 50.00 Hz)" in found["hum"].says
    assert found["hum"].judgement is Judgement.WITHIN
    assert found["noise-a"].value < found["noise"].value


def test_an_amp_that_hums_is_high(files: Path) -> None:
    loud = told(recording(files, 1, "silence", "rest", 10 * FULL))
    assert loud["hum"].judgement is Judgement.HIGH and loud["noise"].judgement is Judgement.HIGH


def test_too_much_hum_is_told_apart_by_its_order(files: Path) -> None:
    quiet, loud = (
        told(recording(files, 1, "silence", "rest", v))["hum-order"] for v in (FULL, 10 * FULL)
    )
    assert (quiet.value, quiet.judgement) == (0.0, Judgement.WITHIN)
    assert (loud.value, loud.judgement) == (2.0, Judgement.HIGH)
    assert "as a rectifier leaves it: 97% of its voltage" in loud.says
    typed = told(recording(files, 1, "silence", "rest"), readings=(read(1, "hum-order", 1.0),))
    assert "hum-order" not in typed


def test_without_a_rated_output_volts_are_all_there_is(files: Path) -> None:
    bare = replace(CIRCUIT, rated_watt=None)
    line = told(recording(files, 1, "silence", "rest"), circuit=bare)["hum"]
    assert line.value is None and "8.25 mV" in line.says and "no ratio" in line.says


def test_an_amp_without_hum_is_said_to_have_none(files: Path) -> None:
    line = told(recording(files, 1, "silence", "hiss"))["hum"]
    assert line.judgement is Judgement.WITHIN and "No hum" in line.says


def test_the_response_of_a_whole_amp_is_shown_and_that_of_a_power_amp_judged(files: Path) -> None:
    whole = told(recording(files, 1, "sweep", "sweep", seconds=5.0))["response-flatness"]
    assert whole.judgement is Judgement.NO_LIMIT and whole.value == pytest.approx(0.0, abs=0.02)
    power = recording(files, 1, "sweep", "sweep", seconds=5.0, through="power amp")
    assert told(power)["response-flatness"].judgement is Judgement.WITHIN


def test_tremolo_and_reverb_from_their_recordings(files: Path) -> None:
    found = told(recording(files, 1, "tremolo", "tremolo"), recording(files, 2, "reverb", "reverb"))
    assert found["tremolo-rate"].value == pytest.approx(5.0, rel=2e-3)
    assert found["tremolo-depth"].value == pytest.approx(0.5, rel=0.02)
    assert found["reverb-decay"].value == pytest.approx(2.0, rel=0.03)
    assert {found[n].judgement for n in ("tremolo-rate", "tremolo-depth", "reverb-decay")} == {
        Judgement.WITHIN
    }


def test_output_impedance_and_damping_from_two_loads() -> None:
    found = told(readings=(read(1, "load-volts", 4.0, "8"), read(2, "load-volts", 5.0, "16 ohm")))
    assert found["output-ohm"].value == pytest.approx(16 / 3)
    assert found["damping-factor"].value == pytest.approx(1.5)
    assert found["output-ohm"].readings == (1, 2)


def test_voltages_at_two_loads_that_were_swapped_are_said() -> None:
    found = told(readings=(read(1, "load-volts", 5.0, "16"), read(2, "load-volts", 2.0, "8")))
    assert found["output-ohm"].judgement is Judgement.ODD and "swapped" in found["output-ohm"].says


def test_what_a_converter_clipped_is_told_and_never_measured_as_the_amps(files: Path) -> None:
    for kind in ("sine", "level steps", "sweep", "silence", "tremolo", "reverb"):
        found = told(recording(files, 1, kind, "clipped", load=8.0), circuit=COMBO)
        held = [line for line in found.values() if "the converter clipped" in line.says]
        assert held, kind
        assert all(line.value is None and line.judgement is Judgement.NOT_MEASURED for line in held)
        assert not [line for line in found.values() if line.value is not None]


def test_a_bad_file_stops_no_other_line(files: Path) -> None:
    found = told(
        recording(files, 1, "sine", "gone"),
        recording(files, 2, "silence", "rest"),
        recording(files, 3, "level steps", "quiet sine"),
    )
    assert "gone.wav: there is no such file" in found["thd"].says
    assert found["hum"].value is not None
    assert "quiet sine.wav: the signal lies" in found["output-watt"].says


@pytest.mark.parametrize("value", ["loud", -3.0, 0.0, float("nan")])
def test_a_key_that_is_no_number_is_said(files: Path, value: float | str) -> None:
    line = told(recording(files, 1, "sweep", "sweep", seconds=value))["response-flatness"]
    assert line.value is None and "Give seconds as a number above zero" in line.says


def test_the_recording_after_the_repair_counts(files: Path) -> None:
    before = recording(files, 5, "silence", "rest", 10 * FULL)
    after = replace(recording(files, 2, "silence", "rest"), after=True)
    assert told(before, after)["hum"].judgement is Judgement.WITHIN


def test_values_typed_from_a_meter_are_taken_as_read() -> None:
    found = told(
        readings=(read(1, "thd", 0.08), read(2, "hum", -60.0), read(3, "output-watt", 19.0))
    )
    assert found["thd"].judgement is Judgement.HIGH
    assert found["hum"].judgement is Judgement.WITHIN
    assert found["output-watt"].judgement is Judgement.WITHIN and found["output-watt"].readings == (
        3,
    )


@pytest.mark.parametrize(
    ("kind", "name"),
    [
        ("sine", "sine"),
        ("level steps", "steps"),
        ("silence", "rest"),
        ("sweep", "sweep"),
        ("tremolo", "tremolo"),
        ("reverb", "reverb"),
    ],
)
def test_each_recording_has_its_picture(files: Path, kind: str, name: str) -> None:
    keys = {"seconds": 5.0} if kind == "sweep" else {}
    found, _ = measured(recording(files, 1, kind, name, **keys))
    spec = plot_of(found, volts=FULL, ohm=8.0)
    rows = spec["data"]["values"]
    fields = {axis["field"] for axis in spec["encoding"].values()}
    assert spec["$schema"].endswith("v6.json") and len(rows) > 1
    assert all(fields <= set(row) for row in rows)
    assert all(np.isfinite(v) for row in rows for v in row.values() if isinstance(v, float))
