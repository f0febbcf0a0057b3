"""The amp drawn: every part has its spot, a thumb's width from the next, and says how it stands."""

from __future__ import annotations

from itertools import combinations
from math import dist
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from endbell.dossier.types import Mark, Part
from endbell.reference import load_reference
from endbell.reference.types import ExpectedPart, Model, Reference
from endbell.report.amp import Amp, amp_of
from endbell.report.amp_drawing import amp_svg, sign
from endbell.report.amp_layout import TARGET, VIEWS, WIDTH
from endbell.report.amp_looks import looks_of
from endbell.report.amp_parts import model_of, next_id

REFERENCE, _ = load_reference(("brackwater",))
PLAIN, _ = load_reference(())
MODELS = [model.id for model in REFERENCE.models]


def amp(model: str | None = "lantern-20-reverb", *marks: Mark, **more: object) -> Amp:
    return amp_of(model_of(model, REFERENCE), REFERENCE, marks, **more)  # type: ignore[arg-type]


def code(n: int, part: str, text: str = "993-348", result: str = "seen") -> Mark:
    return Mark(n, part, "source-date-code", text, result=result)


def in_order(drawn: Amp) -> None:
    """No part twice, none too near another, none outside the drawing."""
    ids = [spot.part for spot in drawn.spots]
    assert len(ids) == len(set(ids))
    for view in VIEWS:
        spots = drawn.of(view)
        for one, other in combinations(spots, 2):
            assert dist((one.x, one.y), (other.x, other.y)) >= TARGET, (one.part, other.part)
        for spot in spots:
            assert TARGET / 2 <= spot.x <= WIDTH - TARGET / 2
            assert TARGET / 2 <= spot.y <= drawn.layouts[view].height - TARGET / 2


# ---- a spot for everything


@pytest.mark.parametrize("model", MODELS)
def test_every_part_a_model_left_with_has_one_spot(model: str) -> None:
    drawn = amp(model)
    known = model_of(model, REFERENCE)
    assert known is not None
    in_order(drawn)
    assert {part.id for part in known.expected} <= {spot.part for spot in drawn.spots}
    assert {spot.part for spot in drawn.spots if not spot.expected} == {"paper-1"}


def test_an_amp_that_no_pack_knows_has_the_usual_parts() -> None:
    drawn = amp_of(None, PLAIN)
    in_order(drawn)
    assert {"ot", "pt", "pot-1", "sp-1", "label", "cloth"} <= {s.part for s in drawn.spots}
    assert [drawn.spot("ot").view, drawn.spot("sp-1").view] == ["chassis", "back"]  # type: ignore[union-attr]


def test_of_what_comes_in_numbers_there_is_always_one_more_where_no_model_is_known() -> None:
    drawn = amp_of(None, PLAIN, [code(1, "pot-1"), code(2, "pot-2")])
    assert [s.part for s in drawn.spots if s.part.startswith("pot")] == ["pot-1", "pot-2", "pot-3"]


def test_a_part_that_was_recorded_has_a_spot_though_no_model_left_with_it() -> None:
    drawn = amp("wick-6", code(1, "pot-9"), own=[Part("lamp", "other", "chassis")])
    in_order(drawn)
    spot, lamp = drawn.spot("pot-9"), drawn.spot("lamp")
    assert spot is not None and lamp is not None
    assert (spot.view, spot.expected, lamp.expected) == ("chassis", False, False)
    assert drawn.layouts["chassis"].row("other") is not None


def test_a_part_of_which_nothing_is_known_stands_in_a_row_of_its_own() -> None:
    drawn = amp("wick-6", code(1, "gizmo"))
    assert drawn.spot("gizmo") is not None
    in_order(drawn)


def test_valves_are_seen_with_the_back_off_and_pots_with_the_chassis_out() -> None:
    drawn = amp()
    assert {s.view for s in drawn.spots if s.part_class == "valve"} == {"back"}
    assert {s.view for s in drawn.spots if s.part_class == "potentiometer"} == {"chassis"}


CLASSES = [*REFERENCE.classes, "kind-nobody-drew", ""]
PARTS = st.lists(
    st.builds(
        ExpectedPart,
        id=st.from_regex(r"[a-z]{1,12}(-[0-9]{1,3})?", fullmatch=True),
        part_class=st.sampled_from(CLASSES),
        assembly=st.sampled_from([*REFERENCE.assemblies, "trolley"]),
        kinds=st.lists(st.sampled_from(["serial", "condition", "odd-kind"]), max_size=2).map(tuple),
    ),
    max_size=60,
)


@given(PARTS, st.sampled_from([REFERENCE, PLAIN]))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_any_pack_can_be_drawn(parts: list[ExpectedPart], reference: Reference) -> None:
    model = Model("m", "k", "M", (), 1.0, 1.0, tuple(parts))
    drawn = amp_of(model, reference)
    in_order(drawn)
    assert {part.id for part in parts} <= {spot.part for spot in drawn.spots}
    for view in VIEWS:
        ElementTree.fromstring(amp_svg(drawn, view, lambda spot: {"href": f"#{spot.part}"}))


# ---- how a part stands


def test_not_looked_at_is_never_the_same_as_absent() -> None:
    drawn = amp(None, code(1, "tank", "", "nothing-found"))
    assert drawn.spot("tank").state == "absent"  # type: ignore[union-attr]
    assert drawn.spot("badge").state == "unseen"  # type: ignore[union-attr]


def test_an_illegible_code_was_looked_at_and_is_neither_fitting_nor_absent() -> None:
    drawn = amp(None, code(1, "ot", "", "illegible"), conflicts={1: None})
    assert drawn.spot("ot").state == "seen"  # type: ignore[union-attr]


def test_without_a_verdict_nothing_is_said_to_fit() -> None:
    assert amp(None, code(1, "ot")).spot("ot").state == "seen"  # type: ignore[union-attr]


def test_a_mark_that_hardly_goes_with_the_others_is_at_odds() -> None:
    marks = code(1, "ot"), code(2, "pt"), code(3, "pot-1")
    drawn = amp("wick-6", *marks, conflicts={1: 0.4, 2: 0.0001, 3: 0.2}, sets=[(3, 2)])
    states = [drawn.spot(part).state for part in ("ot", "pt", "pot-1")]  # type: ignore[union-attr]
    assert states == ["fits", "odd", "odd"]


def test_every_state_has_a_sign_of_its_own() -> None:
    states = ("unseen", "seen", "fits", "odd", "absent")
    bare = {sign(state).replace(f"sign-{state}", "") for state in states}
    assert len(bare) == len(states)


# ---- what can be looked at, and where to go next


def test_several_looks_at_one_part_are_reached_from_its_spot() -> None:
    looks = amp().spot("sp-1").looks  # type: ignore[union-attr]
    assert [look.id for look in looks] == ["source-date-code", "model-designation", "condition"]
    chassis = amp().spot("chassis").looks  # type: ignore[union-attr]
    assert {"serial", "year-stamp", "feature:mains-lead"} <= {look.id for look in chassis}


def test_a_feature_of_another_model_is_not_asked_for() -> None:
    part = ExpectedPart("tank", "reverb-unit", "reverb")
    assert any(look.feature for look in looks_of(part, "lantern-20-reverb", REFERENCE))
    assert not any(look.feature for look in looks_of(part, "wick-6", REFERENCE))


def test_after_a_pot_comes_the_next_pot_and_after_the_last_none() -> None:
    drawn = amp("lantern-20")
    assert drawn.after("pot-1").part == "pot-2"  # type: ignore[union-attr]
    assert drawn.after("pot-5") is None
    assert drawn.after("ot") is None
    assert drawn.after("nothing-like-it") is None


def test_numbers_of_parts_are_not_used_twice() -> None:
    assert next_id("paper", ["paper-2", "pot-7"]) == "paper-3"
    assert next_id("paper", []) == "paper-1"


# ---- the drawing


def test_the_drawing_is_for_the_eye_and_links_each_spot() -> None:
    drawn = amp()
    tree = ElementTree.fromstring(
        amp_svg(drawn, "chassis", lambda s: {"href": f"/x/{s.part}", "data-spot": s.part})
    )
    assert tree.get("aria-hidden") == "true"
    links = list(tree.iter("a"))
    assert [node.get("data-spot") for node in links] == [s.part for s in drawn.of("chassis")]
    assert {node.get("tabindex") for node in links} == {"-1"}


def test_as_many_knobs_are_drawn_as_there_are_pots() -> None:
    def rings(model: str) -> int:
        tree = ElementTree.fromstring(amp_svg(amp(model), "front"))
        return sum(node.get("r") == "7.5" for node in tree.iter("circle"))

    assert (rings("wick-6"), rings("lantern-20-reverb")) == (2, 6)


def test_a_hostile_name_of_a_part_stays_text() -> None:
    drawn = amp(None, code(1, "<script>x\u202e"))
    drawing = "".join(amp_svg(drawn, view) for view in VIEWS)
    assert "<script" not in drawing
    assert "\u202e" not in drawing
