"""The measurement of the bench runs, at its smallest, and says what it measured. Nothing is timed.

No ``__init__`` beside this file: the folder would then take the name of the measurements' package.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from benchmarks import bench

from endbell.cli.bench import demo_sheets


def test_every_sheet_and_kind_of_recording_is_measured(tmp_path: Path) -> None:
    said = bench.run(1, 2.0, tmp_path).read_text(encoding="utf-8")
    for name in demo_sheets():
        assert f"| {name} |" in said
    for kind in ("sine", "sweep", "silence", "tremolo"):
        assert f"| {kind} |" in said
    assert "| a whole sheet, the slowest | at most 100 ms |" in said
