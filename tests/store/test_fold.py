"""The present follows from the events: step by step or all at once, with any of them taken back."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from endbell.store.events import DOSSIER_KINDS, Change, Event, check_change
from endbell.store.fold import advance, fold
from endbell.store.state import DossierState, state_from_json

words = st.text(max_size=8)
names = st.sampled_from(["a", "b", "c"])
rows = st.dictionaries(st.sampled_from(["part", "text", "kind", "note"]), words, max_size=3)


def _values(form: str) -> st.SearchStrategy[Any]:
    return {
        "text": names,
        "whole": st.integers(1, 30),
        "number": st.floats(allow_nan=False, allow_infinity=False),
        "yes-no": st.booleans(),
        "texts": st.lists(words, max_size=3),
        "table": rows,
    }[form]


@st.composite
def changes(draw: st.DrawFn) -> Change:
    kind = DOSSIER_KINDS[draw(st.sampled_from([k for k in DOSSIER_KINDS if k != "opened"]))]
    data = {name: draw(_values(form)) for name, form in kind.must.items()}
    for name, form in kind.may.items():
        if draw(st.booleans()):
            data[name] = draw(_values(form))
    return Change(kind.name, data)


def recorded(listed: list[Change]) -> list[Event]:
    all_changes = [Change("opened", {"number": "TRV-1"}), *listed]
    return [
        Event(n, "d", n, f"2026-03-02T09:{n:02d}:00.000000Z", "RT", "", c.kind, c.data, f"k{n}")
        for n, c in enumerate(all_changes, start=1)
    ]


@given(st.lists(changes(), max_size=20))
def test_step_by_step_and_all_at_once_agree(listed: list[Change]) -> None:
    events = recorded(listed)
    state = DossierState(id="d")
    for n, event in enumerate(events, start=1):
        check_change("d", Change(event.kind, event.data))
        after = advance(state, [event])
        state = fold("d", events[:n]) if after is None else after
        assert state == fold("d", events[:n])
    assert state.version == len(events)


@given(st.lists(changes(), max_size=12), st.integers(2, 12))
def test_undone_and_redone_is_as_if_nothing_had_been(listed: list[Change], n: int) -> None:
    listed = [c for c in listed if c.kind not in ("undone", "redone")]
    before = fold("d", recorded(listed))
    after = fold("d", recorded([*listed, Change("undone", {"n": n}), Change("redone", {"n": n})]))
    for name in ("head", "claim", "intake", "marks", "parts", "repairs", "photos", "tags", "note"):
        assert getattr(after, name) == getattr(before, name)
    assert after.undone == ()


@given(st.lists(changes(), max_size=12))
def test_a_state_is_read_back_as_it_was_written(listed: list[Change]) -> None:
    state = fold("d", recorded(listed))
    assert state_from_json(state.as_json()) == state


def test_a_withdrawn_mark_leaves_the_form_and_stays_in_the_record() -> None:
    row = {"part": "ot", "kind": "source-date-code", "text": "993-348"}
    other = {"part": "pt", "kind": "source-date-code", "text": "993-401"}
    state = fold(
        "d",
        recorded(
            [
                Change("mark-set", {"mark": "a", "row": row}),
                Change("mark-set", {"mark": "b", "row": other}),
                Change("mark-withdrawn", {"mark": "a", "reason": "of another amp"}),
            ]
        ),
    )
    assert [m["text"] for m in state.form()["mark"]] == ["993-401"]
    assert [m.id for m in state.marks] == ["a", "b"]


def test_a_new_wording_of_a_mark_keeps_its_place() -> None:
    row = {"part": "ot", "kind": "source-date-code", "text": "993-348"}
    events = recorded(
        [
            Change("mark-set", {"mark": "a", "row": row}),
            Change("mark-set", {"mark": "b", "row": {**row, "part": "pt"}}),
            Change("mark-set", {"mark": "a", "row": {**row, "text": "993-349"}}),
        ]
    )
    state = fold("d", events)
    assert [(m.id, m.row["text"], m.n) for m in state.marks] == [
        ("a", "993-349", 4),
        ("b", "993-348", 3),
    ]
    back = [*events, Event(5, "d", 5, "2026", "RT", "", "undone", {"n": 4}, "k5")]
    assert [m.row["text"] for m in fold("d", back).marks] == ["993-348", "993-348"]
