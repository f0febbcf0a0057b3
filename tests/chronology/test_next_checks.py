"""What to look at next: expected information per minute, and an end where nothing is worth it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from endbell.chronology import Verdict, weigh
from endbell.chronology.candidates import Around, candidates
from endbell.chronology.lags import EARLY
from endbell.chronology.looking import after, view_of
from endbell.chronology.nextcheck import best_of
from endbell.chronology.outcomes import PartPrior, code_look, quarter_edges
from endbell.chronology.setting import Setting
from endbell.chronology.weeks import thursday
from endbell.chronology.weighing import posterior
from endbell.chronology.workspace import Workspace
from endbell.dossier import Claim, Dossier, Mark
from endbell.dossier.parts import known_part
from endbell.reference import Reference

from .amp import Array, amp, claim, code, joint, looks, stamped

DATED = (
    code("pt", "993-6340"),
    code("ot", "993-6343"),
    code("pot-1", "992-6338"),
    code("pot-2", "992-6338"),
    looks("faceplate", "faceplate-legend", "lantern-reverb"),
)
OPEN = (
    code("pt", "993-340"),
    code("ot", "993-343"),
    looks("faceplate", "faceplate-legend", "lantern"),
)


CODES = ("source-date-code", "date-code")


@pytest.fixture(scope="module")
def told(brackwater: Reference, workspace: Workspace) -> dict[str, Verdict]:
    def look(marks: Sequence[Mark], said: Claim, ahead: int) -> Verdict:
        return weigh(
            amp(marks, brackwater, claim=said), brackwater, looks=ahead, workspace=workspace
        )

    return {
        "dated": look(DATED, claim(), 1),
        "open": look(OPEN, claim(), 2),
        "claimed": look(OPEN, claim(built="1963", original=["everything"]), 1),
    }


def test_looks_come_level_by_level_and_best_first(
    told: dict[str, Verdict], brackwater: Reference
) -> None:
    for verdict in told.values():
        order = [(brackwater.levels.index(n.level), -n.bits_per_minute) for n in verdict.next]
        assert order == sorted(order)
        assert {n.level for n in verdict.next} <= set(brackwater.levels)


def test_every_look_offered_is_worth_its_minutes(told: dict[str, Verdict]) -> None:
    for verdict in told.values():
        stop = verdict.assumptions["next.stop_bits_per_minute"]
        for n in verdict.next:
            assert n.bits_per_minute == pytest.approx(n.gain_bits / n.minutes)
            assert n.bits_per_minute >= stop and 0 < n.gain_bits < 12


def test_a_high_bar_leaves_nothing_worth_its_minutes(
    brackwater: Reference, workspace: Workspace
) -> None:
    dossier = amp(DATED, brackwater)
    verdict = weigh(
        dossier, brackwater, {"next.stop_bits_per_minute": 50.0}, looks=1, workspace=workspace
    )
    assert verdict.next == () and verdict.next_says == "Nothing left is worth its minutes."
    assert any("worth its minutes" in s.text for s in verdict.words)


def test_without_looking_ahead_nothing_is_said_of_looks(
    brackwater: Reference, workspace: Workspace
) -> None:
    verdict = weigh(amp(DATED, brackwater), brackwater, looks=0, workspace=workspace)
    assert verdict.next == () and verdict.next_says == ""


def test_what_was_looked_at_is_not_asked_for_again(told: dict[str, Verdict]) -> None:
    for verdict in told.values():
        seen = {(m.mark.part, m.mark.feature) for m in verdict.marks}
        assert not any((n.part, n.check) in seen for n in verdict.next)
        assert not any(n.check == "faceplate-legend" for n in verdict.next)
        assert not any(n.check == "pt-code" and n.part == "pt" for n in verdict.next)


def test_serials_dates_by_hand_and_names_of_loudspeakers_are_looked_for(
    told: dict[str, Verdict],
) -> None:
    offered = {n.check: n for n in told["open"].next}
    assert {"serial", "sp-designation", "chassis-stamp", "chart-letters"} <= set(offered)
    assert {"cabinet-hand-date", "chassis-hand-date"} <= set(offered)
    # a date by hand is there on one amp in four or five, a serial on nearly all
    assert offered["serial"].gain_bits > offered["chassis-hand-date"].gain_bits


def test_a_look_is_at_a_part_of_its_class(told: dict[str, Verdict], brackwater: Reference) -> None:
    classes = {c.id: c.part_class for c in brackwater.checks}
    for verdict in told.values():
        asked = [n for n in verdict.next if n.check in classes]
        assert asked
        for n in asked:
            part = known_part(n.part, brackwater)
            assert part is not None and part.part_class == classes[n.check], n.check


def test_a_chassis_has_to_be_taken_out_with_a_caution(
    told: dict[str, Verdict], brackwater: Reference
) -> None:
    levels = {n.level for n in told["open"].next}
    assert "chassis-out" in levels
    for n in told["open"].next:
        assert n.caution == brackwater.cautions.get(n.level, "")
    assert any(n.caution for n in told["open"].next)


def test_an_open_decade_leaves_more_to_learn_than_a_settled_date(told: dict[str, Verdict]) -> None:
    assert max(n.gain_bits for n in told["open"].next) > max(
        n.gain_bits for n in told["dated"].next
    )


def test_a_claim_of_originality_makes_its_parts_worth_a_look(told: dict[str, Verdict]) -> None:
    about = {n.settles for n in told["claimed"].next}
    assert any(a.startswith("origin of") for a in about)
    assert all(n.settles == "year of build" for n in told["open"].next)


def test_a_second_look_only_adds(told: dict[str, Verdict]) -> None:
    ahead = [n for n in told["open"].next if n.then_bits is not None]
    assert 1 <= len(ahead) <= 5
    for n in ahead:
        assert n.then_bits is not None and n.then_bits >= n.gain_bits - 1e-9
        assert n.then is not None and n.title not in n.then
    assert all(n.then is None for n in told["dated"].next)


# -- against weighing every outcome --------------------------------------------------------------------


def bits(table: Array) -> float:
    """Mutual information of rows and columns."""
    p = table / table.sum()

    def entropy(x: Array) -> float:
        x = x[x > 0]
        return float(-(x * np.log2(x)).sum())

    return entropy(p.sum(axis=0)) + entropy(p.sum(axis=1)) - entropy(p.ravel())


def situation(
    dossier: Dossier, reference: Reference, workspace: Workspace, part: str | None
) -> Array:
    """P(everything seen and year, model, origin of the part), flat."""
    found = posterior(dossier, reference, workspace=workspace).joint
    weight = found.weight
    years = found.setting.grid.years[found.weeks]
    share = np.ones((1, 1, 1))
    if part is not None:
        given = found.conditional([part])
        share = np.zeros((given.shape[0], given.shape[1], weight.shape[2]))
        share[:, :, found.active] = given
    rows = [weight * share, weight * (1 - share)]
    out = [np.bincount(years - 1930, weights=r.sum(axis=(0, 1)), minlength=50) for r in rows]
    return np.concatenate(out) * np.exp(found.log_evidence)


def gain_of(verdict: Verdict, check: str) -> float:
    return next((n.gain_bits for n in verdict.next if n.check == check), 0.0)


FEW_WEEKS = (
    *OPEN,
    code("pot-1", "992-338"),
    code("pot-2", "992-338"),
    code("choke", "993-341"),
    code("sp-1", "995-344"),
)
"""Two decades open, and few weeks in each: no neighbours are taken together."""


@pytest.mark.parametrize("claimed", [False, True], ids=["of the year", "and of its own origin"])
@pytest.mark.parametrize(
    ("part", "feature", "tolerance"),
    [
        ("chassis", "chassis-punch", 1e-5),
        ("knobs", "knob-shape", 1e-5),
        ("faceplate", "faceplate-finish", 1e-5),
        # of another amp, should the cabinet be one's: near enough to rank looks by
        ("handle", "handle-form", 5e-3),
        ("covering", "covering-colour", 5e-3),
        ("back", "back-panel-board", 5e-3),
    ],
)
def test_a_features_worth_is_what_its_values_would_tell(
    part: str,
    feature: str,
    tolerance: float,
    claimed: bool,
    brackwater: Reference,
    workspace: Workspace,
) -> None:
    values = list(
        dict.fromkeys([*(v.value for v in brackwater.features[feature].values), "absent"])
    )
    said = claim(original=[part] if claimed else [])
    verdict = weigh(
        amp(FEW_WEEKS, brackwater, claim=said),
        brackwater,
        {"next.stop_bits_per_minute": 0.0},
        looks=1,
        workspace=workspace,
    )
    held = part if claimed and part != "chassis" else None  # the amp is its chassis
    table = np.stack(
        [
            situation(
                amp([*FEW_WEEKS, looks(part, feature, v)], brackwater), brackwater, workspace, held
            )
            for v in values
        ]
    )
    assert gain_of(verdict, feature) == pytest.approx(bits(table), abs=tolerance)


@pytest.mark.parametrize(
    ("check", "part", "kind", "texts"),
    [
        ("chassis-stamp", "chassis", "year-stamp", [f"{y:02d}" for y in range(30, 76)]),
        (
            "chart-letters",
            "chart",
            "chart-letters",
            [y + m for y in "KLMNPRSTUVWXYZABCD" for m in "BDFHKMPRTVXZ"],
        ),
    ],
)
def test_a_stamps_worth_is_what_every_stamp_would_tell_if_it_can_be_read(
    check: str,
    part: str,
    kind: str,
    texts: list[str],
    brackwater: Reference,
    workspace: Workspace,
) -> None:
    # one winter or the other side of New Year: within the years that the letters can say
    winter = (code("pt", "993-6348"), code("pot-1", "992-6339"), code("pot-2", "992-6339"))
    bar = {"next.stop_bits_per_minute": 0.0}
    verdict = weigh(amp(winter, brackwater), brackwater, bar, looks=1, workspace=workspace)
    stamps = [[*winter, stamped(part, text, kind)] for text in texts]
    table = np.stack([situation(amp(m, brackwater), brackwater, workspace, None) for m in stamps])
    legible = next(c.legible for c in brackwater.checks if c.id == check)
    # stamps that hardly ever come are taken together
    assert gain_of(verdict, check) == pytest.approx(legible * bits(table), abs=2e-3)


def test_a_hand_dates_worth_is_by_quarter(brackwater: Reference, workspace: Workspace) -> None:
    winter = (code("pt", "993-6348"), code("pot-1", "992-6339"), code("pot-2", "992-6339"))
    bar = {"next.stop_bits_per_minute": 0.0}
    told = weigh(amp(winter, brackwater), brackwater, bar, looks=1, workspace=workspace)
    # a day tells a little more than its quarter, a year a little less
    found = posterior(amp(winter, brackwater), brackwater, workspace=workspace).joint
    years = np.bincount(found.setting.grid.years, weights=found.by_week)
    p = years[years > 0]
    open_bits = float(-(p * np.log2(p)).sum())
    hand = gain_of(told, "chassis-hand-date") / 0.25
    stamp = gain_of(told, "chassis-stamp") / 0.6
    assert stamp * 0.5 < hand < open_bits


def test_what_was_seen_of_things_changed_together_leaves_little_to_learn(
    brackwater: Reference, workspace: Workspace
) -> None:
    seen = (
        *FEW_WEEKS,
        looks("covering", "covering-colour", "grey-tweed"),
        looks("cloth", "cloth-pattern", "silver-thread"),
    )

    def worth(marks: Sequence[Mark]) -> float:
        verdict = weigh(
            amp(marks, brackwater),
            brackwater,
            {"next.stop_bits_per_minute": 0.0},
            looks=1,
            workspace=workspace,
        )
        return gain_of(verdict, "corner-hardware")

    values = ["absent", "nickel-corners", "black-corners"]
    corners = [looks("cab", "corner-hardware", v) for v in values]
    table = np.stack(
        [situation(amp([*seen, m], brackwater), brackwater, workspace, None) for m in corners]
    )
    assert worth(seen) == pytest.approx(bits(table), abs=5e-3)
    assert worth(seen) < 0.25 * worth(FEW_WEEKS)


def test_a_code_of_another_form_on_a_part_is_its_code(
    brackwater: Reference, workspace: Workspace
) -> None:
    marks = (*OPEN, stamped("choke", "6341", "date-code"))
    verdict = weigh(amp(marks, brackwater), brackwater, looks=1, workspace=workspace)
    assert not any(n.check == "choke-code" for n in verdict.next)


def test_getting_to_a_level_takes_minutes_that_count(told: dict[str, Verdict]) -> None:
    nothing = told["open"].next[0]
    far = replace(nothing, gain_bits=0.9, minutes=3.0, bits_per_minute=0.3, setup_minutes=12.0)
    near = replace(nothing, gain_bits=0.2, minutes=2.0, bits_per_minute=0.1, setup_minutes=0.0)
    assert best_of([far, near]) is near
    assert best_of([replace(far, setup_minutes=0.0), near]).gain_bits == 0.9


def test_after_a_look_everything_is_somewhere(brackwater: Reference, workspace: Workspace) -> None:
    dossier = amp(OPEN, brackwater, claim=claim(built="1963", original=["everything"]))
    found = posterior(dossier, brackwater, workspace=workspace)
    view, inside = view_of(found.joint, dossier)
    around = Around(found.joint, found.evidence, dossier, (), view.weeks, inside)
    # codes leave out the little that was made before the weeks told apart
    codes = {c.id for c in brackwater.checks if c.kind in CODES}
    claimed = [c for c in candidates(around) if c.claimed and c.check not in codes]
    assert len(claimed) > 5
    for c in claimed:
        holds, fails = after(view, c)
        whole = view.holds + view.fails
        assert (holds.sum(axis=0) + fails.sum(axis=0)) == pytest.approx(whole, abs=1e-12), c.check
        # a part that turns out replaced takes the claim down with it, never up
        assert (holds.sum(axis=0) <= view.holds + 1e-12).all(), c.check


def test_what_a_look_can_find_adds_up_to_one(brackwater: Reference, workspace: Workspace) -> None:
    marks = (
        *OPEN,
        stamped("cab", "3-5-58", "hand-date"),
        joint("pot-1", "joint-untouched"),
        code("sp-1", "995-340"),
    )
    dossier = amp(marks, brackwater)
    found = posterior(dossier, brackwater, workspace=workspace)
    view, inside = view_of(found.joint, dossier)
    offered = candidates(Around(found.joint, found.evidence, dossier, (), view.weeks, inside))
    assert len(offered) > 30
    kinds = {c.id: c.kind for c in brackwater.checks}
    for c in offered:
        total = c.look.original.sum(axis=0) + c.look.other.sum(axis=0)
        # codes of parts made before the weeks that are told apart are the little that is missing
        slack = 0.02 if kinds.get(c.check) in CODES else 1e-9
        assert (total < 1 + 1e-9).all(), c.check
        assert (total > 1 - slack).all(), c.check


# -- the quarters of a code, against sums over every week ------------------------------------------------


@pytest.mark.parametrize("fold", [False, True])
def test_the_quarters_that_a_code_can_name(common: Reference, fold: bool) -> None:
    values = {name: a.value for name, a in common.assumptions.items()}
    setting = Setting.of(amp([], common, as_of=date(1934, 3, 1)), common, values, None, Workspace())
    size, lags = setting.grid.size, setting.lags("potentiometer")
    weeks = np.array([5, 120, size - 1])
    one, none = np.ones((1, 1, 1)), np.zeros((1, 1, 1))
    quarters, _ = quarter_edges(setting, weeks)
    assert len(quarters) == len(
        {(thursday(w).year, (thursday(w).month - 1) // 3) for w in range(size)}
    )

    def table(prior: PartPrior) -> Array:
        look = code_look(
            setting,
            "potentiometer",
            prior,
            weeks,
            fold=fold,
            joins=0.0,
            existing=None,
            donor=setting.era,
        )
        n = look.original.shape[0]
        ages = setting.nodes[0].size
        return np.broadcast_to(look.original + look.other, (n, 1, ages, weeks.size))[:, 0]

    def place(week: int) -> int:
        quarter = (thursday(week).year * 12 + thursday(week).month - 1) // 3
        return quarter % 40 if fold else quarter - (1930 * 12) // 3

    original, later, period = (
        table(PartPrior(*p))
        for p in ((one, none, none, none), (none, one, none, none), (none, none, one, none))
    )
    for k, b in enumerate(weeks.tolist()):
        slow = np.zeros((3, original.shape[0]))
        after = [b] if b == size - 1 else range(b + 1, size)
        for week in range(size):
            for e, p in enumerate(lags.spread):
                lag = b - (week + e)
                if lag >= -EARLY:
                    slow[0, place(week)] += p * lags.original.table[6, lag + EARLY]
                for r in after:
                    if r - week - e >= 0:
                        slow[1, place(week)] += (
                            p * lags.service.table[0, r - week - e + EARLY] / len(after)
                        )
            near = min(b + 156, size - 1) - max(b - 156, 0) + 1
            slow[2, place(week)] += (abs(week - b) <= 156) / near
        assert original[:, 6, k] == pytest.approx(slow[0], abs=1e-12)
        if b != size - 1:
            assert later[:, 6, k] == pytest.approx(slow[1], abs=1e-12)
        assert period[:, 6, k] == pytest.approx(slow[2], abs=1e-12)
