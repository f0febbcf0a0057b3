"""The service record: what was replaced, where the old parts are, what may be said of the amp."""

from __future__ import annotations

from typing import Any

from endbell.bench.circuit_of import with_circuit
from endbell.bench.compute import compute
from endbell.bench.lines import Judgement
from endbell.bench.result import SheetResult
from endbell.bench.service import (
    handover_of,
    next_bag,
    repair_row,
    replacements,
    service_record,
)
from endbell.bench.sheet import sheet_of

OT = {"part": "ot", "by_what": "a new one", "why": "open primary", "kept": True, "bag": "1"}
ELCO = {"part": "elco-1", "by_what": "22 µF", "why": "ESR", "kept": True, "bag": "2"}
VALVE = {"part": "V3", "by_what": "a new pair", "why": "worn out"}


def computed(readings: list[dict[str, Any]], **more: Any) -> SheetResult:
    form = {"id": "TRV-1", "circuit": "brackwater/lantern-20", "practice": "iet"}
    sheet, circuit = with_circuit(sheet_of({**form, "reading": readings, **more}))
    return compute(sheet, circuit)


def test_a_bag_is_at_the_shop_until_it_is_handed_over() -> None:
    handed = handover_of({"bags": ["1"], "to": "A. Customer", "on": "2026-03-07"})
    told = replacements((OT, ELCO, VALVE), (handed,), {"ot": "Output transformer"})
    assert [(one.title, one.whereabouts) for one in told] == [
        ("Output transformer", "in bag 1, handed to A. Customer on 2026-03-07"),
        ("elco-1", "in bag 2, at the shop"),
        ("V3", "not kept"),
    ]


def test_a_bag_handed_over_twice_is_with_whoever_took_it_last() -> None:
    handed = [handover_of({"bags": ["1"], "to": to}) for to in ("A. Carrier", "A. Customer")]
    assert replacements((OT,), handed)[0].to == "A. Customer"


def test_bags_are_numbered_on_from_the_highest() -> None:
    assert next_bag(()) == "1"
    assert next_bag(({"bag": "9"}, {"bag": "10"}, {"bag": "A"}, {"bag": 11}, {})) == "11"


def test_a_replaced_row_is_a_repair_with_what_why_and_who() -> None:
    row = {**OT, "by": "Tomas Bench", "done": "2026-03-04"}
    assert repair_row(row) == {
        "part": "ot",
        "replaced": True,
        "done": "2026-03-04",
        "note": "by a new one; open primary; done by Tomas Bench; old part in bag 1",
    }
    assert repair_row({"by_what": "a new one"}) is None


def test_a_row_that_is_no_text_says_nothing() -> None:
    assert repair_row({"part": "ot", "done": 7, "kept": "yes"}) == {"part": "ot", "replaced": True}
    assert handover_of({"bags": "1", "to": None}).bags == ()


def test_the_record_tells_what_is_off_and_what_was_not_measured() -> None:
    result = computed(
        [
            {"line": "cord-kind", "value": "3"},
            {"line": "filter-volts-left", "at": "C1", "value": "0.2"},
            {"line": "filter-volts-left", "at": "C2", "value": "230"},
        ],
        replaced=[OT],
    )
    record = service_record(result, handovers=[{"bags": ["1"], "to": "A. Customer"}])
    assert "Voltage left on a filter capacitor at C2 (high)" in record.headline
    assert "Not everything was measured" in record.headline
    assert any(
        title.startswith("Voltage left on a filter capacitor (C3)") for title in record.missing
    )
    assert all(line.judgement is not Judgement.NOT_MEASURED for line in record.lines)
    assert record.bagged[0].to == "A. Customer"
    assert "Local codes and licensed practice override" in record.says
    assert record.says not in record.cautions


def test_what_was_read_with_power_too_early_is_not_in_the_record() -> None:
    result = computed([{"line": "rail-volts", "at": "A", "value": "330"}])
    record = service_record(result)
    assert all(line.id != "rail-volts" for line in record.lines)
    assert any("taken before its safety lines passed" in text for text in record.remarks)
