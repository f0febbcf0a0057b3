"""A drawn dossier is a file as a bench would type it, and always the same one."""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from endbell.dossier import parse_dossier, read_marks
from endbell.marks import KINDS
from endbell.reference import Reference

from .conftest import AS_OF, Seen, a_simulator, packs_in_force, some


def all_marks(dossiers: list[Seen]) -> list[Mapping[str, Any]]:
    return [mark for d in dossiers for mark in d.marks]


def test_the_same_seed_draws_the_same_bytes(with_maker: list[Seen]) -> None:
    again = a_simulator("brackwater")
    assert [again.draw(1, i) for i in range(20)] == [d.drawn for d in with_maker[:20]]


def test_a_dossier_does_not_depend_on_what_was_drawn_before(with_maker: list[Seen]) -> None:
    again = a_simulator("brackwater")
    assert [again.draw(1, i) for i in (333, 4, 333)] == [with_maker[i].drawn for i in (333, 4, 333)]


def test_another_seed_draws_other_dossiers(with_maker: list[Seen]) -> None:
    other = a_simulator("brackwater").draw(2, 0)
    assert other.id != with_maker[0].drawn.id
    assert other.text != with_maker[0].drawn.text


@pytest.mark.parametrize("world", ["with_maker", "without_maker"])
def test_every_file_is_read_without_a_problem(world: str, request: pytest.FixtureRequest) -> None:
    dossiers: list[Seen] = request.getfixturevalue(world)
    reference = packs_in_force(dossiers[0].file["packs"])
    for d in dossiers[:200]:
        dossier = parse_dossier(d.drawn.text, lambda _: reference, today=AS_OF)
        assert (dossier.id, dossier.as_of) == (d.drawn.id, AS_OF)
        assert dossier.problems == ()
        assert dossier.remarks == ()
        assert read_marks(dossier, reference).problems == ()
        assert {p.id for p in dossier.parts} == set(d.drawn.truth.origins)
        assert d.drawn.truth.married <= {p.assembly for p in dossier.parts}


def test_every_kind_of_mark_appears(with_maker: list[Seen]) -> None:
    assert {mark["kind"] for mark in all_marks(with_maker)} == set(KINDS)


def test_every_result_of_a_look_appears(with_maker: list[Seen]) -> None:
    results = Counter(mark.get("result", "seen") for mark in all_marks(with_maker))
    assert set(results) == {"seen", "absent", "nothing-found", "illegible", "not-possible"}
    assert results["seen"] > 0.85 * results.total()


def test_texts_come_in_every_state(with_maker: list[Seen]) -> None:
    codes = [m for m in all_marks(with_maker) if m["kind"] == "source-date-code" and "text" in m]
    worn = Counter(m.get("legibility", "clear") for m in codes)
    assert worn["clear"] > worn["worn"] > worn["poor"] > 20
    texts = [m["text"] for m in codes]
    for sign in ("?", "[", "...", "-", " ", "/"):
        assert sum(sign in t for t in texts) > 10, sign
    assert any(t.startswith("...") for t in texts)
    assert any(t.endswith("...") for t in texts)


def test_half_of_the_codes_have_one_digit_of_the_year(with_maker: list[Seen]) -> None:
    plain = [
        m["text"] for m in all_marks(with_maker) if m["kind"] == "source-date-code" and "text" in m
    ]
    digits = Counter(sum(c.isdecimal() for c in t) for t in plain if not set(t) & set("?[."))
    assert abs(digits[6] - digits[7]) < 0.15 * (digits[6] + digits[7])
    assert digits[5] + digits[8] > 0


def test_dossiers_are_of_many_sizes(with_maker: list[Seen]) -> None:
    sizes = [len(d.marks) for d in with_maker]
    assert 3 == min(sizes) < 8
    assert 20 < max(sizes) <= 26
    assert sum(8 <= n <= 16 for n in sizes) > len(sizes) / 2


def test_several_parts_of_a_class_and_valves_now_and_then(with_maker: list[Seen]) -> None:
    def most(stem: str) -> int:
        return max(sum(p.split("-")[0] == stem for p in d.drawn.truth.origins) for d in with_maker)

    assert (most("pot"), most("sp"), most("elco")) == (4, 3, 4)
    assert most("valve") >= 2
    assert any(d.file.get("part") for d in with_maker), "a part by an id of the bench's own"


def test_known_years_repairs_and_claims_stand_in_their_tables(without_maker: list[Seen]) -> None:
    assert 0.1 < sum("known" in d.file for d in without_maker) / len(without_maker) < 0.5
    repairs = [r for d in without_maker for r in d.file.get("repair", ())]
    assert repairs
    assert {r["replaced"] for r in repairs} == {True, False}
    assert all(r["part"] and r["done"] and r["note"] for r in repairs)
    claims = [d.file.get("claim", {}) for d in without_maker]
    assert {key for c in claims for key in c} == {"built", "original", "except", "by"}


def test_nothing_of_the_engine_is_loaded() -> None:
    script = "import sys; import endbell.learning.simulation; print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=Path(__file__).parents[3] / "src",
        capture_output=True,
        text=True,
        check=True,
    )
    assert not [m for m in done.stdout.split() if m.startswith("endbell.chronology")]


SAID = 'source = "shop records"\nconfidence = "shop records"\n'


def test_a_shop_s_own_pack_draws_as_well(tmp_path: Path) -> None:
    rows = f"""
[[model]]
id = "harbour-8"
maker = "harbour"
title = "Harbour 8"
softness_weeks = 4.0
{SAID}
[[run]]
model = "harbour-8"
first = "1955"
last = "1958"
volume = 1.0
{SAID}
[[expected]]
id = "pot-1"
class = "potentiometer"
assembly = "chassis"
kinds = ["source-date-code"]
{SAID}
[[expected]]
id = "horn"
class = "loudspeaker"
assembly = "speakers"
kinds = ["source-date-code", "condition"]
{SAID}
"""
    folder = tmp_path / "shop"
    folder.mkdir()
    head = 'format = "endbell-pack/1"\nid = "shop"\nversion = "1"\ntitle = "A shop"\n'
    (folder / "pack.toml").write_text(head + rows, encoding="utf-8")
    reference = packs_in_force(("shop",), [folder])
    drawn = some(a_simulator("shop", reference=reference), 100)
    assert {d.drawn.truth.model for d in drawn} == {"harbour-8"}
    years = Counter(d.drawn.truth.build[:4] for d in drawn)
    assert sum(years[str(y)] for y in range(1955, 1959)) > 90
    for d in drawn:
        dossier = parse_dossier(d.drawn.text, lambda _: reference, today=AS_OF)
        assert (dossier.problems, read_marks(dossier, reference).problems) == ((), ())


@pytest.mark.parametrize("as_of", [date(1936, 5, 1), date(1958, 3, 1), date(2060, 1, 1)])
def test_any_day_will_do(as_of: date, brackwater: Reference) -> None:
    simulator = a_simulator("brackwater", as_of=as_of, reference=brackwater)
    last = as_of.isocalendar()
    for d in some(simulator, 30):
        assert d.file["as_of"] == as_of
        assert d.drawn.truth.build <= f"{last.year}-W{last.week:02d}"
