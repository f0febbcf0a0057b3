"""Files as shops have them: every bad one is refused in a sentence that says what would do."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from endbell.bench.audio import RecordingError, Sweep, read, read_pair
from endbell.bench.audio.files import write

from .made import distorted, moments

RATE = 48000
TONE = distorted(moments(RATE, 1.0), 1000.0, 0.5, {})


def written(path: Path, samples: np.ndarray, rate: int = RATE, subtype: str = "PCM_24") -> Path:
    soundfile.write(path, samples, rate, subtype=subtype)
    return path


def refused(path: Path, channel: str = "") -> str:
    with pytest.raises(RecordingError) as caught:
        read(path, channel)
    said = str(caught.value)
    assert said.startswith(f"{path.name}: ") and caught.value.accepted in said
    return said


@pytest.mark.parametrize("rate", [44100, 48000, 88200, 96000, 176400, 192000])
@pytest.mark.parametrize(
    ("ending", "subtype"),
    [
        ("wav", "PCM_16"),
        ("wav", "PCM_24"),
        ("wav", "FLOAT"),
        ("flac", "PCM_16"),
        ("flac", "PCM_24"),
    ],
)
def test_wav_and_flac_are_read(tmp_path: Path, rate: int, ending: str, subtype: str) -> None:
    wave = distorted(moments(rate, 0.3), 1000.0, 0.5, {})
    signal = read(written(tmp_path / f"a.{ending}", wave, rate, subtype))
    assert signal.rate == rate and signal.seconds == pytest.approx(0.3, abs=1e-3)
    assert np.abs(signal.samples - wave).max() <= 2 * max(signal.step, 2.0**-23)


def test_a_long_file_comes_in_blocks_and_in_order(tmp_path: Path) -> None:
    ramp = np.linspace(-0.9, 0.9, 800_000)
    signal = read(written(tmp_path / "long.flac", ramp))
    assert np.abs(signal.samples - ramp).max() < 2e-7


def test_of_a_stereo_file_the_channel_must_be_said(tmp_path: Path) -> None:
    path = written(tmp_path / "st.wav", np.stack([TONE, 0.5 * TONE], axis=1))
    assert "channel = left, right" in refused(path)
    assert read(path, "left").samples.max() == pytest.approx(0.5, abs=1e-3)
    for right in ("right", "R", "2", 2.0):
        assert read(path, right).samples.max() == pytest.approx(0.25, abs=1e-3)


def test_two_channels_that_are_the_same_are_one(tmp_path: Path) -> None:
    path = written(tmp_path / "st.wav", np.stack([TONE, TONE], axis=1))
    assert read(path).samples.shape == TONE.shape


def test_a_channel_that_is_silent_is_named(tmp_path: Path) -> None:
    path = written(tmp_path / "st.wav", np.stack([TONE, 0 * TONE], axis=1))
    assert "channel 2 is silent" in refused(path)
    assert "silent" in refused(path, "right")


@pytest.mark.parametrize("channel", ["middle", "3", "0", "-1"])
def test_a_channel_that_is_not_there_is_said(tmp_path: Path, channel: str) -> None:
    path = written(tmp_path / "st.wav", np.stack([TONE, 0.5 * TONE], axis=1))
    assert "from 1 to 2" in refused(path, channel)


def test_a_silent_file_is_refused(tmp_path: Path) -> None:
    assert "it is silent" in refused(written(tmp_path / "s.wav", 0 * TONE))
    assert "steady 0.3000" in refused(written(tmp_path / "dc.wav", 0 * TONE + 0.3))


@pytest.mark.parametrize("left", [0.9, 0.5, 0.05])
def test_a_wav_cut_short_is_refused(tmp_path: Path, left: float) -> None:
    path = written(tmp_path / "cut.wav", TONE)
    path.write_bytes(path.read_bytes()[: int(path.stat().st_size * left)])
    assert "it was cut short" in refused(path)


def test_a_wav_cut_in_its_head_is_refused(tmp_path: Path) -> None:
    path = written(tmp_path / "cut.wav", TONE)
    whole = path.read_bytes()
    for length in (1, 11, 13, 20, 30, 40):
        path.write_bytes(whole[:length])
        assert "Accepted is WAV or FLAC" in (said := refused(path)) or "anew" in said


def test_a_flac_cut_short_is_refused(tmp_path: Path) -> None:
    noise = np.random.default_rng(1).normal(size=RATE) * 0.1
    path = written(tmp_path / "cut.flac", noise)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    refused(path)


def test_samples_that_are_no_numbers_are_refused_with_their_place(tmp_path: Path) -> None:
    wave = TONE.copy()
    wave[24000] = np.nan
    assert "from 0.500 s on" in refused(written(tmp_path / "nan.wav", wave, subtype="FLOAT"))
    wave[24000] = np.inf
    assert "no numbers" in refused(written(tmp_path / "inf.wav", wave, subtype="FLOAT"))


def test_an_unknown_sample_rate_is_refused_with_those_that_are_known(tmp_path: Path) -> None:
    said = refused(written(tmp_path / "r.wav", TONE, 12345))
    assert "12345 Hz" in said and "44.1, 48" in said


def test_eight_bits_and_other_forms_are_refused(tmp_path: Path) -> None:
    assert "PCM_U8" in refused(written(tmp_path / "8.wav", TONE, subtype="PCM_U8"))
    assert "ULAW" in refused(written(tmp_path / "u.wav", TONE, subtype="ULAW"))
    assert "OGG" in refused(written(tmp_path / "o.ogg", TONE, subtype="VORBIS"))


def test_too_short_and_too_long_files_are_refused(tmp_path: Path) -> None:
    assert "better 10 s" in refused(written(tmp_path / "short.wav", TONE[:100]))
    long = np.zeros(32000 * 301, np.int16)
    soundfile.write(tmp_path / "long.flac", long, 32000, subtype="PCM_16")
    assert "300 s at most" in refused(tmp_path / "long.flac")


def test_what_is_no_file_is_said(tmp_path: Path) -> None:
    assert "no such file" in refused(tmp_path / "gone.wav")
    (tmp_path / "empty.wav").touch()
    assert "the file is empty" in refused(tmp_path / "empty.wav")
    (tmp_path / "folder.wav").mkdir()
    refused(tmp_path / "folder.wav")
    (tmp_path / "text.wav").write_text("not a recording at all\n" * 100)
    assert "cannot be read" in refused(tmp_path / "text.wav")


def test_two_voltages_at_once_need_two_channels(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="two are needed"):
        read_pair(written(tmp_path / "mono.wav", TONE))
    left, right = read_pair(written(tmp_path / "st.wav", np.stack([TONE, 0.5 * TONE], axis=1)))
    assert left.samples.max() == pytest.approx(2 * right.samples.max(), rel=1e-3)


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_no_broken_file_does_anything_but_be_refused(tmp_path: Path, data: st.DataObject) -> None:
    path = tmp_path / "broken.wav"
    whole = tmp_path / "whole.wav"
    if not whole.exists():
        written(whole, TONE[:14000], subtype="PCM_16")
    held = bytearray(whole.read_bytes())
    for _ in range(data.draw(st.integers(1, 6))):
        held[data.draw(st.integers(0, 60))] = data.draw(st.integers(0, 255))
    path.write_bytes(held[: data.draw(st.sampled_from([12, 40, 44, 60, len(held)]))])
    try:
        signal = read(path, "left")
    except RecordingError as error:
        assert str(error).startswith("broken.wav: ")
    else:
        assert np.isfinite(signal.samples).all()


def test_a_sweep_to_be_played_is_written_as_it_is(tmp_path: Path) -> None:
    wave = 0.5 * Sweep(seconds=1.0).samples(RATE)
    write(tmp_path / "sweep.wav", wave, RATE)
    assert np.abs(read(tmp_path / "sweep.wav").samples - wave).max() < 2e-7
    with pytest.raises(RecordingError, match="beyond full scale"):
        write(tmp_path / "loud.wav", 3 * wave, RATE)
    with pytest.raises(RecordingError, match="cannot be written"):
        write(tmp_path / "no" / "sweep.wav", wave, RATE)
    with pytest.raises(RecordingError, match="path of a WAV"):
        read("a\0b.wav")
