"""The measurement of recordings runs, at its smallest, and finds what is in them. Nothing is timed.

No ``__init__`` beside this file: the folder would then take the name of the measurements' package.
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from benchmarks import audio  # noqa: E402


def test_every_kind_of_recording_is_measured_from_its_file(tmp_path: Path) -> None:
    taken = audio.timed(tmp_path, 6.0, 1)
    assert set(taken) == {*audio.signals(0.5), "impedance (stereo)"}
    assert all(times.rounds == 1 for times in taken.values())


def test_the_errors_are_those_of_what_was_put_in() -> None:
    for what, _, _, worst, asked in audio.errors((48000,)):
        assert 0.0 < worst <= asked, what
