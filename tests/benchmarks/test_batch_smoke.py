"""The measurement of long lists runs, at its smallest, and says what it measured."""

from __future__ import annotations

import json
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from benchmarks import batch  # noqa: E402
from benchmarks.harness import drawn  # noqa: E402


def small(tmp_path: Path, parts: list[str], size: int) -> str:
    return batch.run(
        parts,
        [size],
        count=8,
        rounds=1,
        workers=2,
        data=tmp_path / "data",
        out=tmp_path,
        command="python -m benchmarks.batch",
    ).read_text(encoding="utf-8")


def test_every_case_is_measured_and_other_sizes_stay(tmp_path: Path) -> None:
    said = small(tmp_path, ["rate"], 0)
    for case in (
        "every column, 1 worker",
        "every column, 2 workers",
        "posterior and origins alone",
    ):
        assert f"| {case}" in said
    small(tmp_path, ["growth"], 6)
    said = small(tmp_path, ["growth"], 9)
    assert "| 6 | 2 |" in said
    assert "| 9 | 2 |" in said
    assert "| memory in all, 9 dossiers | at most 1.5 GiB |" in said
    kept = json.loads((tmp_path / "batch.json").read_text())
    assert kept["growth"]["9"]["peak"] > 50 * 2**20


def test_the_dossiers_have_the_marks_they_are_said_to() -> None:
    found = list(drawn.dealt(drawn.Deal(least=11, most=12), 5, 0))
    assert {text.count("[[mark]]") for _, text in found} <= {11, 12}
    assert len({name for name, _ in found}) == 5
