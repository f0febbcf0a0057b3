"""A sheet file: every good row used, every bad one kept and said with what would be accepted."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from endbell.bench.sheet import load_sheet, parse_sheet
from endbell.bench.sheet_keys import TABLES
from endbell.bench.sheet_types import Sheet
from endbell.dossier import DossierError, Problem
from endbell.dossier.errors import NotToml, OutOfBounds, UnknownFormat, UnreadableFile

from .conftest import HEAD

ROOT = Path(__file__).parents[3]


def only_problem(rows: str) -> Problem:
    (problem,) = parse_sheet(HEAD + rows, "amp.toml").problems
    return problem


def reading(more: str) -> str:
    return f"\n[[reading]]\n{more}\n"


def test_the_head_says_whose_amp_whose_limits_and_how_warm_it_was() -> None:
    text = HEAD + 'id = "B-1"\ndossier = "TRV-1"\non = 2026-03-04\nby = "RT"\nambient = 25\n'
    sheet = parse_sheet(text)
    assert (sheet.id, sheet.dossier, sheet.circuit) == ("B-1", "TRV-1", "brackwater/lantern-20")
    assert (sheet.practice, sheet.by, str(sheet.on)) == ("iet", "RT", "2026-03-04")
    assert sheet.ambient == pytest.approx(298.15)
    assert parse_sheet(HEAD + 'ambient = "77 °F"').ambient == pytest.approx(298.15)


def test_a_reading_is_kept_as_typed_and_in_si_units() -> None:
    sheet = parse_sheet(
        HEAD
        + 'by = "RT"\n'
        + reading('line = "leakage-normal"\nvalue = 0.4\nunit = "mA"\nuncertainty = "5 %"')
        + reading('line = "insulation"\nvalue = ">200M"\nby = "HK"\nafter = true')
    )
    leakage, insulation = sheet.readings
    assert (leakage.n, leakage.typed, leakage.by) == (1, "0.4 mA", "RT")
    assert leakage.value == pytest.approx(0.0004)
    assert leakage.spread == pytest.approx(0.00002)
    assert (insulation.n, insulation.value, insulation.after) == (2, 200e6, True)
    assert insulation.by == "HK"


@pytest.mark.parametrize(
    ("rows", "found", "accepted"),
    [
        (reading('line = "erth-bond"\nvalue = 1'), 'no line "erth-bond"', "id of a line"),
        (reading("value = 1"), "no line", "which line"),
        (reading('line = "earth-bond"'), "no value", "not-possible"),
        (reading('line = "earth-bond"\nvalue = ""'), "nothing is written", "a resistance"),
        (reading('line = "earth-bond"\nvalue = "12 V"'), "a voltage, not a resistance", "ohm"),
        (
            reading('line = "earth-bond"\nvalue = 3\nunit = "V"'),
            "a voltage, not a resistance",
            "ohm",
        ),
        (reading('line = "earth-bond"\nvalue = "3 ohm"\nunit = "V"'), "is no unit", "ohm"),
        (reading('line = "mains-volts"\nvalue = nan'), "nan", "finite"),
        (reading('line = "mains-volts"\nvalue = inf'), "inf", "finite"),
        (reading('line = "mains-volts"\nvalue = "OL"'), "over its range", "not-possible"),
        (reading('line = "mains-volts"\nvalue = true'), "true", "a text or a number"),
        (reading('line = "mains-volts"\nresult = "not-possible"'), "without a reason", "note"),
        (reading('line = "mains-volts"\nvalue = 231\nresult = "ok"'), '"ok"', "read, not-possible"),
        (reading('line = "leakage-both"\nvalue = 1'), "worked out, not read", "rests on"),
        (reading('line = "earth-bond"\nvalue = ">0.01 ohm"'), "hides it", "figure itself"),
        (reading('line = "insulation"\nvalue = "<1M"'), "hides it", "figure itself"),
        ('[[override]]\nline = "insulation"\nby = "RT"\nreason = " "', "reason is", "in words"),
        ('[[override]]\nline = "insulation"\nreason = "why"', "no by", "upon himself"),
        ('[[override]]\nby = "RT"\nreason = "why"', "neither a line nor a stage", "one of them"),
        ('[[override]]\nline = "everything"\nby = "RT"\nreason = "why"', "no line", "id of a line"),
        ('[[override]]\nstage = "all"\nby = "RT"\nreason = "why"', '"all"', "discharged, safety"),
        ('[[recording]]\nkind = "hum"\nfile = "a.wav"', '"hum"', "sine, level steps"),
        ('[[recording]]\nkind = "sine"\nfile = "a.wav"\nload = "8 V"', "a voltage", "resistance"),
        ('[[recording]]\nkind = "sine"\nfile = "a.wav"\nload = 0', "load is 0", "more than 0"),
        ('[[replaced]]\nby_what = "new"', "no part", "id of the part"),
        ('[reading]\nline = "earth-bond"', "single brackets", "[[reading]]"),
        ("reading = 3", "reading is the number 3", "[[reading]]"),
    ],
)
def test_a_bad_row_is_said_with_what_would_be_accepted(
    rows: str, found: str, accepted: str
) -> None:
    problem = only_problem(rows)
    assert found in problem.found
    assert accepted in problem.accepted
    assert problem.file == "amp.toml"


def test_a_bad_row_is_kept_as_typed_and_never_stops_the_good_ones() -> None:
    sheet = parse_sheet(
        HEAD
        + reading('line = "earth-bond"\nvalue = "12 V"')
        + reading('line = "mains-volts"\nvalue = "231 V"'),
        "amp.toml",
    )
    assert [r.line for r in sheet.readings] == ["mains-volts"]
    (kept,) = sheet.set_aside
    assert (kept.header, kept.table, kept.line) == ("reading", 1, 5)
    assert kept.row == {"line": "earth-bond", "value": "12 V"}


def test_a_slip_in_a_line_s_name_offers_the_nearest() -> None:
    assert only_problem(reading('line = "erth-bond"\nvalue = 1')).nearest[0] == "earth-bond"


@pytest.mark.parametrize(
    ("line", "value", "guess"),
    [
        ("mains-volts", "-231 V", "probes were probably swapped, which would make it 231 V"),
        ("leakage-normal", "0.4 A", "off by 1,000, which would make it 400 µA"),
        ("leakage-normal", 0.9, "off by 1,000, which would make it 900 µA"),
        ("earth-bond", "80k", "off by 1,000, which would make it 80 Ω"),
        ("mains-volts", "231 mV", "off by 1,000, which would make it 231 V"),
        ("cord-kind", "7", "Possible is 2 to 3"),
    ],
)
def test_a_reading_that_cannot_be_says_what_it_probably_was(
    line: str, value: str | float, guess: str
) -> None:
    typed = value if isinstance(value, float) else f'"{value}"'
    sheet = parse_sheet(HEAD + reading(f'line = "{line}"\nvalue = {typed}'), "amp.toml")
    assert sheet.readings == ()
    ((kept, why),) = sheet.impossible
    assert kept.line == line
    assert guess in why
    assert guess in sheet.problems[0].found


def test_unknown_keys_and_slips_that_cost_nothing_are_only_remarked_on() -> None:
    text = HEAD + reading('line = "mains-volts"\nvalue = 231\nnoet = "x"\nuncertainty = "1 ohm"')
    sheet = parse_sheet(text)
    assert sheet.problems == ()
    assert [r.found for r in sheet.remarks if "noet" in r.found]
    assert any("uncertainty" in r.found for r in sheet.remarks)
    assert parse_sheet(HEAD + 'ambient = "hot"').remarks


def test_further_keys_of_a_recording_go_to_what_reads_them() -> None:
    rows = '[[recording]]\nkind = "sweep"\nfile = "s.wav"\nfull_scale = "20 V"\nload = 8\nfirst_hz = 20\nmade = "x"'
    (recording,) = parse_sheet(HEAD + rows).recordings
    assert (recording.full_scale, recording.load_ohm) == (20.0, 8.0)
    assert recording.keys == {"first_hz": 20.0, "made": "x"}


@pytest.mark.parametrize(
    ("circuit", "found"),
    [("", "no circuit"), ('circuit = "Lantern 20"', '"Lantern 20"'), ("circuit = 3", "number 3")],
)
def test_a_sheet_without_a_circuit_says_how_one_is_named(circuit: str, found: str) -> None:
    (problem,) = parse_sheet(circuit).problems
    assert found in problem.found
    assert "brackwater/lantern-20" in problem.accepted


@pytest.mark.parametrize(
    ("text", "error", "said"),
    [
        ("[[reading]", NotToml, "line 1"),
        ('format = "endbell-dossier/1"', UnknownFormat, "endbell-sheet/1"),
        ('format = "endbell-sheet/2"', UnknownFormat, "newer"),
        ('format = "endbell-sheet/0"', UnknownFormat, "accepted"),
        ("format = 1", UnknownFormat, "accepted"),
        ("[[fault]]\n" * 5001, OutOfBounds, "5,001 tables [[fault]]"),
        ("\n".join(f"k{n} = 1" for n in range(1001)), OutOfBounds, "another kind of file"),
    ],
)
def test_what_is_no_sheet_is_refused_in_one_sentence(
    text: str, error: type[Exception], said: str
) -> None:
    with pytest.raises(error) as raised:
        parse_sheet(text, "amp.toml")
    assert said in str(raised.value)
    assert "\n" not in str(raised.value)


def test_a_file_that_cannot_be_read_is_refused_in_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(UnreadableFile, match="no such file"):
        load_sheet(tmp_path / "none.toml")
    with pytest.raises(UnreadableFile, match="is a folder; a bench sheet"):
        load_sheet(tmp_path)
    file = tmp_path / "latin.toml"
    file.write_bytes(b'by = "J\xf6rg"')
    with pytest.raises(UnreadableFile, match="line 1: is not UTF-8"):
        load_sheet(file)
    file.write_bytes(b"#" * 5_000_001)
    with pytest.raises(UnreadableFile, match="larger than 5 MB"):
        load_sheet(file)


_VALUES = st.recursive(
    st.one_of(
        st.integers(),
        st.floats(),
        st.booleans(),
        st.text(max_size=20),
        st.dates(),
        st.sampled_from(["earth-bond", "mains-volts", "4k7", "-231 V", "safety", "sine"]),
    ),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=6,
)
_KEYS = st.sampled_from(sorted({key.name for keys in TABLES.values() for key in keys}))


@settings(max_examples=80, deadline=None)
@given(
    st.dictionaries(
        st.sampled_from([*TABLES, "circuit", "practice", "id", "ambient", "on"]),
        st.lists(st.dictionaries(_KEYS, _VALUES, max_size=6) | _VALUES, max_size=4) | _VALUES,
        max_size=5,
    )
)
def test_no_tables_whatever_bring_the_reader_down(top: dict[str, object]) -> None:
    from endbell.bench.sheet import sheet_of

    try:
        assert isinstance(sheet_of(top), Sheet)
    except DossierError as error:
        assert str(error)


def test_every_table_and_key_is_in_the_docs() -> None:
    docs = (ROOT / "docs" / "formats" / "sheet.md").read_text(encoding="utf-8")
    for name, keys in TABLES.items():
        if name:
            assert f"`[[{name}]]`" in docs, name
        for key in keys:
            assert f"`{key.name}`" in docs, (name, key.name)
            for choice in key.choices:
                assert f"`{choice}`" in docs or f'"{choice}"' in docs, choice
