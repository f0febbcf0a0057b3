"""What the shop has seen: counted right, drawn and said alike."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from endbell.store import By, Change, append, new_id, state_of
from endbell.store.statistics import counted
from endbell.web.charts import by_month, sure_words
from endbell.web.desk import Desk
from endbell.web.strips_kept import keep
from endbell.web.weighed import Strip

from .conftest import Client

PARTS = ("ot", "sp-1", "pot-1")


def amp(
    desk: Desk,
    n: int,
    model: str,
    year: int,
    p: float,
    words: str = "original",
    closed: bool = False,
) -> str:
    """A dossier with two marks and a strip that was weighed elsewhere."""
    made = new_id()
    changes = [
        Change(
            "opened",
            {
                "number": f"TRV-{n:04d}",
                "packs": ["brackwater"],
                "claim": {"maker": "brackwater", "model": model},
            },
        ),
        Change(
            "mark-set",
            {
                "mark": new_id(),
                "row": {"part": "ot", "kind": "source-date-code", "text": "993-348"},
            },
        ),
        Change(
            "mark-set",
            {
                "mark": new_id(),
                "row": {"part": "sp-1", "kind": "source-date-code", "result": "illegible"},
            },
        ),
        *([Change("closed")] if closed else []),
    ]
    append(desk.db, made, changes, by=By("tests"))
    strip = Strip(
        says=str(year), sure="settled", mode_year=year, p_mode_year=p, first_year=year, last_year=year,
        years=((year, p),), parts={part: (words if part == "sp-1" else "original", 0.5) for part in PARTS},
    )  # fmt: skip
    keep(desk.db, state_of(desk.db, made), strip)
    return made


@pytest.fixture
def shelf(desk: Desk) -> Desk:
    """Five amps, one of them not weighed."""
    amp(desk, 1, "lantern-20", 1964, 0.97, "replaced", closed=True)
    amp(desk, 2, "lantern-20", 1964, 0.85, "replaced")
    amp(desk, 3, "wick-6", 1957, 0.6)
    amp(desk, 4, "wick-6", 1958, 0.3)
    append(desk.db, new_id(), [Change("opened", {"number": "TRV-0005"})], by=By("tests"))
    return desk


def table(page: str, chart: str) -> list[list[str]]:
    """The rows of the table beside a chart."""
    section = page[page.index(f'id="{chart}"') :]
    body = section[section.index("<tbody>") : section.index("</tbody>")]
    return [
        [re.sub(r"<[^>]+>", "", cell).strip() for cell in re.findall(r"<t[hd].*?</t[hd]>", row)]
        for row in re.findall(r"<tr>(.*?)</tr>", body, re.DOTALL)
    ]


def drawn(client: Client, chart: str) -> list[dict[str, Any]]:
    answer = client.get(f"/statistics/{chart}.json")
    assert answer.status_code == 200
    return json.loads(answer.text)["data"]["values"]


def test_models_are_counted_by_how_sure_the_year_is(shelf: Desk, reader: Client) -> None:
    counts = {m.model: (m.count, m.sure, m.unweighed) for m in counted(shelf.db).models}
    assert counts == {
        "lantern-20": (2, (1, 1, 0, 0), 0),
        "wick-6": (2, (0, 0, 1, 1), 0),
        "": (1, (0, 0, 0, 0), 1),
    }
    page = reader.get("/statistics").text
    assert table(page, "models")[0] == ["Lantern 20", "2", "1", "1", "0", "0", "0"]
    assert "Of 4 weighed, the year of 1 is as good as certain (95 % and more)." in page


def test_replaced_parts_are_counted_by_class(shelf: Desk, reader: Client) -> None:
    rows = table(reader.get("/statistics").text, "parts")
    assert rows[0] == ["loudspeaker", "2", "0", "0", "0", "2", "4"]
    assert ["output transformer", "4", "0", "0", "0", "0", "4"] in rows


def test_a_word_for_a_part_goes_from_original_to_replaced(shelf: Desk, reader: Client) -> None:
    words = list(dict.fromkeys(row["word"] for row in drawn(reader, "parts")))
    assert words == [
        "original",
        "probably original",
        "cannot tell",
        "probably replaced",
        "replaced",
    ]


def test_marks_looked_at_are_counted_with_those_that_could_not_be_read(
    shelf: Desk, reader: Client
) -> None:
    rows = table(reader.get("/statistics").text, "marks")
    assert rows == [
        ["output transformer: source date code", "4", "0", "0", "4"],
        ["loudspeaker 1: source date code", "0", "4", "0", "4"],
    ]


def test_a_withdrawn_mark_is_not_counted(shelf: Desk) -> None:
    mine = amp(shelf, 9, "wick-6", 1957, 0.9)
    before = counted(shelf.db).marks
    mark = state_of(shelf.db, mine).marks[0].id
    append(shelf.db, mine, [Change("mark-withdrawn", {"mark": mark})], by=By("tests"))
    assert sum(row[2] for row in counted(shelf.db).marks) == sum(row[2] for row in before) - 1


@pytest.mark.parametrize("chart", ["months", "models", "built", "parts", "marks"])
def test_a_chart_draws_what_its_table_says(shelf: Desk, reader: Client, chart: str) -> None:
    rows = table(reader.get("/statistics").text, chart)
    of, count = {
        "months": ("month", "amps"), "models": ("model", "amps"), "built": ("year", "amps"),
        "parts": ("class", "parts"), "marks": ("mark", "times"),
    }[chart]  # fmt: skip
    sums: dict[str, int] = {}
    for row in drawn(reader, chart):
        sums[row[of]] = sums.get(row[of], 0) + row[count]
    whole = 1 if chart == "months" else -1 if chart in ("parts", "marks") else 1
    assert sums == {row[0]: int(row[whole]) for row in rows}


def test_closed_dossiers_stand_within_their_month(shelf: Desk) -> None:
    (month,) = counted(shelf.db).months
    assert month[1:] == (5, 1)
    assert "The busiest month was 20" in by_month(counted(shelf.db)).says


def test_a_new_shop_has_charts_that_say_so(reader: Client) -> None:
    page = reader.get("/statistics").text
    assert "0 dossiers in all" in page
    assert "Nothing has been weighed yet" in page
    assert "<figure" not in page


def test_a_chart_that_is_not_there_is_said_to_be_not_there(reader: Client, nobody: Client) -> None:
    assert reader.get("/statistics/none.json").status_code == 404
    assert nobody.get("/statistics/models.json", follow_redirects=False).status_code in (303, 401)


def test_the_degrees_of_certainty_leave_no_gap() -> None:
    assert sure_words() == ("95 % and more", "80 % to 95 %", "50 % to 80 %", "below 50 %")
