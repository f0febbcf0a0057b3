"""The page holds everything, trusts nothing it was given, and asks nothing of the network."""

from __future__ import annotations

import re
from base64 import b64encode
from hashlib import sha256
from itertools import pairwise

import pytest

from endbell.report import page
from endbell.report.markup import visible
from endbell.report.wording import verbatim

from .cases import (
    CASES,
    hostile,
    many_marks,
    not_weighed,
    single_year,
    swapped_loudspeaker,
    two_decades,
)
from .making import Case
from .markup_check import read


def page_of(case: Case) -> str:
    return page(case.verdict, case.reference, case.dossier)


def test_the_page_is_well_formed_with_ids_of_its_own(any_case: Case) -> None:
    found = read(page_of(any_case))
    assert found.faults == []
    ids = found.values("id")
    assert len(ids) == len(set(ids))


def test_every_link_leads_to_something_on_the_page(any_case: Case) -> None:
    found = read(page_of(any_case))
    for href in found.values("href"):
        assert href.startswith("#")
        assert href[1:] in found.values("id")


def test_every_name_that_is_referred_to_exists(any_case: Case) -> None:
    found = read(page_of(any_case))
    for names in found.values("aria-labelledby"):
        assert all(name in found.values("id") for name in names.split())


def test_every_sentence_links_to_its_marks(any_case: Case) -> None:
    markup = page_of(any_case)
    ids = read(markup).values("id")
    for i, sentence in enumerate(any_case.verdict.words, start=1):
        block = re.search(rf'<li id="say-{i}">.*?</li>', markup, re.DOTALL)
        assert block is not None
        assert re.findall(r'href="#(mark-\d+)"', block[0]) == [f"mark-{n}" for n in sentence.marks]
        assert all(f"mark-{n}" in ids for n in sentence.marks)


def test_every_mark_stands_on_the_page_as_typed(any_case: Case) -> None:
    text = read(page_of(any_case)).text
    for m in any_case.verdict.marks:
        assert visible(verbatim(m.mark)) in text


def test_the_page_asks_nothing_of_the_network_and_runs_no_script(any_case: Case) -> None:
    markup = page_of(any_case)
    found = read(markup)
    tags = {tag for tag, _ in found.elements}
    assert not tags & {"script", "img", "iframe", "object", "embed", "link", "form", "base"}
    assert not [a for _, a in found.elements for name in a if name.startswith("on")]
    assert "url(" not in markup
    assert "@import" not in markup
    addresses = set(re.findall(r"https?://[^\"' <]*", markup))
    assert addresses <= {"http://www.w3.org/2000/svg"}


def test_the_policy_allows_this_style_sheet_and_nothing_else(any_case: Case) -> None:
    markup = page_of(any_case)
    styles = re.findall(r"<style>(.*?)</style>", markup, re.DOTALL)
    assert len(styles) == 1
    digest = b64encode(sha256(styles[0].encode()).digest()).decode()
    policy = next(
        a["content"]
        for _, a in read(markup).elements
        if a.get("http-equiv", "").startswith("Content")
    )
    assert policy == (
        f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    )
    assert "style" not in {name for _, a in read(markup).elements for name in a}


def test_the_verdict_in_words_comes_first_and_is_the_only_title(any_case: Case) -> None:
    markup = page_of(any_case)
    titles = re.findall(r"<h1>(.*?)</h1>", markup)
    assert len(titles) == 1
    assert markup.index("<h1>") < markup.index("<h2")


def test_not_knowing_is_set_as_large_as_knowing() -> None:
    assert "<h1>Cannot tell: 1957–58 or 1967–68</h1>" in page_of(two_decades())
    assert "<h1>Built January to August 1964</h1>" in page_of(single_year())


def test_headings_go_down_one_step_at_a_time(any_case: Case) -> None:
    levels = [int(t[1]) for t, _ in read(page_of(any_case)).elements if re.fullmatch(r"h[1-6]", t)]
    assert levels[0] == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))


@pytest.mark.parametrize(
    "planted", ["<script>", "<img", "<b>built", "<found>", "<i>", "</style>&", "<TRV>", "<caution>"]
)
def test_a_hostile_text_stays_text(planted: str) -> None:
    markup = page_of(hostile())
    body = markup[markup.index("</style>") + len("</style>") :]
    assert planted not in body
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in body


def test_no_control_character_reaches_the_page() -> None:
    markup = page_of(hostile())
    assert not [
        c for c in markup if (c < " " and c not in "\n\t") or c in "\u202e\u202d\u2066\u2067"
    ]


def test_many_marks_of_a_sentence_fold_away_but_stay_links() -> None:
    block = page_of(many_marks()).split('id="say-1"')[1].split("</li>")[0]
    assert "<summary>Rests on 30 marks: 1–30</summary>" in block
    assert block.count('href="#mark-') == 30


def test_a_feature_says_when_its_value_was_fitted() -> None:
    row = page_of(single_year()).split('id="mark-5"')[1].split("</tr>")[0]
    assert "fitted 1959–64" in row


def test_a_doubtful_group_is_underlined_and_named() -> None:
    markup = page_of(single_year())
    assert '993-3<span class="doubt">?8</span>' in markup
    assert "not certain: week" in markup


def test_a_caution_stands_before_its_step() -> None:
    steps = page_of(single_year()).split('id="next"')[1].split("</section>")[0]
    assert steps.index("Loudspeaker code") < steps.index("Lethal voltages")
    assert steps.index("Lethal voltages") < steps.index("Power transformer code</strong>")


def test_parts_not_looked_at_are_never_counted_as_original() -> None:
    text = read(page_of(single_year())).text
    assert "not looked at, and so not counted as original: elco-1 and elco-2" in text


def test_rows_not_weighed_say_where_what_and_what_would_do() -> None:
    text = read(page_of(not_weighed())).text
    for said in ("lantern.toml", "31", "week 54 in '993-354'", "a week from 01 to 53", "993-353"):
        assert said in text


def test_a_conflict_says_its_odds_and_leads_to_its_marks() -> None:
    markup = page_of(swapped_loudspeaker())
    block = markup.split('id="conflicts"')[1].split("</section>")[0]
    assert "under 0.1%" in block
    assert 'href="#mark-2"' in block
    assert 'href="#mark-4"' in block


def test_the_appendix_says_what_was_taken_for_granted() -> None:
    text = read(page_of(single_year())).text
    appendix = text[text.index("Appendix") :]
    for said in (
        "lag.potentiometer.median_weeks",
        "14",
        "weeks",
        "invented for the tests",
        "a1" * 32,
    ):
        assert said in appendix
    assert "do not cross classes" in appendix


@pytest.mark.parametrize("name", sorted(CASES))
def test_nothing_is_ever_said_to_be_certain(name: str) -> None:
    text = read(page_of(CASES[name]())).text
    assert not re.search(r"(?<![\d.])(100|0)%", text)


def test_the_same_verdict_gives_the_same_page(any_case: Case) -> None:
    assert page_of(any_case) == page_of(any_case)
