"""Dossiers as a bench would type them, judged by what a good technician would say.

Each file begins with the reasoning in words; the lines ``#>`` say its conclusions, broad as a person
would be: a span of years (with nine chances in ten), the word for a part, whether the cabinet
belongs, how many rows can't be used.  They were written from the trade's habits, not from results.
"""

from __future__ import annotations

import re
from datetime import date
from functools import cache
from pathlib import Path

import pytest

from endbell.chronology import Verdict, weigh
from endbell.dossier import load_dossier
from endbell.reference import Reference, load_reference

FOLDER = Path(__file__).parent
FILES = sorted(FOLDER.glob("*.toml"))
SURE = 0.9
OPEN = 0.05


@cache
def reference_for(packs: tuple[str, ...]) -> Reference:
    return load_reference(packs)[0]


def conclusions(file: Path) -> list[str]:
    """The lines of a file that say what is concluded."""
    return re.findall(r"^#> (.+)$", file.read_text(encoding="utf-8"), re.MULTILINE)


def agrees(verdict: Verdict, conclusion: str) -> bool:
    """Whether the verdict says what the technician says."""
    subject, _, said = (piece.strip() for piece in conclusion.partition(":"))
    years = verdict.build.years
    if conclusion.startswith("built "):
        first, last = map(int, conclusion.removeprefix("built ").split(".."))
        return sum(p for year, p in years.items() if first <= year <= last) >= SURE
    if conclusion == "undecided":
        return max(years.values()) < SURE
    if subject == "open":
        return all(years.get(int(year), 0.0) > OPEN for year in said.split())
    if subject == "not weighed":
        return len(verdict.not_weighed) == int(said)
    if subject == "claim":
        assert verdict.claim is not None and verdict.claim.p is not None
        return verdict.claim.p > 0.5 if said == "stands" else verdict.claim.p < 0.1
    if said in ("married", "belongs"):
        married = next(a.married for a in verdict.assemblies if a.assembly == subject)
        return married > SURE if said == "married" else married < 0.1
    part = next(p for p in verdict.parts if p.part == subject)
    return part.word in [word.strip() for word in said.split("|")]


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_the_verdict_says_what_a_good_technician_says(file: Path) -> None:
    dossier = load_dossier(file, reference_for, today=date(2026, 3, 30))
    verdict = weigh(dossier, reference_for(dossier.packs), {})
    said = conclusions(file)
    assert said
    wrong = [conclusion for conclusion in said if not agrees(verdict, conclusion)]
    parts = {p.part: (p.word, round(p.original, 3)) for p in verdict.parts}
    assert not wrong, f"{wrong}; built {verdict.build.edtf} {dict(verdict.build.years)}, {parts}"


def test_there_are_enough_of_them() -> None:
    assert len(FILES) >= 12
