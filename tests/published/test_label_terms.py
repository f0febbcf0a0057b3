"""The dated terms of the standards pack, against the published table and labels that bear them.

The example labels are written for this test; the dates are the table's.  Its ``how`` column says
which rows were seen and which are from memory.
"""

from __future__ import annotations

from datetime import date

import pytest

from endbell.marks import Seen, Tables, read_mark
from endbell.reference import load_reference

from .rows import Row, rows

TERMS = rows("label_terms")
SEEN = {row["id"] for row in TERMS if "seen" in row["how"]}

# not wording but things done to an amp: no text on a label can show them
NO_WORDING = {"three_wire_cord_us", "uk_flex_colours_new", "uk_240v_230v", "eu_230v_from_220"}
WORDED = [row for row in TERMS if row["id"] not in NO_WORDING]

LABELS = [
    # terms whose dates were seen in print
    ("Port Ellery 16, Ill.", "us_postal_zone"),
    ("Port Ellery, Ill. 60616", "us_zip5"),
    ("Port Ellery, CA 92631", "us_state_two_letter"),
    ("Port Ellery, NB 68102", "us_state_NB"),
    ("Port Ellery, CA 92631-1234", "us_zip4"),
    ("London, E.C.1", "uk_london_district"),
    ("Ellery Road, CR0 2YR", "uk_postcode_full"),
    ("Telephone GRover 4-1234", "us_tel_exchange_name"),
    ("Made to RMA standards", "rma"),
    ("RTMA code", "rtma"),
    ("RETMA code", "retma"),
    ("EIA code", "eia"),
    ("Electronic Industries Alliance", "eia_alliance"),
    ("117 V 60 cycles", "unit_cycles"),
    ("117 V 60 Hz", "unit_hertz"),
    # terms whose dates are from memory
    ("Made in W. Germany", "germany_west"),
    ("Made in Occupied Japan", "japan_occupied"),
    ("Made in USSR", "ussr"),
    ("Call (800) 555-0100", "us_tel_800"),
    ("U.L. Listed", "ul_listed"),
    ("250 MMF", "unit_mmf"),
]


@pytest.fixture(scope="module")
def tables() -> Tables:
    reference, _ = load_reference([])
    return reference.tables


def day(text: str) -> date | None:
    return date.fromisoformat(text) if text else None


def test_only_wording_is_looked_for(tables: Tables) -> None:
    assert {term.id for term in tables.terms} == {row["id"] for row in WORDED}


@pytest.mark.parametrize("row", WORDED, ids=lambda row: row["id"])
def test_a_term_keeps_its_published_dates(tables: Tables, row: Row) -> None:
    (term,) = [term for term in tables.terms if term.id == row["id"]]
    assert (term.not_before, term.not_after) == (day(row["not_before"]), day(row["not_after"]))
    assert term.strictness == row["strictness"]
    assert term.source


@pytest.mark.parametrize(("text", "term"), LABELS, ids=[term for _, term in LABELS])
def test_a_label_that_bears_a_term_is_dated_by_it(tables: Tables, text: str, term: str) -> None:
    reading = read_mark(Seen("label-text", text), tables)
    (hit,) = [hit for hit in reading.terms if hit.term == term]
    (row,) = [row for row in TERMS if row["id"] == term]
    assert (hit.not_before, hit.not_after) == (day(row["not_before"]), day(row["not_after"]))


def test_the_examples_say_rightly_which_dates_were_seen() -> None:
    assert all(term in SEEN for _, term in LABELS[:15])
    assert not any(term in SEEN for _, term in LABELS[15:])


def test_the_bodies_names_follow_one_another(tables: Tables) -> None:
    found = {
        hit.term: hit
        for text in ("RMA", "RTMA", "RETMA", "EIA")
        for hit in read_mark(Seen("label-text", text), tables).terms
    }
    starts = [found[name].not_before for name in ("rma", "rtma", "retma", "eia")]
    assert starts == sorted(start for start in starts if start)


def test_a_plain_label_has_no_dated_term(tables: Tables) -> None:
    reading = read_mark(Seen("label-text", "Brackwater Sound Works, Port Ellery"), tables)
    assert reading.misfit is not None
    assert reading.misfit.found == "no dated term"
