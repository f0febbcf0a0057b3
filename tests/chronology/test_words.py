"""The sentences of a verdict: few, tied to marks, and never surer than their numbers."""

from __future__ import annotations

import re
from datetime import date

import pytest

from endbell.chronology import Verdict, weigh
from endbell.chronology.percent import percent
from endbell.chronology.workspace import Workspace
from endbell.dossier import Dossier
from endbell.reference import Reference

from .amp import amp, claim, code, joint, looks, paper, repair, stamped

SOLID = (
    code("pt", "993-6340"),
    code("ot", "993-6343"),
    code("pot-1", "992-6338"),
    code("pot-2", "992-6338"),
)
OPEN = (code("pt", "993-340"), code("ot", "993-343"), code("pot-1", "992-338"))
STRADDLING = (code("pt", "993-6348"), code("pot-1", "992-6339"))


def every_amp(common: Reference, brackwater: Reference) -> dict[str, tuple[Dossier, Reference]]:
    cabinet = (
        stamped("cab", "14-5-57", "hand-date"),
        looks("covering", "covering-colour", "oxblood-cloth"),
        looks("label", "label-form", "typed-paper"),
    )
    doubtful = (looks("covering", "covering-colour", "oxblood-cloth"),)
    seller = claim(
        built="1964", model="lantern-20-reverb", original=["everything"], excluded=["valves"]
    )
    worn = (code("pt", "993-3?0", "poor"), code("ot", "???-343", "worn"), code("choke", "...40"))
    return {
        "solid": (amp(SOLID, common), common),
        "two decades": (amp(OPEN, common), common),
        "two years": (amp(STRADDLING, common), common),
        "nothing seen": (amp([], common), common),
        "nothing seen of a known maker": (amp([], brackwater), brackwater),
        "later loudspeaker": (amp((*SOLID, code("sp-1", "995-7123")), common), common),
        "many replaced": (
            amp(
                (*SOLID, *(stamped(f"valve-{i}", f"{68 + i}12", "date-code") for i in range(1, 8))),
                common,
            ),
            common,
        ),
        "married cabinet": (amp((*SOLID, *cabinet), brackwater), brackwater),
        "cabinet in doubt": (amp((*SOLID, *doubtful), brackwater), brackwater),
        "claimed": (amp(SOLID, brackwater, claim=seller), brackwater),
        "claimed of nothing seen": (amp([], brackwater, claim=seller), brackwater),
        "in conflict": (
            amp((*SOLID, code("choke", "993-5820"), code("pot-3", "992-5810")), common),
            common,
        ),
        "worn": (amp(worn, common), common),
        "papers and repairs": (
            amp(
                [*OPEN, paper("1957-05"), joint("ot", "joint-new-solder")],
                common,
                repairs=[repair("elco-1", "1971")],
            ),
            common,
        ),
        "early": (amp([code("pt", "993-540")], common, as_of=date(1946, 6, 1)), common),
        "nothing weighed": (amp([code("pt", "993-54")], common), common),
    }


NAMES = (
    "solid",
    "two decades",
    "two years",
    "nothing seen",
    "nothing seen of a known maker",
    "later loudspeaker",
    "many replaced",
    "married cabinet",
    "cabinet in doubt",
    "claimed",
    "claimed of nothing seen",
    "in conflict",
    "worn",
    "papers and repairs",
    "early",
    "nothing weighed",
)


@pytest.fixture(scope="module")
def verdicts(common: Reference, brackwater: Reference, workspace: Workspace) -> dict[str, Verdict]:
    found = every_amp(common, brackwater)
    return {
        name: weigh(
            *found[name], looks=1 if name in ("solid", "nothing seen") else 0, workspace=workspace
        )
        for name in NAMES
    }


PERCENT = re.compile(r"(?:over |under )?\d+(?:\.\d+)?%")
LEVEL = re.compile("with 95%,|the 95% set")  # how much the interval holds: no finding
BITS = re.compile(r"(\d+\.\d+) bits")


@pytest.mark.parametrize("name", NAMES)
def test_a_verdict_is_told_in_three_to_eight_sentences(
    name: str, verdicts: dict[str, Verdict]
) -> None:
    assert 3 <= len(verdicts[name].words) <= 8
    for sentence in verdicts[name].words:
        assert sentence.text.endswith(".") and sentence.text[0].isupper()
        assert "  " not in sentence.text and " ," not in sentence.text


@pytest.mark.parametrize("name", NAMES)
def test_every_sentence_names_its_numbers(name: str, verdicts: dict[str, Verdict]) -> None:
    for sentence in verdicts[name].words:
        assert sentence.numbers, sentence.text


@pytest.mark.parametrize("name", NAMES)
def test_every_percentage_in_a_sentence_is_a_number_that_it_names(
    name: str, verdicts: dict[str, Verdict]
) -> None:
    for sentence in verdicts[name].words:
        said = PERCENT.findall(LEVEL.sub("", sentence.text))
        named = {percent(v) for v in sentence.numbers.values()}
        assert set(said) <= named, sentence.text
        for bits in BITS.findall(sentence.text):
            digits = len(bits.split(".")[1])
            assert bits in {f"{v:.{digits}f}" for v in sentence.numbers.values()}, sentence.text


@pytest.mark.parametrize("name", NAMES)
def test_the_numbers_named_are_those_of_the_verdict(
    name: str, verdicts: dict[str, Verdict]
) -> None:
    v = verdicts[name]
    truth: dict[str, float] = {f"years.{y}": p for y, p in v.build.years.items()}
    truth |= {f"parts.{p.part}.original": p.original for p in v.parts}
    truth |= {f"models.{m.model}": m.p for m in v.models}
    truth |= {f"marks.{m.mark.n}.influence_bits": m.influence_bits for m in v.marks}
    for a in v.assemblies:
        truth[f"assemblies.{a.assembly}.married"] = a.married
        truth |= {f"assemblies.{a.assembly}.years.{y}": p for y, p in a.years.items()}
    if v.claim is not None and v.claim.p is not None:
        truth["claim.p"] = v.claim.p
        truth["claim.not_looked_at"] = len(v.claim.not_looked_at)
        truth |= {f"claim.clauses.{c.clause}": c.p for c in v.claim.clauses if c.p is not None}
    free = ("conflicts.p_all_right", "unstable", "next", "next.gain_bits", "next.minutes")
    for sentence in v.words:
        for path, value in sentence.numbers.items():
            assert path in truth or path in free, path
            if path in truth:
                assert value == truth[path], path


@pytest.mark.parametrize("name", NAMES)
def test_every_year_told_with_a_percentage_is_named(
    name: str, verdicts: dict[str, Verdict]
) -> None:
    first = verdicts[name].words[0]
    for year in re.findall(r"(\d{4}) \(", first.text):
        assert f"years.{year}" in first.numbers


@pytest.mark.parametrize("name", NAMES)
def test_the_marks_that_a_sentence_rests_on_exist(name: str, verdicts: dict[str, Verdict]) -> None:
    known = {m.mark.n for m in verdicts[name].marks}
    for sentence in verdicts[name].words:
        assert set(sentence.marks) <= known
        assert len(set(sentence.marks)) == len(sentence.marks)


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_ever_certain_or_impossible(name: str, verdicts: dict[str, Verdict]) -> None:
    v = verdicts[name]
    told = [s.text for s in v.words] + [c.says for c in v.conflicts] + [u.what for u in v.unstable]
    for text in told:
        assert not re.search(r"(?<![\d.])(100|0)(\.0+)?%", text), text
        assert not re.search(r"\b(certainly|definitely|fake|forged)\b", text, re.IGNORECASE)


@pytest.mark.parametrize(
    "name", ["two decades", "nothing seen", "nothing seen of a known maker", "worn"]
)
def test_what_can_not_be_told_is_said_so(name: str, verdicts: dict[str, Verdict]) -> None:
    assert verdicts[name].words[0].text.startswith("Cannot tell the year")


def test_two_decades_are_both_told(verdicts: dict[str, Verdict]) -> None:
    text = verdicts["two decades"].words[0].text
    assert re.search(r"195\d \(.*196\d \(", text)


def test_a_sure_year_is_said_plainly(verdicts: dict[str, Verdict]) -> None:
    assert (
        verdicts["later loudspeaker"].words[0].text.startswith(("Built in 196", "Probably built"))
    )


def test_a_married_cabinet_is_told(verdicts: dict[str, Verdict]) -> None:
    assert any(
        "The cabinet is" in s.text and "another amp's" in s.text
        for s in verdicts["married cabinet"].words
    )


def test_no_sentence_tells_of_a_claim_that_was_not_made(verdicts: dict[str, Verdict]) -> None:
    for name, verdict in verdicts.items():
        claimed = name.startswith("claimed")
        assert any("claim" in s.text.lower() for s in verdict.words) == claimed, name


@pytest.mark.parametrize(
    ("p", "said"),
    [
        (1.0, "over 99.9%"),
        (0.9996, "over 99.9%"),
        (0.9994, "99.9%"),
        (0.985, "98.5%"),
        (0.984, "98%"),
        (0.5, "50%"),
        (0.015, "2%"),
        (0.0149, "1.5%"),
        (0.001, "0.1%"),
        (0.0009, "under 0.1%"),
        (0.0, "under 0.1%"),
    ],
)
def test_percentages_as_people_read_them(p: float, said: str) -> None:
    assert percent(p) == said
