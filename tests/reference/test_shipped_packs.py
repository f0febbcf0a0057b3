"""The packs that are shipped: clean, sourced, and saying what the model needs."""

import csv
import re
import tomllib
from datetime import date
from itertools import pairwise
from pathlib import Path

import pytest

from endbell.reference import load_reference
from endbell.reference.check import check_pack
from endbell.reference.combine import SHIPPED
from endbell.reference.files import read_pack

PACKS = sorted(folder.name for folder in SHIPPED.iterdir())
KNOWN_CONFIDENCE = {"common practice, no source", "invented world"}


@pytest.fixture(scope="module")
def ref():
    reference, problems = load_reference(["brackwater"])
    assert problems == ()
    return reference


@pytest.mark.parametrize("pack", PACKS)
def test_a_shipped_pack_has_nothing_to_report(pack: str) -> None:
    assert check_pack(SHIPPED / pack) == ()


@pytest.mark.parametrize("pack", PACKS)
def test_every_row_says_where_it_is_from_and_how_sure_that_is(pack: str) -> None:
    rows = read_pack(SHIPPED / pack).rows
    assert len(rows) > 20
    for row in rows:
        assert row.values.get("source") and row.values.get("confidence"), (row.path, row.number)


def test_common_practice_claims_no_source_and_brackwater_is_invented() -> None:
    for pack, said in (
        ("common-practice", "common practice, no source"),
        ("brackwater", "invented world"),
    ):
        rows = read_pack(SHIPPED / pack).rows
        assert {(row.values["source"], row.values["confidence"]) for row in rows} == {(said, said)}


def test_source_numbers_shipped_are_invented_ones_only(ref) -> None:
    assert set(ref.tables.sources) == {"991", "992", "993", "994", "995", "996", "997"}


def test_the_rows_of_every_confusion_matrix_sum_to_one(ref) -> None:
    for matrices, size in ((ref.tables.digits, 10), (ref.tables.letters, 26)):
        assert set(matrices) == {"clear", "worn", "poor"}
        for matrix in matrices.values():
            assert len(matrix.rows) == size
            for row in matrix.rows:
                assert len(row) == size
                assert sum(row) == pytest.approx(1.0, abs=1e-12)


def test_a_worn_3_is_taken_for_an_8_more_readily_than_for_a_4(ref) -> None:
    worn, poor = ref.tables.digits["worn"].rows, ref.tables.digits["poor"].rows
    for true, seen in ((3, 8), (8, 3), (1, 7), (7, 1), (5, 6), (6, 5), (0, 8), (9, 6)):
        assert worn[true][seen] > 3 * worn[true][4]
        assert poor[true][seen] > worn[true][seen]
    letters = ref.tables.letters["worn"]
    c, g, k = (letters.alphabet.index(letter) for letter in "CGK")
    assert letters.rows[c][g] > 3 * letters.rows[c][k]


def test_a_clear_character_is_itself(ref) -> None:
    for matrix in (ref.tables.digits["clear"], ref.tables.letters["clear"]):
        for n, row in enumerate(matrix.rows):
            assert row[n] == 1.0


def test_every_class_has_the_assumptions_the_model_asks_for(ref) -> None:
    dated = {name for name, row in ref.classes.items() if row.dated}
    assert dated == {
        "power-transformer",
        "output-transformer",
        "reverb-transformer",
        "choke",
        "potentiometer",
        "loudspeaker",
        "capacitor",
        "electrolytic",
        "valve",
        "other",
    }
    for name in ref.classes:
        assert f"replaced.{name}.probability" in ref.assumptions
    for name in dated:
        for word in (
            "median_weeks",
            "sigma",
            "old_stock_weight",
            "old_stock_mean_weeks",
            "early_weight",
        ):
            assert f"lag.{name}.{word}" in ref.assumptions


def test_chances_are_chances(ref) -> None:
    for row in ref.assumptions.values():
        if row.unit == "probability":
            assert 0.0 <= row.value <= 1.0, row.name


def test_probabilities_of_one_choice_sum_to_one(ref) -> None:
    value = {name: row.value for name, row in ref.assumptions.items()}
    assert sum(value[f"delivery.spread.{e}"] for e in range(5)) == pytest.approx(1.0)
    assert sum(value[f"week_code.{word}"] for word in ("same", "before", "after")) == pytest.approx(
        1.0
    )


@pytest.mark.parametrize(
    ("p", "word"),
    [
        (1.0, "original"),
        (0.95, "original"),
        (0.949, "probably original"),
        (0.75, "probably original"),
        (0.5, "cannot tell"),
        (0.25, "probably replaced"),
        (0.05, "replaced"),
        (0.0, "replaced"),
    ],
)
def test_the_word_for_a_part_is_the_first_whose_range_holds_it(ref, p: float, word: str) -> None:
    assert next(row.word for row in ref.part_words if row.low <= p <= row.high) == word


def test_claims_in_the_words_of_the_trade_reach_their_classes(ref) -> None:
    def meant(word: str) -> set[str]:
        return {row.id for row in ref.classes.values() if word in (row.plural, *row.words)}

    assert meant("valves") == meant("tubes") == {"valve"}
    assert meant("pots") == {"potentiometer"}
    assert meant("speakers") == {"loudspeaker"}
    assert meant("transformers") == {
        "power-transformer",
        "output-transformer",
        "reverb-transformer",
    }


def test_usual_ids_stand_for_their_classes_and_assemblies(ref) -> None:
    usual = {name: (row.part_class, row.assembly) for name, row in ref.usual_ids.items()}
    assert usual["ot"] == ("output-transformer", "chassis")
    assert usual["sp"] == ("loudspeaker", "speakers")
    assert usual["faceplate"] == ("faceplate", "chassis")
    assert usual["label"] == ("label", "cabinet")
    assert usual["tank"] == ("reverb-unit", "reverb")
    assert usual["paper"] == ("paper", "papers")
    assert {row[1] for row in usual.values()} <= set(ref.assemblies)


def test_a_caution_stands_before_every_level_and_the_open_chassis_names_the_charge(ref) -> None:
    assert set(ref.cautions) == set(ref.levels)
    said = ref.cautions["chassis-out"].lower()
    for word in ("lethal", "unplugged", "qualified", "resistor", "measure", "local codes"):
        assert word in said


def test_every_dated_class_can_have_its_code_looked_at(ref) -> None:
    codes = {row.part_class for row in ref.checks if row.kind in ("source-date-code", "date-code")}
    assert codes == {name for name, row in ref.classes.items() if row.dated}


def test_condition_words_of_a_group_never_promise_more_than_certainty(ref) -> None:
    for group in {row.group for row in ref.conditions.values()}:
        words = [row for row in ref.conditions.values() if row.group == group]
        assert (
            max(
                sum(row.if_original for row in words),
                sum(row.if_later for row in words),
                sum(row.if_period for row in words),
            )
            <= 1.0 + 1e-12
        )


def test_an_untouched_joint_speaks_for_the_original_part(ref) -> None:
    row = ref.conditions["joint-untouched"]
    assert row.if_original > 5 * row.if_period > row.if_later


def test_the_code_grammar_knows_the_five_shapes(ref) -> None:
    shapes = {(s.source_digits, s.year_digits, s.week_digits) for s in ref.tables.grammar.shapes}
    assert shapes == {(2, 1, 2), (3, 1, 2), (3, 2, 2), (4, 1, 2), (4, 2, 2)}
    assert set(ref.tables.grammar.separators) == set(" -./")


@pytest.mark.parametrize(
    ("code", "years", "month"),
    [
        ("A1", (1970, 1990, 2010), 1),
        ("U6", (1986, 2006), 6),
        ("RO", (1983, 2003, 2023), 10),
        ("LD", (1979, 1999, 2019), 12),
        ("XN", (1989, 2009), 11),
    ],
)
def test_letter_dates_agree_with_worked_cases_of_iec_60062(ref, code, years, month) -> None:
    letters = ref.tables.letter_dates
    assert set(years) <= set(letters.years[code[0]])
    assert letters.months[code[1]] == month


def test_patent_numbers_rise_with_the_years(ref) -> None:
    years = ref.tables.patents
    assert [row.year for row in years] == list(range(1900, 1991))
    for early, late in pairwise(years):
        assert early.first_utility < late.first_utility
        assert early.first_design < late.first_design


LABELS = [
    ("Chicago 16, Ill.", {"us_postal_zone"}),
    ("PORT ELLERY, CA 92631", {"us_zip5", "us_state_two_letter"}),
    ("Port Ellery, Calif. 92631", {"us_zip5"}),
    ("Port Ellery, N.Y. 11205", {"us_zip5"}),
    ("12345-6789", {"us_zip4"}),
    ("London, W.1", {"uk_london_district"}),
    ("Croydon CR0 2YR", {"uk_postcode_full"}),
    ("NOR 09E", {"uk_postcode_norwich"}),
    ("(13a) Würzburg", {"de_plz_2"}),
    ("8500 Nürnberg", {"de_plz_4_west"}),
    ("90402 Nürnberg", {"de_plz_5"}),
    ("Made in W. Germany", {"germany_west"}),
    ("Made in Occupied Japan", {"japan_occupied"}),
    ("GRover 4-1234", {"us_tel_exchange_name"}),
    ("(714) 871-7400", {"us_tel_area_code", "us_tel_all_number"}),
    ("www.example.com", {"web_url"}),
    ("117 volts 60 cycles", {"unit_cycles"}),
    ("120 V 60Hz", {"unit_hertz"}),
    ("RETMA standard", {"retma"}),
    ("EIA", {"eia"}),
    ("Electronic Industries Alliance", {"eia_alliance"}),
    (".02 MMFD", {"unit_mmf"}),
    ("220pF", {"unit_pF"}),
    ("CE", {"ce_mark"}),
    ("Pat. Pend.", {"patent_pending"}),
    ("UL Listed", {"ul_listed"}),
    ("Brackwater plc", {"made_in_uk_ltd_plc"}),
]


@pytest.mark.parametrize(("label", "terms"), LABELS)
def test_a_term_is_recognised_on_a_label_and_no_other_is(ref, label, terms) -> None:
    found = {
        term.id
        for term in ref.tables.terms
        if any(re.search(pattern, label) for pattern in term.patterns)
    }
    assert found == terms


@pytest.mark.parametrize(
    "text", ["993-5738", "5 0364", "Type 6 SERVICE", "LR0451", "BRACKWATER LANTERN 20", "W12D"]
)
def test_codes_and_names_are_no_terms(ref, text: str) -> None:
    for term in ref.tables.terms:
        for pattern in term.patterns:
            assert not re.search(pattern, text), term.id


def test_terms_keep_the_days_of_the_published_table(ref) -> None:
    terms = {term.id: term for term in ref.tables.terms}
    assert terms["us_zip5"].not_before == date(1963, 7, 1)
    assert terms["us_zip5"].strictness == "hard"
    assert terms["rtma"].not_before == date(1950, 1, 1)
    assert terms["rtma"].not_after == date(1953, 12, 31)
    assert all(term.source for term in terms.values())


def test_all_rows_of_the_label_table_are_kept_even_where_no_text_shows_them() -> None:
    with (SHIPPED / "standards" / "term.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 55
    assert all(row["how"] for row in rows)


def test_shipped_text_is_plain_toml_and_csv() -> None:
    for path in SHIPPED.rglob("*.*"):
        assert path.suffix in (".toml", ".csv"), path
        if path.suffix == ".toml":
            tomllib.loads(Path(path).read_text("utf-8"))
