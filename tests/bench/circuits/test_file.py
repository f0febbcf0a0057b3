"""A circuit file: good rows used, bad ones kept and said."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from endbell.bench.circuits.file import (
    CircuitFile,
    circuit_in,
    circuit_of,
    load_circuit,
    parse_circuit,
)
from endbell.bench.circuits.find import UnknownCircuit, circuits, find_circuit, find_circuit_file
from endbell.bench.circuits.keys import TABLES
from endbell.bench.circuits.schema import SCHEMA_FILE, circuit_schema
from endbell.dossier.errors import DossierError, NotToml, UnknownFormat, UnreadableFile

HEAD = 'format = "endbell-circuit/1"\nid = "own"\nsource = "traced"\n'
DOCS = Path(__file__).parents[3] / "docs" / "formats" / "circuit.md"
MODELS = ("beacon-45", "lantern-20", "lantern-20-reverb", "wick-6")


def read(text: str) -> CircuitFile:
    return parse_circuit(HEAD + text, "own.toml")


def test_values_may_be_written_as_on_the_drawing_or_in_si() -> None:
    found = read(
        '[[capacitor]]\nid="C1"\nfarad="22n"\nuse="coupling"\nvolts="400"\n'
        '[[capacitor]]\nid="C2"\nfarad=2.2e-8\nuse="coupling"\n'
        '[[resistor]]\nid="R1"\nohm="4k7"\ntolerance="5 %"\n'
    )
    one, two = found.circuit.capacitors
    assert one.farad == two.farad == 22e-9
    assert (one.volts, two.volts) == (400.0, None)
    assert (found.circuit.resistors[0].ohm, found.circuit.resistors[0].tolerance) == (4700.0, 0.05)
    assert (found.problems, found.remarks) == ((), ())


def test_a_bad_row_is_kept_and_said_and_the_others_are_used() -> None:
    found = read(
        '[[rail]]\nid="A"\nvolts=300\n[[rail]]\nid="B"\nvolts="3OO"\n[[rail]]\nid="C"\nvolts=200\n'
    )
    assert [rail.id for rail in found.circuit.rails] == ["A", "C"]
    (problem,) = found.problems
    assert (problem.file, problem.header, problem.table, problem.line) == ("own.toml", "rail", 2, 7)
    assert problem.found == 'volts is "3OO": "OO" is no suffix of it'
    assert "250" in problem.accepted
    assert found.set_aside[0].row == {"id": "B", "volts": "3OO"}


@pytest.mark.parametrize(
    ("text", "found", "accepted"),
    [
        ('[[seat]]\nat="V1"\ntype="12AX7"\n', "no use", "what it does"),
        ('[[seat]]\nat="V1"\ntype="12AX7"\nuse="prampe"\n', "prampe", "preamp, inverter"),
        ('[[seat]]\nat="V1@2"\ntype="12AX7"\nuse="preamp"\n', "V1@2", "without @"),
        ('[[capacitor]]\nid="C1"\nfarad="20M"\nuse="filter"\n', "20 microfarad", '"20u"'),
        ('[[capacitor]]\nid="C1"\nfarad=-1\nuse="filter"\n', "farad is the number -1", "0 or more"),
        ('[[resistor]]\nid="R1"\nohm="1m"\n', "1 megohm", "1Meg"),
        ('[[rail]]\nid="A"\nvolts=[1]\n', "a list", "a number"),
        ('[[rail]]\nid="A"\nvolts=1\n[[rail]]\nid="A"\nvolts=2\n', 'a second rail "A"', "once"),
        ('[rail]\nid="A"\nvolts=1\n', "single brackets", "[[rail]]"),
        ('[[seat]]\nat="V1"\ntype="a"\nuse="output"\ncathode_sharing=0\n', "0", "1 or more"),
        ('[[stage]]\nid="s"\nsource_node="a"\nout_node="b"\nnetlist="""\nR1 a 0 1k\nR2 a b 10x\n"""\n',
         'netlist line 2: "10x"', "100k"),
        ('[[stage]]\nid="s"\nsource_node="a"\nout_node="x"\nnetlist="R1 a 0 1k"\n', 'no node "x"', "a"),
    ],
)  # fmt: skip
def test_what_is_wrong_and_what_would_do(text: str, found: str, accepted: str) -> None:
    problem = read(text).problems[0]
    assert found in problem.found
    assert accepted in problem.accepted
    assert problem.line is not None


def test_a_slip_in_the_head_costs_nothing_but_itself() -> None:
    found = parse_circuit(HEAD + 'fuse = "2 pigs"\nprotection = "III"\nfuze = 2\n', "own.toml")
    assert found.problems == ()
    assert found.circuit.fuse is None
    assert found.circuit.protection == "I"
    said = {remark.found: remark.nearest for remark in found.remarks}
    assert said['unknown key "fuze"'] == ("fuse",)
    assert len(found.remarks) == 3


def test_names_that_lead_nowhere_are_remarked() -> None:
    found = read(
        '[[rail]]\nid="A"\nvolts=300\nfed_from="Z"\n'
        '[[seat]]\nat="V1"\ntype="6V6GT"\nuse="output"\nrail="B"\npair="V2"\n'
        '[[seat]]\nat="V2"\ntype="6V6GT"\nuse="output"\nrail="A"\n'
        '[[capacitor]]\nid="C1"\nfarad=1e-6\nuse="filter"\nrail="Q"\n'
        '[[resistor]]\nid="R1"\nohm=1\nbleeds="Q"\n'
        '[[winding]]\nid="w"\npart="ot"\nuse="secondary"\ntap_of="v"\n'
    )
    said = [f"{r.header} {r.table}: {r.found}" for r in found.remarks]
    assert said == [
        'seat 1: rail is "B", which is not drawn',
        'rail 1: fed_from is "Z", which is not drawn',
        'capacitor 1: rail is "Q", which is not drawn',
        'resistor 1: bleeds is "Q", which is not drawn',
        'winding 1: tap_of is "v", which is not drawn',
        'seat 1: pair is "V2", which does not name V1 back',
    ]
    assert len(found.circuit.seats) == 2


def test_another_kind_of_file_is_refused(tmp_path: Path) -> None:
    for text, kind, words in (
        ('format = "endbell-dossier/1"', UnknownFormat, "endbell-circuit/1"),
        ('format = "endbell-circuit/2"', UnknownFormat, "newer"),
        ('format = "endbell-circuit/0"', UnknownFormat, "accepted"),
        ("format = 1", UnknownFormat, "the number 1"),
        ("[[seat]", NotToml, "line 1"),
    ):
        with pytest.raises(kind, match=words):
            parse_circuit(text, "x.toml")
    with pytest.raises(UnreadableFile, match="no such file"):
        load_circuit(tmp_path / "none.toml")
    with pytest.raises(UnreadableFile, match="a circuit is one TOML file"):
        load_circuit(tmp_path)


def test_a_table_of_a_sheet_is_a_circuit_too() -> None:
    tables = {"title": "My amp", "rail": [{"id": "A", "volts": 300}], "seat": "V1"}
    assert circuit_of(tables, "sheet.toml").rails[0].volts == 300.0
    (problem,) = circuit_in(tables, None, "sheet.toml").problems
    assert problem.accepted == "tables headed [[seat]]"


@given(
    st.dictionaries(
        st.sampled_from([*TABLES, *(e.key.name for e in TABLES[""]), "x"]),
        st.recursive(
            st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
            lambda inner: st.lists(
                st.dictionaries(
                    st.sampled_from([e.key.name for rows in TABLES.values() for e in rows]),
                    inner,
                    max_size=6,
                ),
                max_size=3,
            ),
            max_leaves=8,
        ),
        max_size=6,
    ).filter(lambda tables: "format" not in tables)
)
@settings(max_examples=60, deadline=None)
def test_no_tables_break_the_reader(tables: dict[str, object]) -> None:
    found = circuit_in(tables)
    assert all(problem.accepted for problem in (*found.problems, *found.remarks))


@pytest.mark.parametrize("model", MODELS)
def test_a_circuit_is_found_by_pack_and_model(model: str) -> None:
    by_two = find_circuit("brackwater", model)
    assert by_two.id == model
    assert find_circuit(f"brackwater/{model}") is by_two
    file = find_circuit_file("brackwater", model)
    assert (file.problems, file.remarks) == ((), ())


def test_a_shops_own_pack_comes_first(tmp_path: Path) -> None:
    for folder in (tmp_path / "brackwater" / "circuits", tmp_path / "own" / "circuits"):
        folder.mkdir(parents=True)
        (folder / "wick-6.toml").write_text(HEAD)
    assert find_circuit("brackwater/wick-6", [tmp_path]).source == "traced"
    assert find_circuit("own/wick-6", [tmp_path / "own"]).id == "own"
    assert find_circuit("brackwater/wick-6").source == "invented world"
    assert ("brackwater", "beacon-45") in circuits([tmp_path])


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("brackwater/lantern", "did you mean lantern-20"),
        ("brakwater/wick-6", "did you mean brackwater"),
        ("brackwater", "is no circuit's name"),
        ("../brackwater/wick-6", "is no circuit's name"),
        ("brackwater/../../x", "is no circuit's name"),
    ],
)
def test_a_circuit_that_is_not_there_is_told_by_what_is(asked: str, words: str) -> None:
    with pytest.raises(UnknownCircuit, match=re.escape(words)) as caught:
        find_circuit(asked)
    assert isinstance(caught.value, DossierError)


def test_the_shipped_schema_is_current_and_takes_every_shipped_circuit() -> None:
    import tomllib

    assert SCHEMA_FILE.read_text(encoding="utf-8") == circuit_schema()
    check = Draft202012Validator(json.loads(circuit_schema()))
    for path in circuits().values():
        check.validate(tomllib.loads(path.read_text(encoding="utf-8")))


def test_the_guide_names_every_key_and_choice() -> None:
    guide = DOCS.read_text(encoding="utf-8")
    for table, rows in TABLES.items():
        if table:
            assert f"[[{table}]]" in guide
        for entry in rows:
            assert f"`{entry.key.name}`" in guide, f"{table}.{entry.key.name}"
            for choice in entry.key.choices:
                assert choice in guide, f"{table}.{entry.key.name}: {choice}"


def test_the_guides_example_is_a_circuit() -> None:
    guide = DOCS.read_text(encoding="utf-8")
    for text in re.findall(r"```toml\n(.*?)```", guide, re.DOTALL):
        found = parse_circuit(text, "guide")
        assert (found.problems, found.remarks) == ((), ())
        assert found.circuit.stages or found.circuit.rails
