"""A transformer that was measured weighs in the verdict, as a mark of its dossier."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from math import nan
from pathlib import Path

import pytest

from endbell.bench.readings import Bench
from endbell.bench.transformers import as_toml, mark_rows, measured_marks, shares
from endbell.chronology import Verdict, weigh
from endbell.dossier import parse_dossier
from endbell.reference import Reference, load_reference

from ..amps import AMP, bench, read

SAID = 'source = "invented world"\nconfidence = "invented world"\n'
HEAD = f"""
format = "endbell-pack/1"
id = "windings"
version = "1"
title = "What the windings of Brackwater's transformers measure (invented)"
builds_on = ["brackwater"]
{SAID}
[[quantity]]
id = "ot-ratio"
title = "turns ratio of the output transformer"
part = "ot"
unit = "1"
cost_to_fake = 0.2
softness_weeks = 6.0
level = "chassis-out"
{SAID}
[[quantity]]
id = "ot-primary-ohm"
title = "primary of the output transformer, at 20 °C"
part = "ot"
unit = "ohm"
factors = {{ kohm = 1000.0 }}
cost_to_fake = 0.2
softness_weeks = 6.0
level = "chassis-out"
{SAID}"""
ROWS = """quantity,value,mean,sd,first,last,models,source,confidence
ot-ratio,first-winding,28.7,0.3,1953,1960-12,lantern-20,invented world,invented world
ot-ratio,second-winding,31.6,0.3,1961-01,1971-12,lantern-20,invented world,invented world
ot-primary-ohm,first-winding,190.0,12.0,1953,1960-12,lantern-20,invented world,invented world
ot-primary-ohm,second-winding,250.0,15.0,1961-01,1971-12,lantern-20,invented world,invented world
"""
DOSSIER = """
format = "endbell-dossier/1"
id = "bench-1"
as_of = 2026-03-02
packs = ["windings"]

[claim]
maker = "brackwater"
model = "lantern-20"
"""


@pytest.fixture(scope="module")
def reference(tmp_path_factory: pytest.TempPathFactory) -> Reference:
    folder: Path = tmp_path_factory.mktemp("packs") / "windings"
    folder.mkdir()
    (folder / "pack.toml").write_text(HEAD, "utf-8")
    (folder / "alternative.csv").write_text(ROWS, "utf-8")
    found, problems = load_reference(("windings",), [folder.parent])
    assert problems == ()
    return found


Weighed = Callable[[str], Verdict]


@pytest.fixture(scope="module")
def weighed(reference: Reference) -> Weighed:
    def of(marks: str) -> Verdict:
        dossier = parse_dossier(DOSSIER + marks, lambda _: reference, today=date(2026, 3, 9))
        return weigh(dossier, reference, models=["lantern-20"], looks=0)

    return of


def sheet(ratio: float, ohm: float | None = None) -> Bench:
    taken = [
        read(1, "ratio-primary-volts", 10.0, at="ot-8"),
        read(2, "ratio-secondary-volts", 10.0 / ratio, at="ot-8"),
    ]
    if ohm is not None:
        taken.append(read(3, "winding-ohm", ohm, at="ot-primary"))
    return bench(*taken, ambient=303.15)


def test_two_voltages_become_a_ratio_that_the_pack_knows(reference: Reference) -> None:
    (mark,) = measured_marks(sheet(31.6), reference)
    assert (mark.part, mark.quantity, mark.unit) == ("ot", "ot-ratio", "1")
    assert mark.value == pytest.approx(31.6)
    assert mark.uncertainty == pytest.approx(31.6 * 0.01 * 2**0.5, rel=1e-6)
    assert mark.readings == (1, 2) and "reading 1, 2" in mark.note


def test_a_warm_primary_is_told_at_twenty_degrees(reference: Reference) -> None:
    marks = measured_marks(sheet(31.6, 260.0), reference)
    ohm = next(mark for mark in marks if mark.quantity == "ot-primary-ohm")
    assert ohm.value == pytest.approx(260.0 / 1.0393)


def test_the_tap_of_the_nominal_load_is_the_one_that_counts(reference: Reference) -> None:
    four = bench(read(1, "winding-ratio", 44.7, at="ot-4"))
    assert measured_marks(four, reference) == ()


def test_what_no_pack_knows_or_cannot_be_gives_no_mark(reference: Reference) -> None:
    plain = load_reference(("brackwater",))[0]
    assert measured_marks(sheet(31.6), plain) == ()
    for bad in (-31.6, nan, 0.0):
        assert measured_marks(bench(read(1, "winding-ratio", bad, at="ot-8")), reference) == ()
    bare = replace(sheet(31.6), circuit=replace(AMP, windings=()))
    assert measured_marks(bare, reference) == ()


def test_the_marks_are_tables_of_a_dossier(reference: Reference) -> None:
    marks = measured_marks(sheet(31.6, 260.0), reference)
    read_back = tomllib.loads(as_toml(marks))["mark"]
    assert read_back == mark_rows(marks)
    assert all(row["kind"] == "measured" for row in read_back)


def test_the_likelier_winding_by_the_reading_alone(reference: Reference) -> None:
    found = shares(measured_marks(sheet(31.5, 262.0), reference), reference.quantities)
    assert {name: rows[0].id for name, rows in found.items()} == {
        "ot-ratio": "second-winding",
        "ot-primary-ohm": "second-winding",
    }
    assert found["ot-ratio"][0].share > 0.99
    odd = shares(measured_marks(sheet(30.15), reference), reference.quantities)
    assert odd["ot-ratio"][0].share < 0.9  # half way between the two


def test_the_verdict_moves_to_the_years_of_the_winding(
    reference: Reference, weighed: Weighed
) -> None:
    def after_1960(verdict: Verdict) -> float:
        return sum(p for year, p in verdict.build.years.items() if int(year) > 1960)

    none = after_1960(weighed(""))
    second = weighed(as_toml(measured_marks(sheet(31.6), reference)))
    first = weighed(as_toml(measured_marks(sheet(28.7), reference)))
    assert not second.not_weighed and not first.not_weighed
    assert after_1960(first) < none < after_1960(second)


def test_a_winding_of_neither_kind_speaks_against_the_transformer(
    reference: Reference, weighed: Weighed
) -> None:
    def original(ratio: float) -> float:
        verdict = weighed(as_toml(measured_marks(sheet(ratio), reference)))
        return next(part.original for part in verdict.parts if part.part == "ot")

    assert original(20.3) < original(31.6)
