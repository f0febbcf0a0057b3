"""``endbell weigh``."""

from __future__ import annotations

from pathlib import Path

import pytest

from .conftest import AMP, BAD_ROW, Run, one_sentence


def test_a_verdict_is_one_json_document(run: Run, amp: Path) -> None:
    ran = run("weigh", "amp.toml", "--json")
    assert ran.status == 0
    assert ran.json["format"] == "endbell-verdict/1"
    assert ran.json["dossier"] == "TRV-1"
    assert ran.json["as_of"] == "2026-W10"
    assert ran.json["build"]["mode_year"] == 1964
    assert ran.json["build"]["weeks"]["p"] == []


def test_full_adds_the_whole_distribution(run: Run, amp: Path) -> None:
    weeks = run("weigh", "amp.toml", "--json", "--full").json["build"]["weeks"]
    assert weeks["start"] == "1930-W01"
    assert sum(weeks["p"]) == pytest.approx(1.0, abs=1e-6)


def test_full_lists_the_weeks_on_the_terminal(run: Run, amp: Path) -> None:
    assert "1964-W10   1964-03-02" in run("weigh", "amp.toml", "--full").out


def test_the_terminal_says_the_year_within_a_hundred_columns(run: Run, amp: Path) -> None:
    ran = run("weigh", "amp.toml")
    assert ran.status == 0
    assert "1964" in ran.out
    assert max(len(line) for line in ran.out.split("\n")) <= 100


def test_a_bad_row_is_listed_and_the_status_is_one(run: Run, amp: Path) -> None:
    amp.write_text(AMP + BAD_ROW, encoding="utf-8")
    ran = run("weigh", "amp.toml", "--json")
    assert ran.status == 1
    (row,) = ran.json["not_weighed"]
    assert (row["file"], row["table"], row["line"]) == ("amp.toml", 3, 21)
    assert "992-352" in row["nearest"]
    assert ran.json["build"]["mode_year"] == 1964


def test_a_bad_row_is_said_on_the_terminal_too(run: Run, amp: Path) -> None:
    amp.write_text(AMP + BAD_ROW, encoding="utf-8")
    ran = run("weigh", "amp.toml")
    assert ran.status == 1
    assert "amp.toml, line 21 (mark 3)" in ran.err


def test_a_claim_that_fails_is_no_failure(run: Run, amp: Path) -> None:
    amp.write_text(AMP.replace('built = "1964"', 'built = "1957"'), encoding="utf-8")
    ran = run("weigh", "amp.toml", "--json")
    assert ran.status == 0
    assert ran.json["claim"]["p"] < 0.01


def test_several_files_are_one_array_in_the_order_given(run: Run, amp: Path) -> None:
    Path("broken.toml").write_text("[[mark", encoding="utf-8")
    ran = run("weigh", "amp.toml", "broken.toml", "none.toml", "amp.toml", "--json")
    assert ran.status == 1
    first, broken, missing, last = ran.json
    assert first == last
    assert broken["file"] == "broken.toml"
    assert "line 1" in broken["error"]
    assert set(missing) == {"file", "error"}


def test_several_files_are_a_line_each(run: Run, amp: Path) -> None:
    Path("broken.toml").write_text("[[mark", encoding="utf-8")
    ran = run("weigh", "amp.toml", "broken.toml")
    assert ran.status == 1
    assert "1964" in ran.out
    assert "could not be read" in ran.out
    assert "2/2" in ran.err


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("id = ", "line 1"),
        ('format = "endbell-dossier/2"', "newer"),
        ('[[part]]\nid = "ot"\n[[part]]\nid = "ot"', "second part"),
        (None, "no such file"),
    ],
)
def test_a_file_that_cannot_be_read_is_one_sentence(
    run: Run, tmp_path: Path, content: str | None, says: str
) -> None:
    if content is not None:
        (tmp_path / "x.toml").write_text(content, encoding="utf-8")
    for extra in ((), ("--json",)):
        ran = run("weigh", "x.toml", *extra)
        assert ran.status == 2
        assert ran.out == ""
        assert says in ran.err
        assert one_sentence(ran.err)


def test_marks_from_the_command_line_say_their_kinds(run: Run) -> None:
    ran = run("weigh", "--mark", "ot:993-348", "--mark", "chart:WF", "--model", "lantern-20", "--built", "1964", "--as-of", "2026-03-02", "--json")  # fmt: skip
    assert ran.status == 0
    assert "taken as source-date-code" in ran.err
    assert "taken as chart-letters" in ran.err
    assert "brackwater" in ran.json["packs"]
    assert ran.json["as_of"] == "2026-W10"
    clauses = {row["clause"]: row["p"] for row in ran.json["claim"]["clauses"]}
    assert clauses["built 1964"] > 0.9


def test_marks_without_a_model_need_no_pack_of_a_maker(run: Run) -> None:
    ran = run("weigh", "--mark", "ot:993-348", "--json", "--as-of", "2026-03-02")
    assert ran.status == 0
    assert set(ran.json["packs"]) == {"standards", "common-practice"}
    assert len(ran.json["build"]["sets"]["0.95"]) > 1


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--mark", "ot"], "PART:TEXT"),
        (["--mark", "oot:993-348"], "did you mean"),
        (["--mark", "ot:993-348", "--model", "lantern20"], "did you mean lantern-20"),
        (["--mark", "ot:993-348", "--built", "196u"], "196X"),
        (["--mark", "ot:99\u202e3"], "can't be seen"),
        (["--mark", "ot:993-348", "amp.toml"], "one of the two"),
        ([], "one of the two"),
        (["amp.toml", "--model", "lantern-20"], "[claim]"),
        (["amp.toml", "--pdf", "x.pdf"], "--html"),
        (
            ["amp.toml", "--assume", "delivery.concentratio=1"],
            "did you mean delivery.concentration",
        ),
        (["amp.toml", "--assume", "delivery.concentration"], "NAME=VALUE"),
        (["amp.toml", "--assume", "delivery.concentration=lots"], "a number"),
        (["amp.toml", "--assume", "delivery.concentration=nan"], "a number"),
        (["amp.toml", "--assume", "source.unlisted=1.5"], "from 0 to 1"),
        (["amp.toml", "--assume", "delivery.concentration=-1"], "not below 0"),
        (["amp.toml", "--packs", "nosuch"], "nosuch"),
        (["amp.toml", "--pack-dir", "nowhere"], "no such folder"),
        (["amp.toml", "--as-of", "soon"], "2026-03-02"),
        (["amp.toml", "--frobnicate"], "--frobnicate"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(
    run: Run, amp: Path, arguments: list[str], says: str
) -> None:
    ran = run("weigh", *arguments)
    assert ran.status == 2
    assert ran.out == ""
    assert says in ran.err
    assert one_sentence(ran.err)


def test_an_assumption_can_be_changed_for_one_run(run: Run, amp: Path) -> None:
    name = "replaced.output-transformer.probability"
    usual = run("weigh", "amp.toml", "--json").json
    ran = run("weigh", "amp.toml", "--json", "--assume", f"{name}=0.9")
    assert ran.json["assumptions"][name] == 0.9
    assert ran.json["parts"]["ot"]["original"] < usual["parts"]["ot"]["original"]


def test_the_report_is_one_page(run: Run, amp: Path) -> None:
    ran = run("weigh", "amp.toml", "--html", "amp.html")
    assert ran.status == 0
    assert "report: amp.html" in ran.err
    assert "TRV-1" in Path("amp.html").read_text(encoding="utf-8")


def test_reports_of_several_files_go_into_a_folder(run: Run, amp: Path) -> None:
    (amp.parent / "other").mkdir()
    (amp.parent / "other" / "amp.toml").write_text(AMP, encoding="utf-8")
    run("weigh", "amp.toml", "other/amp.toml", "--html", "pages")
    assert sorted(page.name for page in Path("pages").iterdir()) == ["amp-2.html", "amp.html"]


def test_packs_of_the_shop_are_found_in_packs_and_elsewhere(
    run: Run, amp: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("packs", "name-source", "993", "Coil people", "--pack", "packs/shop")
    run("packs", "name-source", "993", "Coil people", "--pack", "far/away/mine")
    assert "shop" in run("weigh", "amp.toml", "--packs", "shop", "--json").json["packs"]
    assert run("weigh", "amp.toml", "--packs", "mine", "--json").status == 2
    far = run("weigh", "amp.toml", "--packs", "mine", "--pack-dir", "far/away", "--json")
    assert "mine" in far.json["packs"]
    monkeypatch.setenv("ENDBELL_PACKS", "far/away")
    assert "mine" in run("weigh", "amp.toml", "--packs", "mine", "--json").json["packs"]


def test_remarks_are_said_and_cost_nothing(run: Run, amp: Path) -> None:
    amp.write_text(AMP.replace("[claim]", "[claim]\ncolour = 3"), encoding="utf-8")
    ran = run("weigh", "amp.toml", "--json")
    assert ran.status == 0
    assert 'unknown key "colour"' in ran.err


def test_rich_markup_in_a_text_is_not_obeyed(run: Run, amp: Path) -> None:
    amp.write_text(AMP.replace('"993-348"', '"993-3[48]8"'), encoding="utf-8")
    assert "993-3[48]8" in run("weigh", "amp.toml").out
