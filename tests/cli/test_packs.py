"""``endbell packs`` and what stands under it."""

from __future__ import annotations

from pathlib import Path

import pytest

from .conftest import Run, one_sentence

LISTED = "No.,Company\n993,Coil people\n994,Other coils\nabc,Nobody\n993,Coil again\n"


def test_the_packs_within_reach_are_listed(run: Run) -> None:
    packs = {pack["id"]: pack for pack in run("packs", "--json").json}
    assert packs["standards"]["always_applies"]
    assert not packs["brackwater"]["always_applies"]
    assert "brackwater" in run("packs").out


def test_a_pack_is_checked_by_id_or_by_folder(run: Run) -> None:
    assert run("packs", "check", "brackwater").status == 0
    run("packs", "name-source", "993", "Coil people")
    assert run("packs", "check", "packs/shop").status == 0
    file = Path("packs/shop/source_number.csv")
    file.write_text(file.read_text(encoding="utf-8") + "99,\n", encoding="utf-8")
    ran = run("packs", "check", "packs/shop", "--json")
    assert ran.status == 1
    assert ran.json["problems"][0]["line"] == 3


def test_a_named_source_is_said_by_name(run: Run) -> None:
    run("packs", "name-source", "993", "Coil people")
    assert "shop" in {pack["id"] for pack in run("packs", "--json").json}
    reading = run("read", "993-348", "--packs", "shop", "--json").json["readings"][0]
    assert reading["source_name"] == "Coil people"


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["check", "nosuch"], "nosuch"),
        (["name-source", "99x", "Nobody"], "two to four digits"),
        (["name-source", "993", " "], "a name is needed"),
        (["load-sources", "none.csv"], "no such file"),
        (["load-sources", "none.csv", "--name-column", "1"], "go together"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(run: Run, arguments: list[str], says: str) -> None:
    ran = run("packs", *arguments)
    assert ran.status == 2
    assert says in ran.err
    assert one_sentence(ran.err)


def test_another_name_is_never_written_over(run: Run) -> None:
    run("packs", "name-source", "993", "Coil people")
    ran = run("packs", "name-source", "993", "Others")
    assert ran.status == 2
    assert "already named" in ran.err


def test_a_list_is_shown_before_it_is_written(run: Run) -> None:
    Path("list.csv").write_text(LISTED, encoding="utf-8")
    ran = run("packs", "load-sources", "list.csv", "--json")
    assert ran.status == 1
    assert [row["number"] for row in ran.json["rows"]] == ["993", "994"]
    assert [problem["line"] for problem in ran.json["problems"]] == [4, 5]
    assert not Path("packs").exists()
    assert "add --yes" in run("packs", "load-sources", "list.csv").out
    assert run("packs", "load-sources", "list.csv", "--yes").status == 1
    assert "Other coils" in Path("packs/shop/source_number.csv").read_text(encoding="utf-8")


def test_the_columns_of_a_list_can_be_named(run: Run) -> None:
    Path("list.csv").write_text("Old,New,Who\n101,993,Coil people\n", encoding="utf-8")
    ran = run(
        "packs", "load-sources", "list.csv", "--number-column", "2", "--name-column", "3", "--json"
    )
    assert ran.json["rows"] == [{"number": "993", "name": "Coil people", "line": 2}]
