"""The workers behind the pages: the engine's numbers, the newest request, a worker that dies."""

from __future__ import annotations

import asyncio
import json
import os
import signal
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import endbell
from endbell.batch.packs import Packs, Settings
from endbell.chronology import as_json, brief, weigh
from endbell.chronology.influence import information
from endbell.dossier.load import dossier_of
from endbell.report import percent, timeline_svg
from endbell.report.timeline import BESIDE
from endbell.web.weighed import Ask, strip_from_json
from endbell.web.weigher import Weigher
from endbell.web.work import Worker, read_without

DEMOS = Path(endbell.__file__).parent / "cli" / "demo_dossiers"
DAY = "2026-01-05"
PACKS = Packs(Settings())


def form_of(name: str) -> dict[str, Any]:
    """A demo dossier as the store would give it: JSON values only."""
    (found,) = DEMOS.glob(f"{name}-*.toml")
    return json.loads(json.dumps(tomllib.loads(found.read_text("utf-8")), default=str))


def engine(form: dict[str, Any]) -> Any:
    dossier = dossier_of(form, {}, PACKS.reference, today=date.fromisoformat(DAY))
    return dossier, PACKS.reference(dossier.packs)


@pytest.fixture(scope="module")
def weigher() -> Iterator[Weigher]:
    made = Weigher()
    yield made
    made.close()


@pytest.mark.parametrize("name", ["a", "c", "e"])
def test_a_strip_says_what_the_engine_says(weigher: Weigher, name: str) -> None:
    form = form_of(name)
    strip = asyncio.run(weigher.strip(form, day=DAY))
    found = brief(*engine(form))
    assert dict(strip.years) == {y: float(p) for y, p in found.build.years.items()}
    assert strip.mode == found.build.mode
    assert strip.sets["0.95"] == [list(run) for run in found.build.sets["0.95"]]
    assert found.claim is not None
    assert (strip.claim_p, strip.weakest) == (found.claim.p, found.claim.weakest or "")
    assert {part: word for part, (word, _) in strip.parts.items()} == {
        p.part: p.word for p in found.parts
    }
    assert strip.trouble == ""


def test_a_full_verdict_is_the_engines_to_the_last_digit(weigher: Weigher) -> None:
    form = form_of("b")
    weighed = asyncio.run(weigher.verdict(form, day=DAY))
    dossier, reference = engine(form)
    verdict = weigh(dossier, reference)
    assert weighed.values == as_json(verdict)
    assert weighed.wide == timeline_svg(verdict, reference, prefix="tw", layout=BESIDE)
    assert weighed.narrow == timeline_svg(verdict, reference, narrow=True, prefix="tn")
    assert [text for text, _ in weighed.words] == [s.text for s in verdict.words]
    assert [(c.check, c.part) for c in weighed.next] == [(c.check, c.part) for c in verdict.next]
    assert weighed.strip.says == asyncio.run(weigher.strip(form, day=DAY)).says


@pytest.mark.parametrize("name", ["a", "b"])
def test_a_strip_counts_the_conflicts_of_the_full_verdict(weigher: Weigher, name: str) -> None:
    form = form_of(name)
    strip = asyncio.run(weigher.strip(form, day=DAY))
    assert strip.conflicts == len(asyncio.run(weigher.verdict(form, day=DAY)).conflicts)
    assert asyncio.run(weigher.strip(form, day=DAY, glance=True)) == replace(strip, conflicts=None)


def test_a_strip_kept_as_json_comes_back_equal(weigher: Weigher) -> None:
    strip = asyncio.run(weigher.strip(form_of("a"), day=DAY))
    assert strip_from_json(json.loads(json.dumps(strip.as_json()))) == strip


@pytest.mark.parametrize(
    ("form", "word"),
    [
        ({"format": "nonsense/9"}, "accepted"),
        ({"format": "endbell-dossier/7"}, "newer"),
        ({"part": [{"id": "ot"}, {"id": "ot"}]}, "second part"),
    ],
)
def test_a_dossier_that_cannot_be_read_comes_back_as_a_sentence(
    weigher: Weigher, form: dict[str, Any], word: str
) -> None:
    assert word in asyncio.run(weigher.strip(form, day=DAY)).trouble
    assert word in asyncio.run(weigher.verdict(form, day=DAY)).trouble
    assert asyncio.run(weigher.report(form, day=DAY)) == ""


def test_marks_that_cannot_be_weighed_are_listed_with_what_would_do(weigher: Weigher) -> None:
    form = form_of("a")
    form["mark"].append({"part": "ot", "kind": "source-date-code", "text": "993-354"})
    weighed = asyncio.run(weigher.verdict(form, day=DAY))
    (problem,) = weighed.not_weighed
    assert problem[0] == len(form["mark"])
    line = weighed.mark(len(form["mark"]))
    assert line is not None
    assert not line.weighed
    assert line.problem


def test_the_newest_request_of_a_dossier_answers_for_those_that_waited(weigher: Weigher) -> None:
    async def typed() -> list[str]:
        forms = [form_of("a") | {"id": f"digit-{i}"} for i in range(6)]
        strips = await asyncio.gather(*(weigher.strip(f, day=DAY, owner="amp") for f in forms))
        return [strip.svg.partition("Build date of ")[2][:7] for strip in strips]

    said = asyncio.run(typed())
    assert said[-1] == "digit-5"
    assert set(said[1:]) == {"digit-5"}, "those in the queue were dropped"
    # what was weighed last is held under its own form, not under the one that asked first
    form = form_of("a") | {"id": "digit-2"}
    assert "digit-2" in asyncio.run(weigher.strip(form, day=DAY)).svg


def test_a_worker_that_is_killed_is_replaced_and_nobody_notices(weigher: Weigher) -> None:
    form = form_of("a") | {"id": "killed"}
    before = weigher.pids
    for pid in before:
        assert pid is not None
        os.kill(pid, signal.SIGKILL)
    strip = asyncio.run(weigher.strip(form, day=DAY))
    weighed = asyncio.run(weigher.verdict(form, day=DAY))
    assert strip.trouble == weighed.trouble == ""
    assert not set(weigher.pids) & set(before)


def test_leaving_a_mark_out_moves_the_date_by_just_its_influence() -> None:
    form = form_of("c")
    worker = Worker()
    weighed = worker(Ask("verdict", form, DAY))
    assert not isinstance(weighed, str)
    dossier, reference = engine(form)
    whole = weigh(dossier, reference, looks=0)
    for n in (1, 4, 7):
        less = read_without(
            form, (n,), lambda top: dossier_of(top, {}, PACKS.reference, today=dossier.as_of)
        )
        assert [m.n for m in less.marks] == [m.n for m in dossier.marks if m.n != n]
        other = weigh(less, reference, looks=0)
        moved = information(whole.build.weeks, other.build.weeks)
        assert moved == pytest.approx(whole.marks[n - 1].influence_bits, abs=1e-9)


def test_a_mark_left_out_of_the_form_gives_the_verdict_of_the_form_without_it() -> None:
    form = form_of("b")
    kept = form | {"mark": [m for i, m in enumerate(form["mark"], start=1) if i not in (2, 9)]}
    kept["as_of"] = engine(form)[0].as_of.isoformat()
    left_out = Worker()(Ask("strip", form, DAY, without=(2, 9)))
    assert left_out == Worker()(Ask("strip", kept, DAY))


def test_what_would_change_the_verdict_is_said_of_the_marks_that_would() -> None:
    weighed = Worker()(Ask("verdict", form_of("c2"), DAY))
    assert not isinstance(weighed, str)
    said = {w.n: w.says for w in weighed.would}
    assert said[8].startswith("Probably May to July 1954"), "the one mark that settles the decade"
    assert all(w.says or w.claim for w in weighed.would)


def test_a_look_that_cannot_be_made_brings_the_next_one_into_view() -> None:
    form = form_of("c")
    dossier, reference = engine(form)
    before = weigh(dossier, reference)
    gone = (before.next[0].check, before.next[0].part)
    weighed = Worker()(Ask("verdict", form, DAY, answered=(gone,)))
    assert not isinstance(weighed, str)
    assert gone not in [(c.check, c.part) for c in weighed.next]
    assert weighed.next, "others stay"
    # a look in vain is no evidence: nothing else of the verdict moves
    assert weighed.values == as_json(before)


def test_looks_that_cannot_be_made_move_on_to_the_next_part_of_the_class() -> None:
    form = form_of("a")
    form["mark"] = [m for m in form["mark"] if not m["part"].startswith("pot")]
    before = weigh(*engine(form))
    pots = [(c.check, c.part) for c in before.next if c.part.startswith("pot")]
    assert pots
    weighed = Worker()(Ask("verdict", form, DAY, answered=tuple(pots)))
    assert not isinstance(weighed, str)
    after = [c.part for c in weighed.next if c.part.startswith("pot")]
    assert set(after).isdisjoint(part for _, part in pots)


def test_minutes_bits_and_percentages_are_said_as_the_report_says_them() -> None:
    weighed = Worker()(Ask("verdict", form_of("a"), DAY))
    assert not isinstance(weighed, str)
    verdict = weigh(*engine(form_of("a")))
    for line, part in zip(weighed.parts, verdict.parts, strict=True):
        word = 1 - part.original if "replaced" in part.word else part.original
        assert percent(word) in line.says
    assert sum(c.best for c in weighed.next) == 1
    assert np.argmax([c.worth for c in weighed.next]) == [c.best for c in weighed.next].index(True)
