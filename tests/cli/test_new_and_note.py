"""``endbell new`` and ``endbell note``."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from .conftest import AMP, Run, one_sentence


def test_a_blank_dossier_can_be_checked_at_once(run: Run) -> None:
    assert run("new", "TRV-9.toml", "--model", "lantern-20-reverb").status == 0
    text = Path("TRV-9.toml").read_text(encoding="utf-8")
    assert 'id = "TRV-9"' in text
    assert 'packs = ["brackwater"]' in text
    assert '# part = "tank"' in text
    assert run("check", "TRV-9.toml").status == 0


def test_without_a_file_it_goes_to_standard_output(run: Run) -> None:
    ran = run("new", "--model", "wick-6", "--id", "W-1")
    assert ran.out.startswith("format = ")
    assert "pot-3" not in ran.out
    assert run("new", "--model", "wick-6", "--id", "W-1", "--json").json["text"] == ran.out


def test_a_dossier_is_never_written_over(run: Run, amp: Path) -> None:
    ran = run("new", "amp.toml", "--model", "wick-6")
    assert ran.status == 2
    assert one_sentence(ran.err)
    assert amp.read_text(encoding="utf-8") == AMP


def test_an_unknown_model_is_refused_with_the_nearest(run: Run) -> None:
    ran = run("new", "x.toml", "--model", "wick6")
    assert ran.status == 2
    assert "did you mean wick-6" in ran.err
    assert not Path("x.toml").exists()


def test_a_mark_is_added_and_its_kind_said(run: Run, amp: Path) -> None:
    ran = run(
        "note",
        "amp.toml",
        "pot-2",
        "992-34?",
        "--legibility",
        "worn",
        "--by",
        "RT",
        "--on",
        "2026-03-03",
    )
    assert ran.status == 0
    assert "taken as source-date-code" in ran.err
    text = amp.read_text(encoding="utf-8")
    assert text.startswith(AMP)
    assert 'text = "992-34?"' in text
    assert run("check", "amp.toml", "--json").json["weighable"] == 3
    assert run("check", "amp.toml", "--json").json["as_of"] == "2026-03-03"


def test_a_feature_and_a_paper_can_be_added(run: Run, amp: Path) -> None:
    assert run("note", "amp.toml", "covering", "covering-colour=grey-tweed").status == 0
    assert run("note", "amp.toml", "cloth", "weave-pitch=2.31mm", "--kind", "measured").status == 0
    assert run("note", "amp.toml", "paper", "1965-02-14", "--note", "receipt").status == 0
    assert run("note", "amp.toml", "ot", "joint-untouched", "--json").json["kind"] == "condition"
    assert run("check", "amp.toml", "--json").json["weighable"] == 6


def test_what_cannot_be_weighed_is_kept_and_said(run: Run, amp: Path) -> None:
    ran = run("note", "amp.toml", "pot-1", "992-354")
    assert ran.status == 1
    assert "kept, but not weighed" in ran.err
    assert "992-354" in amp.read_text(encoding="utf-8")
    ran = run("note", "amp.toml", "pot-1", "992-3", "--json")
    assert ran.json["mark"] == 4
    assert ran.json["problems"][0]["table"] == 4


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["none.toml", "ot", "993-348"], "no such file"),
        (["amp.toml", "ot", "993-348", "--kind", "sauce"], "accepted"),
        (["amp.toml", "ot", "993-348", "--legibility", "wornn"], "did you mean worn"),
        (["amp.toml", "ot", "993-348", "--result", "gone"], "nothing-found"),
        (["amp.toml", "covering", "grey", "--kind", "feature"], "NAME=VALUE"),
        (["amp.toml", "ot", "993-348", "--on", "Monday"], "2026-03-02"),
    ],
)
def test_what_cannot_be_done_is_one_sentence_and_changes_nothing(
    run: Run, amp: Path, arguments: list[str], says: str
) -> None:
    ran = run("note", *arguments)
    assert ran.status == 2
    assert says in ran.err
    assert one_sentence(ran.err)
    assert amp.read_text(encoding="utf-8") == AMP


def test_a_look_that_found_nothing_is_noted_as_such(run: Run, amp: Path) -> None:
    assert run("note", "amp.toml", "choke", "", "--result", "illegible").status == 0
    assert run("note", "amp.toml", "badge", "badge-form", "--result", "absent").status == 0
    text = amp.read_text(encoding="utf-8")
    assert 'part = "choke"\nkind = "source-date-code"\nresult = "illegible"' in text
    assert 'feature = "badge-form"\nresult = "absent"' in text
    assert run("check", "amp.toml", "--json").json["weighable"] == 4


def test_a_broken_file_is_left_as_it_is(run: Run, amp: Path) -> None:
    amp.write_text("[[mark", encoding="utf-8")
    assert run("note", "amp.toml", "ot", "993-348").status == 2
    assert amp.read_text(encoding="utf-8") == "[[mark"


def test_the_file_keeps_its_rights_and_leaves_nothing_beside_it(run: Run, amp: Path) -> None:
    amp.chmod(0o640)
    run("note", "amp.toml", "pot-2", "992-341")
    assert stat.S_IMODE(os.stat(amp).st_mode) == 0o640
    assert [entry.name for entry in amp.parent.iterdir()] == ["amp.toml"]
