"""What is learned becomes a pack that can be read, checked, used and thrown away."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from endbell.chronology.weeks import week_of
from endbell.learning.records.fit import Estimate, Round
from endbell.learning.records.intervals import Learned, learned
from endbell.learning.records.pack import Written, pack_files
from endbell.learning.records.patterns import pattern
from endbell.learning.records.serial import Knot
from endbell.learning.records.subjects import Subjects
from endbell.learning.records.sums import Sums
from endbell.reference import Reference, load_reference
from endbell.reference.check import check_pack

from .conftest import dossier, look, mark

SERIALS = {
    "wick-6-late": (
        Knot(5600, 1827.0, 1815.0, 1840.0, 0.0),
        Knot(5800, 1850.0, 1841.0, 1859.0, 31.0),
        Knot(6099, 1921.0, 1900.0, 1940.0, 0.0),
    )
}


def moved(subjects: Subjects, theta: np.ndarray, records: float = 50.0) -> list[Learned]:
    """As if these values had been learned from so many records."""
    size = subjects.space.size
    sums = replace(Sums.nothing(size), records=np.full(size, records))
    return learned(subjects.space, Estimate(theta, np.full(size, 0.1), Round(theta, sums, 0.0), 1))


def written(
    tmp_path: Path, subjects: Subjects, values: list[Learned], serials: dict = SERIALS
) -> Path:
    day = date(2026, 3, 2)
    pack = Written("learned", ("brackwater",), 120, 118, day, day, values, serials)
    folder = tmp_path / "learned"
    folder.mkdir()
    for name, text in pack_files(subjects, pack).items():
        (folder / name).write_text(text, "utf-8")
    return folder


@pytest.fixture(scope="module")
def truth(subjects: Subjects) -> np.ndarray:
    theta = subjects.space.draw(np.random.default_rng(7))
    for i, s in enumerate(subjects.space.scalars):
        if s.scale == "weeks":
            theta[i] = round(theta[i])
    return theta


def test_a_pack_says_again_what_was_learned(
    tmp_path: Path, subjects: Subjects, truth: np.ndarray
) -> None:
    folder = written(tmp_path, subjects, moved(subjects, truth))
    assert check_pack(folder) == ()
    shop, problems = load_reference(("brackwater", "learned"), (tmp_path,))
    assert problems == ()
    reference, assume = subjects.applied(truth)
    for s in subjects.space.scalars:
        if s.scale != "weeks":
            assert shop.assumptions[s.name].value == pytest.approx(assume[s.name], rel=1e-3)
    for part_class in {s.part_class for s in reference.supplies}:
        new, wanted = (
            [s for s in r.supplies if s.part_class == part_class] for r in (shop, reference)
        )
        assert [(s.number, s.models, s.window.first, s.window.last) for s in new] == [
            (s.number, s.models, s.window.first, s.window.last) for s in wanted
        ]
        assert [s.window.weight for s in new] == pytest.approx(
            [s.window.weight for s in wanted], rel=1e-3
        )
    for name, feature in reference.features.items():
        assert [(v.value, v.window, v.models) for v in shop.features[name].values] == [
            (v.value, v.window, v.models) for v in feature.values
        ]
    for legibility in ("worn", "poor"):
        new, wanted = (r.tables.digits[legibility].rows for r in (shop, reference))
        assert np.allclose(new, wanted, atol=2e-6)
        assert np.allclose(np.sum(new, axis=1), 1.0, atol=1e-9)


def test_a_curve_of_serials_takes_the_place_of_its_range(
    tmp_path: Path, subjects: Subjects
) -> None:
    written(tmp_path, subjects, [])
    shop, _ = load_reference(("brackwater", "learned"), (tmp_path,))
    rows = [r for r in shop.tables.serials if r.id.startswith("wick-6-late")]
    assert [(r.first_number, r.last_number) for r in rows] == [(5600, 5800), (5801, 6099)]
    assert week_of(rows[0].last) == 1850


def test_every_row_names_its_records_and_its_interval(
    tmp_path: Path, subjects: Subjects, truth: np.ndarray
) -> None:
    folder = written(tmp_path, subjects, moved(subjects, truth, records=7.0))
    with (folder / "assumption.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) > 60
    for row in rows:
        assert row["source"] == "shop records"
        assert "7 records" in row["confidence"]
        assert "few" in row["confidence"]
        assert "90%" in row["note"]
        assert row["note"].startswith("was ")


def test_what_the_records_say_nothing_of_is_not_written(
    tmp_path: Path, subjects: Subjects, truth: np.ndarray
) -> None:
    folder = written(tmp_path, subjects, moved(subjects, truth, records=0.4), {})
    assert [f.name for f in folder.iterdir()] == ["pack.toml"]
    assert check_pack(folder) == ()


def test_a_pattern_is_what_is_weighed_and_nothing_else(brackwater: Reference) -> None:
    body = mark("ot", "source-date-code", "993-348") + look("badge", "badge-form", "block-plate")
    one = dossier(body, brackwater)
    turned = look("badge", "badge-form", "block-plate") + mark("ot", "source-date-code", "993-348")
    same = dossier(turned + '[claim]\nbuilt = "1964"\n', brackwater, 'id = "B"\npurpose = "sell"\n')
    assert pattern(one) == pattern(same)
    others = (
        body.replace("993-348", "993-349"),
        body.replace('"clear"', '"worn"'),
        body.replace("block-plate", "brass-script"),
        body + '[known]\nmade = "1963/1966"\n',
        '[[repair]]\npart = "ot"\ndone = "1970"\nreplaced = true\n' + body,
        body + body.replace('"ot"', '"pt"'),
    )
    patterns = {pattern(dossier(other, brackwater)) for other in others}
    assert len(patterns) == len(others)
    assert pattern(one) not in patterns


def test_windows_are_left_where_several_makers_share_the_packs(
    brackwater: Reference, subjects: Subjects
) -> None:
    from endbell.learning.records.subjects import subjects_of

    other = replace(brackwater.models[0], id="other-1", maker="another")
    mixed = replace(brackwater, models=(*brackwater.models, other))
    found = subjects_of(mixed, subjects.assume, date(1976, 3, 1))
    assert found.supplies == ()
    assert not [s for s in found.space.scalars if s.scale == "weeks"]
    assert any(s.name == "lag.choke.sigma" for s in found.space.scalars)
