"""The table of what is done for safety names tests that exist."""

from __future__ import annotations

import re
from pathlib import Path

TESTS = Path(__file__).parents[1]
PAGE = TESTS.parent / "docs" / "security.md"
NAMED = re.compile(r"`([\w/]+\.py)::(test_\w+)`")


def rows() -> list[str]:
    table = PAGE.read_text(encoding="utf-8").partition("## What applies")[2].partition("\n## ")[0]
    return [line for line in table.splitlines() if line.startswith("| V")]


def test_every_row_names_a_test_that_exists() -> None:
    assert len(rows()) > 50
    missing: list[str] = []
    for row in rows():
        found = NAMED.search(row)
        assert found is not None, row
        file = TESTS / found[1]
        if not file.is_file() or f"def {found[2]}(" not in file.read_text(encoding="utf-8"):
            missing.append(f"{found[1]}::{found[2]}")
    assert missing == []


def test_what_is_left_out_has_its_reason() -> None:
    rest = PAGE.read_text(encoding="utf-8").partition("## What does not apply")[2]
    left = [line.split("|")[1:3] for line in rest.splitlines() if line.startswith("| V")]
    assert len(left) >= 8
    assert all(len(why.strip()) > 10 for _, why in left)
