"""What next: one check first, answers that bring the next, and what stands behind a caution."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from datetime import date

import pytest
from fastapi import FastAPI

from endbell.batch.packs import Packs, Settings
from endbell.chronology import Workspace, weigh
from endbell.chronology.nextcheck import best_of
from endbell.chronology.verdict import NextCheck
from endbell.dossier.load import dossier_of
from endbell.report.numbers import bits, minutes
from endbell.store import By, Change, append, events_of, state_of
from endbell.web.asking import day_of
from endbell.web.desk import Desk
from endbell.web.panels import BEHIND_CAUTION

from .conftest import Client
from .one_app import a_dossier, one_app
from .test_live import plain

PACKS = Packs(Settings())
SPACE = Workspace()
FIRST = re.compile(r'<article class="nx-first.*?</article>', re.DOTALL)


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    """One workbench for this file."""
    with one_app(tmp_path_factory.mktemp("shop")) as made:
        yield made


@pytest.fixture
def dossier(desk: Desk) -> str:
    """A dossier of its own."""
    return a_dossier(desk)


def checks_of(desk: Desk, dossier: str) -> Sequence[NextCheck]:
    """The checks that the engine offers."""
    state = state_of(desk.db, dossier)
    day = date.fromisoformat(day_of(state))
    made = dossier_of(state.form(), {}, PACKS.reference, today=day)
    return weigh(made, PACKS.reference(made.packs), workspace=SPACE).next


def first_of(html: str) -> str:
    """The one check that stands first."""
    found = FIRST.search(html)
    return plain(found[0]) if found else ""


def read_caution(desk: Desk, dossier: str, level: str) -> None:
    """Somebody has read a caution."""
    read = Change("caution-acknowledged", {"level": level, "name": "Tomas"})
    append(desk.db, dossier, [read], by=By("tests"))


def test_the_first_check_is_the_best_for_its_minutes(
    client: Client, desk: Desk, dossier: str
) -> None:
    shown = [c for c in checks_of(desk, dossier) if c.level not in BEHIND_CAUTION]
    best = best_of(shown)
    said = first_of(client.get(f"/dossiers/{dossier}/next").text)
    assert best.title.lower() in said.lower()
    assert minutes(best.minutes) in said
    assert bits(best.gain_bits) in said
    assert "Why this?" in said


def test_a_check_is_done_at_its_spot(client: Client, desk: Desk, dossier: str) -> None:
    html = client.get(f"/dossiers/{dossier}/next").text
    for check in checks_of(desk, dossier):
        link = f"/dossiers/{dossier}/spots/{check.part}?check={check.check}"
        assert (link in html) == (check.level not in BEHIND_CAUTION)


def test_what_is_inside_stands_behind_its_caution_until_somebody_has_read_it(
    client: Client, desk: Desk, dossier: str
) -> None:
    inside = [c for c in checks_of(desk, dossier) if c.level == "chassis-out"]
    assert inside
    before = plain(client.get(f"/dossiers/{dossier}/next").text)
    assert "High voltage" in before
    assert f"{len(inside)} more check" in before
    read_caution(desk, dossier, "chassis-out")
    after = client.get(f"/dossiers/{dossier}/next").text
    for check in inside:
        assert f"/spots/{check.part}?check={check.check}" in after
    assert "I have read this" not in after or "a part loosened" in plain(after)


def test_a_check_that_cannot_be_done_is_recorded_and_makes_room_for_the_next(
    client: Client, desk: Desk, dossier: str
) -> None:
    best = best_of([c for c in checks_of(desk, dossier) if c.level not in BEHIND_CAUTION])
    before = first_of(client.get(f"/dossiers/{dossier}/next").text)
    said = {"check": best.check, "part": best.part, "answer": "nothing-there", "reason": "gone"}
    answer = client.post(f"/dossiers/{dossier}/answers", data=said, headers={"HX-Request": "true"})
    assert answer.status_code == 200
    assert first_of(answer.text) not in ("", before)
    last = events_of(desk.db, dossier)[-1]
    assert (last.kind, dict(last.data)) == ("check-answered", said)
    assert "“gone”" in plain(answer.text)
    html = client.get(f"/dossiers/{dossier}/next").text
    assert f"/spots/{best.part}?check={best.check}" not in html


def test_an_answer_sent_twice_is_recorded_once(client: Client, desk: Desk, dossier: str) -> None:
    said = {"check": "handle-form", "part": "handle", "key": "01HZZZZZZZZZZZZZZZZZZZZZZZ"}
    for _ in range(2):
        client.post(f"/dossiers/{dossier}/answers", data=said, headers={"HX-Request": "true"})
    kinds = [event.kind for event in events_of(desk.db, dossier)]
    assert kinds.count("check-answered") == 1


def test_an_answer_that_is_none_is_refused(client: Client, dossier: str) -> None:
    said = {"check": "handle-form", "part": "handle", "answer": "perhaps"}
    assert client.post(f"/dossiers/{dossier}/answers", data=said).status_code == 422


def test_a_reader_answers_nothing(reader: Client, dossier: str) -> None:
    said = {"check": "handle-form", "part": "handle"}
    assert reader.post(f"/dossiers/{dossier}/answers", data=said).status_code == 403
    assert "Can’t be done" not in reader.get(f"/dossiers/{dossier}/next").text


@pytest.mark.parametrize("deepest", ["outside", "back-off"])
def test_nobody_is_sent_further_in_than_they_want(
    client: Client, desk: Desk, dossier: str, deepest: str
) -> None:
    levels = ["outside", "back-off", "chassis-out", "loosened"]
    html = client.get(f"/dossiers/{dossier}/next", params={"deepest": deepest}).text
    for check in checks_of(desk, dossier):
        inside = levels.index(check.level) <= levels.index(deepest)
        assert (f"/spots/{check.part}?check={check.check}" in html) == inside
    assert "High voltage" not in html


def test_when_nothing_is_worth_its_minutes_the_report_is_offered(
    client: Client, desk: Desk, dossier: str
) -> None:
    for _ in range(12):
        found = checks_of(desk, dossier)
        answered = {(a.check, a.part) for a in state_of(desk.db, dossier).answers}
        left = [c for c in found if (c.check, c.part) not in answered and c.level == "outside"]
        if not left:
            break
        changes = [
            Change("check-answered", {"check": c.check, "part": c.part, "answer": "not-possible"})
            for c in left
        ]
        append(desk.db, dossier, changes, by=By("tests"))
    html = client.get(f"/dossiers/{dossier}/next", params={"deepest": "outside"}).text
    assert "worth its minutes" in plain(html)
    assert first_of(html) == ""
    assert f"/dossiers/{dossier}/report" in html
