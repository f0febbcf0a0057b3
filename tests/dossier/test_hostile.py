"""Whatever a file holds, it is read, refused in one sentence, or reported row by row."""

from __future__ import annotations

import string
from typing import Any

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from endbell.dossier import DossierError, read_marks
from endbell.dossier.keys import TABLES
from endbell.dossier.limits import hidden_characters, visible
from endbell.marks import KINDS
from endbell.reference import Reference

from .conftest import Opened

SHARED_FIXTURES = settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=150
)

_scalar = st.one_of(
    st.text(max_size=20),
    st.integers(-(2**63), 2**63),
    st.floats(),
    st.booleans(),
    st.dates(),
    st.datetimes(),
    st.times(),
    st.sampled_from(
        ["", "993-348", "[38", "...", "196u", "1964/1960", "nan", "seen", "worn", "\u202e"]
    ),
)
_value = st.one_of(
    _scalar,
    st.lists(_scalar, max_size=3),
    st.dictionaries(st.text(string.ascii_letters, min_size=1, max_size=5), _scalar, max_size=2),
)


def _rows(name: str) -> st.SearchStrategy[Any]:
    keys = {key.name: _value for key in TABLES[name]}
    row = st.fixed_dictionaries({}, optional=keys)
    if name == "mark":
        row = st.one_of(
            row,
            row.flatmap(
                lambda r: st.builds(
                    lambda k, p: {**r, "kind": k, "part": p},
                    st.sampled_from(list(KINDS)),
                    st.sampled_from(["ot", "label", "pot-1"]),
                )
            ),
        )
    return row


_file = st.fixed_dictionaries(
    {},
    optional={
        **{key.name: _value for key in TABLES[""] if key.name != "format"},
        "mark": st.lists(_rows("mark"), max_size=4),
        "part": st.lists(_rows("part"), max_size=2),
        "repair": st.lists(_rows("repair"), max_size=2),
        "claim": st.one_of(_rows("claim"), _value),
        "known": st.one_of(_rows("known"), _value),
        "other": _value,
    },
)


@SHARED_FIXTURES
@given(_file)
def test_any_table_of_values_is_read_or_refused(
    opened: Opened, reference: Reference, content: dict[str, Any]
) -> None:
    try:
        dossier = opened(tomlkit.dumps(content))
    except DossierError as error:
        assert str(error).startswith("amp.toml")
        return
    read = read_marks(dossier, reference)
    rows = content.get("mark", [])
    left_out = [row for row in dossier.set_aside if row.header == "mark"]
    assert len(dossier.marks) + len(left_out) == len(rows)
    assert len(read.read) + len(read.problems) == len(dossier.marks)
    for problem in (*dossier.problems, *dossier.remarks, *read.problems):
        assert problem.found
        assert problem.accepted
        assert not hidden_characters(problem.found)


@SHARED_FIXTURES
@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(opened: Opened, text: str) -> None:
    try:
        opened(text)
    except DossierError as error:
        assert str(error).startswith("amp.toml")
        assert "\n" not in str(error)


@pytest.mark.parametrize(
    "hostile",
    [
        '"a".' * 100_000 + "a = 1",
        "[" + "a." * 100_000 + "a]",
        "x = " + "[" * 900 + "]" * 900,
        "".join(f"k{n} = 1\n" for n in range(2_000)),
        'x = """' + '"\\' * 20_000,
    ],
)
def test_files_made_to_cost_time_are_refused(opened: Opened, hostile: str) -> None:
    with pytest.raises(DossierError):
        opened(hostile)


@pytest.mark.parametrize("value", ["0x" + "f" * 20_000, "9" * 4_000, "a." * 2_000 + "b = 1\ny = 2"])
def test_numbers_and_keys_without_end_are_kept_as_unknown(opened: Opened, value: str) -> None:
    text = value if "=" in value else f"x = {value}"
    assert opened(text).unknown_keys[0] in ("x", "a")


def test_hidden_characters_are_told_from_ordinary_ones() -> None:
    assert hidden_characters("993–348 ½ é\n\t") == ()
    assert hidden_characters("a\u202eb\u0000c\u200bd\u202e") == ("\u202e", "\u0000", "\u200b")
    assert visible("a\u202eb\nc") == "a\\u202eb⏎c"
    assert visible("x" * 100, 10) == "x" * 9 + "…"


def test_a_file_of_spaces_is_an_empty_dossier_at_once(opened: Opened) -> None:
    assert opened(" " * 4_000_000).marks == ()
