"""Recordings from files: WAV and FLAC, read in blocks, refused in a sentence.

The only place that knows the library.  A file whose header says more than it holds, that has two
channels where one is meant, that is silent or no sound at all is told so before it is measured.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np

from .arrays import Floats
from .errors import RecordingError
from .rules import rule, sample_rates

_KINDS = ("WAV", "WAVEX", "RF64", "FLAC")
_BITS = {"PCM_16": 16, "PCM_24": 24, "PCM_32": 32, "FLOAT": 32, "DOUBLE": 64, "PCM_U8": 8}
_FLOATS = ("FLOAT", "DOUBLE")
_BLOCK = 1 << 18
_NEVER = 1e8  # s: a recorder that did not write the length leaves a figure beyond all sense
_TAKEN = "Accepted is WAV or FLAC, 16 or 24 bit or float, one channel or two"
_SIDES = {"left": 0, "l": 0, "right": 1, "r": 1}


@dataclass(frozen=True, slots=True)
class Signal:
    """Samples of one channel, shape (frames,), full scale = 1; ``rate`` in Hz.

    ``step``: the smallest difference the file can hold, as a part of full scale.
    """

    samples: Floats
    rate: float
    step: float
    file: str = ""
    channel: str = ""

    @property
    def seconds(self) -> float:
        """How long it is."""
        return self.samples.size / self.rate


def read(path: Path | str, channel: str | float = "", *, name: str = "") -> Signal:
    """One channel of a file. ``channel``: 'left', 'right' or its number from 1; '' where the file
    has one channel, or two that are the same.  ``name``: what to call the file.

    Raises RecordingError with what would be accepted; never anything else for a bad file.
    """
    place = name or Path(path).name
    both, rate, step = _frames(Path(path), place)
    chosen = _chosen(both, channel, place)
    samples = np.ascontiguousarray(both[:, chosen])
    return Signal(_sounding(samples, place), rate, step, place, str(chosen + 1))


def read_pair(path: Path | str, *, name: str = "") -> tuple[Signal, Signal]:
    """Both channels of a file with two, left and right. Raises RecordingError as :func:`read`."""
    place = name or Path(path).name
    both, rate, step = _frames(Path(path), place)
    if both.shape[1] != 2:
        raise RecordingError(
            f"it has {both.shape[1]} channel{'s' if both.shape[1] != 1 else ''}, two are needed",
            "Record both voltages at once, one on each channel of a stereo file",
            place,
        )
    left, right = (_sounding(both[:, side].copy(), place) for side in (0, 1))
    return Signal(left, rate, step, place, "1"), Signal(right, rate, step, place, "2")


def write(path: Path | str, samples: Floats, rate: float) -> None:
    """Write one channel as 24-bit WAV, for signals that are to be played into an amp.

    ``samples``: full scale = 1.  Raises RecordingError where they do not fit or cannot be written.
    """
    place = Path(path).name
    if not np.isfinite(samples).all() or float(np.abs(samples).max()) >= 1.0:
        raise RecordingError("it goes beyond full scale", "Make it less loud", place)
    try:
        _library(place).write(str(path), samples, int(rate), subtype="PCM_24", format="WAV")
    except (OSError, RuntimeError) as error:
        raise RecordingError(
            f"it cannot be written ({error})", "Choose another place", place
        ) from (error)


def _frames(path: Path, place: str) -> tuple[Floats, float, float]:
    _whole(path, place)
    library = _library(place)
    try:
        with library.SoundFile(str(path)) as file:
            rate, step = _form(file, place)
            said = int(file.frames)
            out = np.empty((said, int(file.channels)))
            at = 0
            for block in _blocks(file):
                out[at : at + len(block)] = block
                at += len(block)
    except library.LibsndfileError as error:
        told = str(getattr(error, "error_string", error)).rstrip(".")
        raise RecordingError(f"it cannot be read ({told})", _TAKEN, place) from error
    except MemoryError as error:
        raise RecordingError("it is too large for this machine", "Cut it", place) from error
    if at < said:
        raise _short(said / rate, at / rate, place)
    if not np.isfinite(out.sum()) and not np.isfinite(out).all():
        bad = int(np.argmax(~np.isfinite(out).all(axis=1)))
        raise RecordingError(
            f"from {bad / rate:.3f} s on it holds samples that are no numbers",
            "Export it again, as 24-bit WAV or FLAC",
            place,
        )
    return out, rate, step


def _library(place: str) -> Any:
    """The library that reads sound files; it has no types of its own."""
    try:
        return import_module("soundfile")
    except (ImportError, OSError) as error:
        raise RecordingError(
            "the library that reads recordings is not installed",
            "Install Endbell with its 'bench' extra",
            place,
        ) from error


def _blocks(file: Any) -> Iterator[Floats]:
    while True:
        block: Floats = file.read(_BLOCK, dtype="float64", always_2d=True)
        if not len(block):
            return
        yield block


def _form(file: Any, place: str) -> tuple[float, float]:
    """Sample rate and the smallest step, where the form of the file is one that can be measured."""
    if file.format not in _KINDS:
        raise RecordingError(f"it is a {file.format} file", _TAKEN, place)
    bits = _BITS.get(file.subtype, 0)
    if bits < rule("fewest-bits"):
        raise RecordingError(
            f"its samples are {file.subtype}, which distorts by itself", _TAKEN, place
        )
    rate = int(file.samplerate)
    if rate not in sample_rates():
        known = ", ".join(f"{r / 1000:g}" for r in sample_rates())
        raise RecordingError(
            f"its sample rate of {rate} Hz is none that is known", f"Accepted is {known} kHz", place
        )
    seconds = int(file.frames) / rate
    if file.frames == 0:
        raise RecordingError("it holds no samples", "Record the signal anew", place)
    if seconds > rule("longest"):
        raise RecordingError(
            "it does not say how long it is"
            if seconds > _NEVER
            else f"it says it is {seconds:.0f} s long",
            f"Cut it to what is measured, {rule('longest'):.0f} s at most",
            place,
        )
    if seconds < rule("shortest"):
        raise RecordingError(
            f"it is only {seconds:.3f} s long",
            f"Record {rule('shortest'):g} s at least, better 10 s",
            place,
        )
    return float(rate), 2.0**-23 if file.subtype in _FLOATS else 2.0 ** (1 - bits)


def _whole(path: Path, place: str) -> None:
    """Whether the file is there and a WAV holds what its header says: libraries mend it unasked."""
    try:
        size = path.stat().st_size
        if not size:
            raise RecordingError("the file is empty", _TAKEN, place)
        with path.open("rb") as file:
            head = file.read(12)
            if head[:4] != b"RIFF" or head[8:12] != b"WAVE":
                return
            frame, rate = 0, 0
            while len(chunk := file.read(8)) == 8:
                length = struct.unpack("<I", chunk[4:])[0]
                if chunk[:4] == b"data":
                    left = size - file.tell()
                    # a recorder that never came to write the length leaves 0 or all ones
                    if length not in (0, 0xFFFFFFFF) and length > left and frame and rate:
                        raise _short(length / frame / rate, left / frame / rate, place)
                    return
                if chunk[:4] == b"fmt " and length >= 16:
                    fields = file.read(16)
                    if len(fields) < 16:
                        break
                    _, _, rate, _, frame, _ = struct.unpack("<HHIIHH", fields)
                    file.seek(length - 16 + length % 2, 1)
                else:
                    file.seek(length + length % 2, 1)
    except RecordingError:
        raise
    except (OSError, ValueError) as error:
        why = "there is no such file" if isinstance(error, FileNotFoundError) else str(error)
        raise RecordingError(why, "Give the path of a WAV or FLAC file", place) from error
    raise RecordingError("it breaks off before any sample", "Copy or record it anew", place)


def _short(said: float, held: float, place: str) -> RecordingError:
    return RecordingError(
        f"it says it is {said:.2f} s long and holds {held:.2f} s: it was cut short",
        "Copy it again, or record it anew and let the recorder close it",
        place,
    )


def _chosen(both: Floats, channel: str | float, place: str) -> int:
    count = both.shape[1]
    word = str(channel).strip().lower().removesuffix(".0")
    if word in _SIDES:
        side = _SIDES[word] if count > 1 or word in ("left", "l") else count
    elif word.isdigit():
        side = int(word) - 1
    elif word:
        side = -1
    elif count == 1 or (both == both[:, :1]).all():
        return 0
    else:
        loud = np.abs(both).max(axis=0)
        quiet = [n for n in range(count) if loud[n] <= 10 ** (rule("silent") / 20)]
        names = "left, right" if count == 2 else f"1 to {count}"
        hint = "; ".join(f"channel {n + 1} is silent" for n in quiet)
        raise RecordingError(
            f"it has {count} channels and they differ{': ' + hint if hint else ''}",
            f"Say which one is meant, channel = {names}, or record one channel",
            place,
        )
    if not 0 <= side < count:
        one = "one channel" if count == 1 else f"{count} channels"
        raise RecordingError(
            f"it has {one}, there is no channel {channel!r}",
            f"Say left, right or a number from 1 to {count}",
            place,
        )
    return side


def _sounding(samples: Floats, place: str) -> Floats:
    low, high = float(samples.min()), float(samples.max())
    if high - low <= 2 * 10 ** (rule("silent") / 20):
        steady = f", only a steady {high:.4f} of full scale" if abs(high) > 1e-4 else ""
        raise RecordingError(
            f"it is silent{steady}",
            "Check the lead, the input and its gain, and record again; "
            "even an amp at rest leaves some noise",
            place,
        )
    return samples
