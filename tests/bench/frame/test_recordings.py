"""Recordings beside a sheet: heard only where the amp may play, and refused with what would do."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from endbell.bench.circuit_of import with_circuit
from endbell.bench.compute import compute
from endbell.bench.result import SheetResult
from endbell.bench.sheet import load_sheet
from endbell.cli.bench import demo_sheets

RATE = 48_000
HEALTHY = next(iter(demo_sheets().values()))


def hum(seconds: float = 6.0) -> np.ndarray:
    """Silence of an amp on 50 Hz mains: a little hum and noise, full scale 1."""
    t = np.arange(int(seconds * RATE)) / RATE
    noise = np.random.default_rng(3).standard_normal(t.size)
    return 1e-3 * np.sin(2 * np.pi * 100 * t) + 1e-4 * noise


def computed(folder: Path, text: str) -> SheetResult:
    file = folder / "amp.toml"
    file.write_text(text, encoding="utf-8")
    return compute(*with_circuit(load_sheet(file)))


def row(kind: str = "silence", file: str = "take.wav", more: str = 'full_scale = "20 V"') -> str:
    return f'\n[[recording]]\nkind = "{kind}"\nfile = "{file}"\nload = "8 ohm"\n{more}\n'


def without(text: str, *lines: str) -> str:
    """The sheet without its readings of those lines."""
    head, *rows = text.split("[[reading]]\n")
    kept = [r for r in rows if not any(f'line = "{line}"' in r for line in lines)]
    return "[[reading]]\n".join([head, *kept])


def test_a_recording_is_measured_where_the_amp_may_play(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "take.wav", hum(), RATE, subtype="PCM_24")
    result = computed(tmp_path, without(HEALTHY, "hum", "noise") + row())
    line = result.line("hum")
    assert line is not None
    assert result.problems == ()
    # 1 mV of full scale is 14 mV rms at 20 V; rated 15 W into 8 ohm is 10.95 V
    assert line.value == pytest.approx(20 * np.log10(0.02 / np.sqrt(2) / np.sqrt(120)), abs=0.1)


def test_a_recording_is_not_even_read_while_safety_has_not_passed(tmp_path: Path) -> None:
    (tmp_path / "take.wav").write_bytes(b"no sound at all")
    result = computed(tmp_path, without(HEALTHY, "hum", "insulation") + row())
    assert result.line("hum") is None
    assert result.problems == ()


@pytest.mark.parametrize(
    ("made", "said"),
    [
        ("silent", "silent"),
        ("stereo", "2 channels"),
        ("truncated", ""),
        ("text", ""),
        ("nan", ""),
        ("clipped", "clip"),
    ],
)
def test_a_recording_that_cannot_be_used_is_a_problem_and_stops_nothing_else(
    tmp_path: Path, made: str, said: str
) -> None:
    file = tmp_path / "take.wav"
    t = np.arange(3 * RATE) / RATE
    tone = 0.5 * np.sin(2 * np.pi * 1000 * t)
    if made == "silent":
        soundfile.write(file, 0 * tone, RATE, subtype="PCM_24")
    elif made == "stereo":
        soundfile.write(file, np.stack([tone, 0.1 * tone], axis=1), RATE, subtype="PCM_24")
    elif made == "truncated":
        soundfile.write(file, tone, RATE, subtype="PCM_24")
        file.write_bytes(file.read_bytes()[:30])
    elif made == "text":
        file.write_text("no sound at all", encoding="utf-8")
    elif made == "nan":
        tone[1000] = np.nan
        soundfile.write(file, tone, RATE, subtype="FLOAT")
    else:
        soundfile.write(file, np.clip(4 * tone, -1, 1), RATE, subtype="PCM_16")
    result = computed(tmp_path, without(HEALTHY, "thd") + row("sine"))
    (problem,) = result.problems
    assert problem.found.startswith("take.wav: ")
    assert said in problem.found
    assert problem.accepted
    assert (problem.header, problem.table) == ("recording", 1)
    line = result.line("thd")
    assert line is None or line.value is None
    watt = result.line("output-watt")
    assert watt is not None
    assert watt.value is not None


def test_another_folder_s_recording_is_not_followed(tmp_path: Path) -> None:
    result = computed(tmp_path, HEALTHY + row(file="../take.wav"))
    (problem,) = result.problems
    assert problem.found == 'file is "../take.wav"'
    assert "beside the sheet" in problem.accepted
