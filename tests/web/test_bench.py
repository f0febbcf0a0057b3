"""The bench on the screen: a reading at a time, what it means at once, repairs and bags."""

from __future__ import annotations

from collections.abc import Iterator
from html import unescape
from typing import Any

import pytest
from fastapi import FastAPI

from endbell.bench.sheet import parse_sheet
from endbell.chronology import brief
from endbell.dossier.load import dossier_of
from endbell.store import Change, append, new_id, state_of
from endbell.web.desk import Desk

from .bench_amp import (
    BY,
    LEAKAGE,
    LIMITED,
    let_pass,
    on_bench,
    read_caution,
    readings,
    replaced,
    row,
    safe,
)
from .conftest import Client
from .one_app import one_app
from .test_live import plain


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    with one_app(tmp_path_factory.mktemp("shop")) as made:
        yield made


def post(client: Client, dossier: str, what: str, **data: Any) -> Any:
    return client.post(
        f"/dossiers/{dossier}/bench/{what}",
        data={"key": new_id(), **data},
        headers={"HX-Request": "true"},
    )


def said(answer: Any) -> str:
    return unescape(answer.text)


def test_the_dossier_leads_to_the_bench(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db)
    assert f'href="/dossiers/{dossier}/bench"' in client.get(f"/dossiers/{dossier}").text


def test_one_step_is_asked_for_at_a_time(client: Client, desk: Desk) -> None:
    page = client.get(f"/dossiers/{on_bench(desk.db)}/bench").text
    assert page.count('id="b-value"') == 1
    assert "Conductors in the mains cord" in page
    assert "Pull the plug first" in page
    assert "Local codes and licensed practice override everything" in page


def test_an_entry_is_kept_as_typed_and_the_next_step_comes(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db)
    answer = post(client, dossier, "readings", line="cord-kind", value="3", note="moulded plug")
    assert answer.status_code == 200
    kept = state_of(desk.db, dossier).bench.readings[0].row
    today = desk.today().isoformat()
    assert kept == {
        "line": "cord-kind",
        "value": "3",
        "note": "moulded plug",
        "by": "Tomas Bench",
        "on": today,
    }
    assert 'data-step-key="line-capacitor"' in answer.text


def test_the_unit_beside_the_field_counts_where_none_is_typed(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db, *safe())
    post(client, dossier, "readings", line="resistor-ohm", at="R1", value="68", unit="kohm")
    post(client, dossier, "readings", line="resistor-ohm", at="R2", value="68k", unit="ohm")
    rows = [r.row for r in state_of(desk.db, dossier).bench.readings[-2:]]
    assert [(r["value"], r.get("unit")) for r in rows] == [("68", "kohm"), ("68k", None)]


def test_what_is_typed_is_read_and_judged_before_it_is_entered(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db)
    before = state_of(desk.db, dossier)
    answer = post(client, dossier, "preview", line="filter-volts-left", at="C1", value="230")
    assert "230 V" in answer.text
    assert "high" in answer.text
    assert state_of(desk.db, dossier) == before


def test_lines_that_follow_from_a_reading_are_told_while_it_is_typed(
    client: Client, desk: Desk
) -> None:
    dossier = on_bench(desk.db)
    answer = post(client, dossier, "preview", line="mains-volts", value="242", unit="V")
    assert "What a winding gives on today's mains at heater" in said(answer)


@pytest.mark.parametrize(
    ("line", "value", "told"),
    [
        ("insulation", "200 V", "V is a voltage, not a resistance"),
        ("mains-volts", "-230", "cannot be"),
        ("mains-volts", "230000", "unit is probably off by 1,000"),
        ("mains-volts", "nan", "is not a number"),
        ("mains-volts", "OL", "the meter was over its range"),
        ("earth-bond", "", "nothing is written"),
    ],
)
def test_what_can_not_be_a_reading_is_answered_in_a_sentence_and_not_kept(
    line: str, value: str, told: str, client: Client, desk: Desk
) -> None:
    dossier = on_bench(desk.db, *safe())
    before = state_of(desk.db, dossier)
    answer = post(client, dossier, "readings", line=line, value=value)
    assert answer.status_code == 422
    assert told in said(answer)
    assert state_of(desk.db, dossier) == before


def test_a_place_that_the_circuit_has_not_is_said(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db)
    answer = post(client, dossier, "readings", line="filter-volts-left", at="C99", value="0")
    assert answer.status_code == 422
    assert 'the circuit has no capacitor "C99"' in said(answer)


def test_a_step_that_can_not_be_made_needs_a_reason(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db)
    wrong = post(client, dossier, "readings", line="earth-bond", impossible="yes")
    assert wrong.status_code == 422
    post(client, dossier, "readings", line="cord-kind", impossible="yes", note="cord cut off")
    kept = state_of(desk.db, dossier).bench.readings[0].row
    assert (kept["result"], kept["note"]) == ("not-possible", "cord cut off")


def test_a_line_out_of_limits_opens_with_its_likely_causes(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db, *readings([row("cord-kind", "2")]))
    page = client.get(f"/dossiers/{dossier}/bench").text
    start = page.index('data-line="cord-kind"')
    line = page[page.rindex("<details", 0, start) : page.index("</details>", start)]
    assert " open" in line.split(">")[0]
    assert "Likely causes" in line
    assert "two-wire cord" in line


def test_done_lines_fold_away(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db, *safe())
    page = client.get(f"/dossiers/{dossier}/bench").text
    start = page.index('data-line="earth-bond"')
    assert " open" not in page[page.rindex("<details", 0, start) : start + 40]


def test_a_reading_is_withdrawn_and_undone(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db)
    post(client, dossier, "readings", line="cord-kind", value="3")
    reading = state_of(desk.db, dossier).bench.readings[0].id
    post(client, dossier, f"readings/{reading}/withdraw")
    assert state_of(desk.db, dossier).bench.standing("readings") == ()
    client.post(f"/dossiers/{dossier}/undo")
    assert len(state_of(desk.db, dossier).bench.standing("readings")) == 1
    history = plain(client.get(f"/dossiers/{dossier}/history").text)
    assert "cord-kind: 3" in history


def test_sending_twice_enters_once(client: Client, desk: Desk) -> None:
    dossier, key = on_bench(desk.db), new_id()
    for _ in range(2):
        post(client, dossier, "readings", line="cord-kind", value="3", key=key)
    assert len(state_of(desk.db, dossier).bench.readings) == 1


def test_a_reader_sees_and_enters_nothing(reader: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db)
    page = reader.get(f"/dossiers/{dossier}/bench").text
    assert "Conductors in the mains cord" in page
    assert "<form" not in page
    for what in ("readings", "overrides", "cautions", "import", "replaced", "handovers", "head"):
        assert post(reader, dossier, what, line="cord-kind", value="3").status_code == 403


def test_an_amp_of_no_known_model_asks_for_its_circuit(client: Client, desk: Desk) -> None:
    dossier = new_id()
    append(desk.db, dossier, [Change("opened", {"number": f"TRV-{dossier[-6:]}"})], by=BY)
    assert "Which circuit?" in client.get(f"/dossiers/{dossier}/bench").text
    assert post(client, dossier, "head", circuit="brackwater/nonsense").status_code == 422
    answer = post(client, dossier, "head", circuit="brackwater/wick-6", practice="vde")
    assert "Wick 6" in answer.text
    assert "testing after repair (VDE)" in answer.text


# ---- a meter's readings pasted


PASTE = (
    "line;at;value;unit\n"
    "earth-bond;;0,06;ohm\n"
    "filter-volts-left;C1;0.3;V\n"
    "filter-volts-left;C99;0.3;V\n"
    "earth-bnd;;0.06;ohm\n"
    "rail-volts;A;330;V\n"
)


def test_a_paste_is_looked_at_first_and_its_bad_rows_are_named(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db, *safe(less="insulation"))
    before = state_of(desk.db, dossier)
    text = said(post(client, dossier, "import", csv=PASTE))
    assert "2 of 5 can be used" in text
    assert "60 mΩ" in text
    assert 'no line is called "earth-bnd"; did you mean earth-bond?' in text
    assert 'the circuit has no capacitor "C99"' in text
    assert "Rail at A needs power, and waits for" in text
    assert state_of(desk.db, dossier) == before


def test_good_rows_of_a_paste_are_entered_and_bad_ones_stay_in_the_box(
    client: Client, desk: Desk
) -> None:
    dossier = on_bench(desk.db, *safe(less="earth-bond"))
    text = said(post(client, dossier, "import", csv=PASTE, keep="yes"))
    rows = [r.row for r in state_of(desk.db, dossier).bench.readings[-2:]]
    assert [(r["line"], r.get("at"), r["value"]) for r in rows] == [
        ("earth-bond", None, "0,06"),
        ("filter-volts-left", "C1", "0.3"),
    ]
    box = text[text.index("<textarea") : text.index("</textarea>")]
    assert "earth-bnd;;0.06;ohm" in box
    assert "earth-bond;;0,06" not in box


# ---- repairs


def test_the_verdict_of_originality_follows_a_repair(client: Client, desk: Desk) -> None:
    mark = {"part": "ot", "kind": "source-date-code", "text": "993-348", "on": "2026-02-01"}
    dossier = on_bench(desk.db, Change("mark-set", {"mark": new_id(), "row": mark}))
    assert original(desk, dossier, "ot") > 0.5
    answer = post(
        client, dossier, "replaced", part="ot", by_what="a new one", why="open primary", kept="yes"
    )
    assert answer.status_code == 200
    assert original(desk, dossier, "ot") < 0.02
    assert original(desk, dossier, "ot-removed") > 0.9  # in its bag, and it still dates the amp
    taken_back = state_of(desk.db, dossier).bench.replaced[0].id
    post(client, dossier, f"replaced/{taken_back}/withdraw")
    assert original(desk, dossier, "ot") > 0.5


def original(desk: Desk, dossier: str, part: str) -> float:
    """Probability that a part is original, by the engine itself."""
    form = state_of(desk.db, dossier).form()
    packs = desk.packs.reference
    read = dossier_of(form, {}, reference_for=packs, today=desk.today())
    found = brief(read, packs(read.packs))
    return next(p.original for p in found.parts if p.part == part)


def test_a_replaced_part_goes_into_the_next_bag_and_is_handed_over(
    client: Client, desk: Desk
) -> None:
    dossier = on_bench(desk.db)
    for part in ("ot", "elco-1"):
        post(client, dossier, "replaced", part=part, by_what="new", why="worn", kept="yes")
    rows = [r.row for r in state_of(desk.db, dossier).bench.replaced]
    assert [(r["part"], r["bag"], r["by"]) for r in rows] == [
        ("ot", "1", "Tomas Bench"),
        ("elco-1", "2", "Tomas Bench"),
    ]
    assert post(client, dossier, "handovers", bags="7", to="A. Customer").status_code == 422
    assert post(client, dossier, "handovers", bags="1", to=" ").status_code == 422
    text = said(post(client, dossier, "handovers", bags="1", to="A. Customer"))
    assert "Bag 1 handed to A. Customer" in text
    assert "1 at the shop" in text


def test_what_is_replaced_has_a_part_a_successor_and_a_reason(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db)
    whole = {"part": "ot", "by_what": "new", "why": "open"}
    for missing in whole:
        assert post(client, dossier, "replaced", **{**whole, missing: ""}).status_code == 422
    unknown = post(client, dossier, "replaced", **{**whole, "part": "flux-box"})
    assert "No part is called 'flux-box'. What would do: what sort of part it is" in said(unknown)
    described = {**whole, "part": "flux-box", "class": "loudspeaker"}
    assert post(client, dossier, "replaced", **described).status_code == 200
    assert [dict(r) for r in state_of(desk.db, dossier).parts] == [
        {"id": "flux-box", "class": "loudspeaker"}
    ]


def test_a_replacement_withdrawn_is_no_repair_any_more(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db, replaced())
    row_id = state_of(desk.db, dossier).bench.replaced[0].id
    assert post(client, dossier, f"replaced/{row_id}/withdraw").status_code == 200
    assert "repair" not in state_of(desk.db, dossier).form()


# ---- papers


def test_the_service_report_says_what_was_done_and_who_has_the_old_parts(
    reader: Client, desk: Desk
) -> None:
    dossier = on_bench(desk.db, *safe(), replaced(), let_pass("earth-bond"))
    page = reader.get(f"/dossiers/{dossier}/bench/service")
    text = plain(page.text)
    assert "open primary" in text
    assert "in bag 1, at the shop" in text
    assert "was let pass by Olive Owner: seen to by hand" in text
    assert "Received by (name, signature)" in text
    assert "Local codes and licensed practice override" in text
    assert "script" not in page.headers["Content-Security-Policy"].replace("default-src", "")
    pdf = reader.get(f"/dossiers/{dossier}/bench/service.pdf")
    assert pdf.content.startswith(b"%PDF")


def test_the_sheet_as_a_file_is_read_back_the_same(reader: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db, *safe(), replaced())
    sheet = parse_sheet(reader.get(f"/dossiers/{dossier}/bench/sheet.toml").text)
    assert sheet.problems == ()
    assert sheet.circuit == "brackwater/lantern-20"
    assert len(sheet.readings) == 8
    assert sheet.replaced[0].part == "ot"


def test_charts_hold_only_what_may_be_shown(reader: Client, desk: Desk) -> None:
    powered = [*LEAKAGE, *LIMITED, row("rail-volts", "330", "A")]
    dossier = on_bench(desk.db, *safe(), *readings(powered))
    drawn = reader.get(f"/dossiers/{dossier}/bench/charts/drawn.json").json()
    assert any(r["line"] == "Rail at A" for r in drawn["data"]["values"])
    early = on_bench(desk.db, *safe(less="insulation"), read_caution(), *readings(powered))
    drawn = reader.get(f"/dossiers/{early}/bench/charts/drawn.json").json()
    assert not any(r["line"].startswith("Rail") for r in drawn["data"]["values"])
    assert reader.get(f"/dossiers/{early}/bench/charts/nonsense.json").status_code == 404
