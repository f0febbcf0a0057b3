"""Why, and what if: every number the engine's, and nothing of a what-if on the record."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import pytest
from fastapi import FastAPI

from endbell.batch.packs import Packs, Settings
from endbell.chronology import Verdict, Workspace, weigh
from endbell.dossier.load import dossier_of
from endbell.report import percent
from endbell.report.numbers import bits
from endbell.report.wording import conflict_words, headline
from endbell.store import By, Change, append, events_of, new_id, state_of
from endbell.web.asking import day_of
from endbell.web.desk import Desk

from .conftest import Client
from .one_app import a_dossier, one_app
from .test_live import plain

PACKS = Packs(Settings())


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    """One workbench for this file."""
    with one_app(tmp_path_factory.mktemp("shop")) as made:
        yield made


@pytest.fixture
def dossier(desk: Desk) -> str:
    """A dossier of its own."""
    return a_dossier(desk)


SPACE = Workspace()


def verdict_of(desk: Desk, dossier: str, without: tuple[int, ...] = ()) -> Verdict:
    """The verdict of the form, without some marks of it."""
    state = state_of(desk.db, dossier)
    form = state.form()
    form["mark"] = [m for n, m in enumerate(form["mark"], start=1) if n not in without]
    day = date.fromisoformat(day_of(state))
    made = dossier_of(form, {}, PACKS.reference, today=day)
    return weigh(made, PACKS.reference(made.packs), workspace=SPACE)


@pytest.fixture
def odd(desk: Desk, dossier: str) -> str:
    """The dossier with a loudspeaker of another decade."""
    row = {"part": "sp-1", "kind": "source-date-code", "text": "995-7812"}
    append(desk.db, dossier, [Change("mark-set", {"mark": new_id(), "row": row})], by=By("tests"))
    return dossier


def test_every_sentence_and_every_number_is_the_verdicts(
    client: Client, desk: Desk, odd: str
) -> None:
    said = plain(client.get(f"/dossiers/{odd}/why").text)
    verdict = verdict_of(desk, odd)
    for sentence in verdict.words:
        assert plain(sentence.text) in said
    for m in verdict.marks:
        assert m.mark.text in said
        assert f"{bits(m.influence_bits)} · fit {conflict_words(m)}" in said
    for conflict in verdict.conflicts:
        assert percent(conflict.p_all_right) in said
    for part in verdict.parts:
        figures = (part.original, part.later_replacement, part.period_replacement)
        assert " ".join(percent(p) for p in figures) in said
        assert part.word in said
    for unstable in verdict.unstable:
        assert unstable.what in said


def test_a_sentence_knows_its_marks(client: Client, desk: Desk, odd: str) -> None:
    html = client.get(f"/dossiers/{odd}/why").text
    for sentence in verdict_of(desk, odd).words:
        if sentence.marks:
            numbers = " ".join(map(str, sentence.marks))
            assert f'data-marks="{numbers}"' in html


def test_every_mark_can_be_left_out_and_asked_about(client: Client, desk: Desk, odd: str) -> None:
    html = client.get(f"/dossiers/{odd}/why").text
    for mark in state_of(desk.db, odd).standing:
        assert f"/dossiers/{odd}/what-if?without={mark.id}" in html
        assert f"/dossiers/{odd}/history?mark={mark.id}" in html


@pytest.mark.parametrize("without", [(1,), (1, 3)])
def test_a_what_if_is_the_verdict_without_the_marks(
    client: Client, desk: Desk, odd: str, without: tuple[int, ...]
) -> None:
    ids = [state_of(desk.db, odd).standing[n - 1].id for n in without]
    said = plain(client.get(f"/dossiers/{odd}/what-if", params={"without": ids}).text)
    verdict = verdict_of(desk, odd, without)
    reference = PACKS.reference(("brackwater",))
    assert headline(verdict, reference).text in said
    for year, p in verdict.build.years.items():
        assert f"{year} {percent(p)}" in said
    assert "Nothing here is recorded" in said
    for part in verdict.parts:
        figures = (part.original, part.later_replacement, part.period_replacement)
        assert " ".join(percent(p) for p in figures) in said


def test_a_what_if_says_that_it_is_one_and_what_is_on_record(
    client: Client, desk: Desk, odd: str
) -> None:
    mark = state_of(desk.db, odd).standing[2]
    html = client.get(f"/dossiers/{odd}/what-if", params={"without": mark.id}).text
    said = plain(html)
    assert "The verdict without mark 3 ( 995-7812 , sp-1)" in said
    recorded = verdict_of(desk, odd)
    assert headline(recorded, PACKS.reference(("brackwater",))).text in said
    assert html.count("checked") == 1


def test_nothing_of_a_what_if_is_recorded(client: Client, desk: Desk, odd: str) -> None:
    before = events_of(desk.db, odd)
    strip = client.get(f"/dossiers/{odd}/strip").text
    marks = [mark.id for mark in state_of(desk.db, odd).standing]
    client.get(f"/dossiers/{odd}/what-if", params={"without": marks})
    assert events_of(desk.db, odd) == before
    assert client.get(f"/dossiers/{odd}/strip").text == strip


def test_a_what_if_without_anything_is_the_record(client: Client, desk: Desk, odd: str) -> None:
    said = plain(client.get(f"/dossiers/{odd}/what-if").text)
    assert "No mark is left out" in said
    gone = plain(client.get(f"/dossiers/{odd}/what-if", params={"without": "no-such"}).text)
    assert "No mark is left out" in gone


def test_marks_keep_their_numbers_in_a_what_if(client: Client, desk: Desk, odd: str) -> None:
    first = state_of(desk.db, odd).standing[0]
    html = client.get(f"/dossiers/{odd}/what-if", params={"without": first.id}).text
    drawing = html[html.index('<div class="tl-draw') :]
    assert 'href="#mark-1"' not in drawing
    assert 'href="#mark-2"' in drawing
    assert 'href="#mark-3"' in drawing


def test_a_mark_that_cannot_be_weighed_is_said_with_what_would_do(
    client: Client, desk: Desk, dossier: str
) -> None:
    row = {"part": "choke", "kind": "source-date-code", "text": "993-354"}
    change = Change("mark-set", {"mark": new_id(), "row": row})
    append(desk.db, dossier, [change], by=By("tests"))
    said = plain(client.get(f"/dossiers/{dossier}/why").text)
    (problem,) = verdict_of(desk, dossier).not_weighed
    assert problem.found in said
    assert problem.accepted in said
