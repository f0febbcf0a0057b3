"""What the safety lines of a sheet say, and what they never pass."""

from __future__ import annotations

from dataclasses import replace
from math import nan, pi

import pytest

from endbell.bench.circuit import MainsTap, Rail, Winding
from endbell.bench.kinds import line_kinds, line_subjects
from endbell.bench.lines import Judgement, Line
from endbell.bench.safety import lines
from endbell.bench.stages import ORDER, Stage

from ..amps import AMP, bench, changed, read, the

EARTHED = changed(protection="I")


def told(line: str, *readings: tuple[str, float], at: str = "", **sheet: object) -> Line:
    taken = [read(n, name, value) for n, (name, value) in enumerate(readings, 1)]
    return the(lines(bench(*taken, **sheet)), line, at)  # pyright: ignore[reportArgumentType]


# ---- the order of work


def test_an_empty_sheet_asks_for_everything_and_passes_nothing() -> None:
    found = lines(bench())
    asked = {line.id for line in found if line.judgement is Judgement.NOT_MEASURED}
    assert {
        "cord-kind",
        "line-capacitor",
        "filter-volts-left",
        "insulation",
        "fuse-fitted",
    } <= asked
    assert {"leakage-normal", "leakage-reversed", "limited-mains-volts", "limited-rail"} <= asked
    measured = {kind.id for kind in line_kinds().values() if kind.measured}
    assert not [x for x in found if x.judgement is Judgement.WITHIN and x.id in measured]
    assert all(line.says for line in found)


def test_lines_stand_in_the_order_of_the_stages() -> None:
    stages = [ORDER.index(line.stage) for line in lines(bench())]
    assert stages == sorted(stages)


def test_every_line_with_mains_on_needs_the_safety_lines_first() -> None:
    safe = {
        "cord-kind",
        "line-capacitor",
        "filter-volts-left",
        "insulation",
        "earth-bond",
        "fuse-fitted",
    }
    for line, subject in line_subjects().items():
        kind = line_kinds()[line]
        if subject in ("safety", "transformers") and kind.powered:
            assert safe <= set(kind.needs), line
            if kind.stage is not Stage.SAFETY:
                assert "leakage-both" in kind.needs, line


def test_nothing_powered_is_called_unplugged() -> None:
    assert not [k.id for k in line_kinds().values() if k.powered and k.stage is Stage.DISCHARGED]


# ---- cord, line capacitor, earth


def test_a_two_wire_cord_is_flagged() -> None:
    line = told("cord-kind", ("cord-kind", 2))
    assert line.judgement is Judgement.ODD and "three-wire" in line.says


def test_a_double_insulated_amp_may_have_two_wires() -> None:
    circuit = changed(protection="II")
    assert told("cord-kind", ("cord-kind", 2), circuit=circuit).judgement is Judgement.WITHIN


def test_a_third_wire_that_was_added_asks_for_its_bond() -> None:
    assert not [x for x in lines(bench()) if x.id == "earth-bond"]
    line = told("earth-bond", ("cord-kind", 3))
    assert line.judgement is Judgement.NOT_MEASURED


def test_an_earthed_amp_on_a_two_wire_cord_is_held_to_the_limits_without_earth() -> None:
    readings = (("cord-kind", 2.0), ("insulation", 1.5e6))
    assert told("insulation", *readings, circuit=EARTHED, practice="iet").judgement is Judgement.LOW
    alone = told("insulation", readings[1], circuit=EARTHED, practice="iet")
    assert alone.judgement is Judgement.WITHIN


def test_a_capacitor_to_the_chassis_is_flagged_with_its_current() -> None:
    line = told("line-capacitor", ("line-capacitor", 1))
    assert line.judgement is Judgement.ODD
    amps = 2 * pi * 60 * 47e-9 * 126  # at the top of the mains of the practice
    assert f"{amps * 1e3:.2f} mA" in line.says
    assert told("line-capacitor", ("line-capacitor", 0)).judgement is Judgement.WITHIN


def test_a_safety_capacitor_is_for_the_standard_to_say() -> None:
    sheet = bench(read(1, "line-capacitor", 1, note="marked Y2"))
    assert the(lines(sheet), "line-capacitor").judgement is Judgement.CHECK


def test_the_bond_allows_for_the_cord_as_measured() -> None:
    bond = ("earth-bond", 0.15)
    without = told("earth-bond", bond, circuit=EARTHED, practice="iet")
    assert without.judgement is Judgement.HIGH and "nothing is allowed" in without.says
    allowed = told("earth-bond", bond, ("cord-ohm", 0.06), circuit=EARTHED, practice="iet")
    assert allowed.judgement is Judgement.WITHIN and allowed.readings == (1, 2)
    assert allowed.bounds[0].high == pytest.approx(0.16)


def test_the_bond_allows_by_length_and_least_for_an_unknown_area() -> None:
    def sheet(at: str) -> Line:
        taken = (read(1, "earth-bond", 0.15), read(2, "cord-length", 2.0, at))
        return the(lines(bench(*taken, circuit=EARTHED, practice="iet")), "earth-bond")

    assert sheet("0.75").bounds[0].high == pytest.approx(0.152)
    assert sheet("").bounds[0].high == pytest.approx(0.1 + 2 * 0.00798)
    assert "0.75 mm²" in sheet("0.75 mm²").says


def test_the_german_bond_grows_with_the_length_alone() -> None:
    readings = (("earth-bond", 0.35), ("cord-length", 8.0))
    line = told("earth-bond", *readings, circuit=EARTHED, practice="vde")
    assert line.judgement is Judgement.WITHIN and line.bounds[0].high == pytest.approx(0.4)


def test_a_limit_from_memory_never_passes_silently() -> None:
    sheet = {"circuit": EARTHED, "practice": "us"}
    assert told("earth-bond", ("earth-bond", 0.05), **sheet).judgement is Judgement.CHECK
    assert told("earth-bond", ("earth-bond", 0.5), **sheet).judgement is Judgement.CHECK
    line = told("insulation", ("insulation", 50e6), circuit=EARTHED, practice="iec")
    assert line.judgement is Judgement.CHECK and "check the standard" in line.says


@pytest.mark.parametrize(
    ("ohm", "judgement", "words"),
    [(5.5, Judgement.WITHIN, "within"), (0.2, Judgement.LOW, "shorted turns"), (5e6, Judgement.HIGH, "open")],
)  # fmt: skip
def test_the_plug_shows_the_primary(ohm: float, judgement: Judgement, words: str) -> None:
    line = told("plug-resistance", ("plug-resistance", ohm))
    assert line.judgement is judgement and words in line.says


def test_on_another_tap_the_primary_is_not_known() -> None:
    circuit = changed(mains=(MainsTap(117.0), MainsTap(230.0)))
    readings = (("plug-resistance", 18.0), ("tap-set", 230.0))
    line = told("plug-resistance", *readings, circuit=circuit)
    assert line.judgement is Judgement.NO_LIMIT


# ---- leakage


def test_one_polarity_alone_is_no_pass() -> None:
    line = told("leakage-both", ("leakage-normal", 0.1e-3))
    assert line.judgement is Judgement.NOT_MEASURED
    assert "One polarity alone" in line.says
    assert "No pass yet" in told("leakage-normal", ("leakage-normal", 0.1e-3)).says


def test_one_polarity_too_high_has_failed_already() -> None:
    assert told("leakage-both", ("leakage-reversed", 2e-3)).judgement is Judgement.HIGH


def test_the_larger_of_both_counts() -> None:
    line = told("leakage-both", ("leakage-normal", 0.1e-3), ("leakage-reversed", 0.4e-3))
    assert line.value == pytest.approx(0.4e-3)
    assert line.judgement is Judgement.WITHIN and line.readings == (1, 2)


def test_a_voltage_across_the_network_is_told_as_a_current() -> None:
    line = told("leakage-normal", ("leakage-normal-volts", 0.75))
    assert line.value == pytest.approx(0.5018e-3, rel=1e-3)
    assert line.judgement is Judgement.WITHIN  # the limit itself, as it is stated in volts
    over = told("leakage-normal", ("leakage-normal-volts", 0.76))
    assert over.judgement is Judgement.HIGH
    line = told("leakage-normal", ("leakage-normal-volts", 0.1), practice="iec")
    assert line.value == pytest.approx(0.2e-3) and "U2" in line.works


def test_the_place_of_the_voltage_names_the_network() -> None:
    sheet = bench(read(1, "leakage-normal-volts", 0.1, at="iec"))
    assert the(lines(sheet), "leakage-normal").value == pytest.approx(0.2e-3)
    sheet = bench(read(1, "leakage-normal-volts", 0.1, at="mine"))
    line = the(lines(sheet), "leakage-normal")
    assert line.judgement is Judgement.IMPOSSIBLE and "us or iec" in line.says


# ---- fuse


@pytest.mark.parametrize(
    ("amps", "note", "judgement", "words"),
    [
        (1.0, "T", Judgement.WITHIN, "within"),
        (1.0, "slow", Judgement.WITHIN, "within"),
        (1.0, "", Judgement.WITHIN, "kind was not noted"),
        (3.0, "T", Judgement.HIGH, "burn"),
        (0.5, "T", Judgement.LOW, "normal use"),
        (1.0, "F", Judgement.ODD, "wrong kind"),
        (3.0, "F", Judgement.HIGH, "wrong kind"),
        (1.0, "foil round the old one", Judgement.ODD, "fit a fuse"),
    ],
)
def test_the_fuse_is_too_large_too_small_or_of_the_wrong_kind(
    amps: float, note: str, judgement: Judgement, words: str
) -> None:
    line = the(lines(bench(read(1, "fuse-fitted", amps, note=note))), "fuse-fitted")
    assert line.judgement is judgement
    assert words in line.says


def test_a_fuse_not_drawn_is_held_against_the_current() -> None:
    circuit = changed(fuse=None, fuse_kind="")
    assert told("fuse-fitted", ("fuse-fitted", 1.0), circuit=circuit).judgement is Judgement.WITHIN
    assert told("fuse-fitted", ("fuse-fitted", 4.0), circuit=circuit).judgement is Judgement.HIGH
    measured = (("fuse-fitted", 4.0), ("mains-current", 2.0))
    assert told("fuse-fitted", *measured, circuit=circuit).judgement is Judgement.WITHIN


def test_nothing_known_of_the_current_passes_no_fuse() -> None:
    circuit = changed(fuse=None, fuse_kind="", mains_watt=None)
    line = told("fuse-fitted", ("fuse-fitted", 1.0), circuit=circuit)
    assert line.judgement is Judgement.NO_LIMIT


def test_the_fuse_follows_the_tap() -> None:
    circuit = changed(mains=(MainsTap(117.0), MainsTap(234.0)))
    readings = (("fuse-fitted", 1.0), ("tap-set", 234.0))
    line = told("fuse-fitted", *readings, circuit=circuit)
    assert line.expected == pytest.approx(0.5) and line.judgement is Judgement.HIGH


# ---- mains and tap


def test_an_old_tap_on_todays_mains_overheats_the_heaters() -> None:
    circuit = changed(mains=(MainsTap(110.0),), windings=(Winding("heaters", "pt", "heater", 6.3),))
    line = told("tap-secondaries", ("mains-volts", 125.0), at="heaters", circuit=circuit)
    assert line.value == pytest.approx(6.3 * 125 / 110)
    assert line.judgement is Judgement.HIGH
    assert told("mains-volts", ("mains-volts", 125.0), circuit=circuit).judgement is Judgement.HIGH


def test_eight_percent_is_within_but_more_than_british_practice() -> None:
    line = told("tap-secondaries", ("mains-volts", 126.0), at="heaters")
    assert line.judgement is Judgement.WITHIN and "British" in line.says


def test_the_rails_follow_the_mains() -> None:
    line = told("tap-secondaries", ("mains-volts", 124.0), at="hv")
    assert line.value == pytest.approx(650 * 124 / 117)
    assert "A 371 V for 350 V" in line.says


def test_mains_that_was_not_measured_is_said_to_be_nominal() -> None:
    assert "not measured" in told("tap-secondaries", at="hv").says


def test_of_several_taps_the_nearest_is_taken_and_said() -> None:
    circuit = changed(mains=(MainsTap(110.0), MainsTap(125.0), MainsTap(234.0)))
    sheet = bench(read(1, "mains-volts", 121.0), circuit=circuit)
    assert the(lines(sheet), "tap-set").judgement is Judgement.NOT_MEASURED
    assert "taken as the one in use" in the(lines(sheet), "tap-secondaries", "hv").says
    wrong = bench(read(1, "tap-set", 220.0), circuit=circuit)
    assert the(lines(wrong), "tap-set").judgement is Judgement.ODD


def test_an_american_amp_under_british_practice_stands_behind_a_transformer() -> None:
    nominal = told("tap-secondaries", at="heaters", practice="iet")
    assert nominal.judgement is Judgement.WITHIN and "120 V" in nominal.says
    line = told("mains-volts", ("mains-volts", 118.0), practice="iet")
    assert line.judgement is Judgement.WITHIN and "from a transformer" in line.says
    assert told("mains-volts", ("mains-volts", 235.0), practice="iet").judgement is Judgement.HIGH


def test_mains_between_all_countries_keeps_its_own_spread() -> None:
    circuit = changed(mains=(MainsTap(160.0),))
    margin = told("capacitor-margin", ("mains-volts", 160.0), at="elco-1", circuit=circuit)
    assert margin.value == pytest.approx(600 / (2**0.5 * 325 * 1.05), rel=0.05)


# ---- the supply


def test_a_supply_without_a_bleeder_is_never_called_discharged() -> None:
    circuit = replace(AMP, resistors=())
    line = told("discharge-time", circuit=circuit)
    assert line.value is None and line.judgement is Judgement.ODD
    assert "no bleeder" in line.says and "does not empty itself" in line.says


def test_the_discharge_time_grows_with_the_bleeder() -> None:
    first = told("discharge-time")
    weaker = changed(resistors=(replace(AMP.resistors[0], ohm=440e3),))
    second = told("discharge-time", circuit=weaker)
    assert first.value is not None and second.value is not None
    assert second.value > 1.8 * first.value
    assert first.judgement is Judgement.CHECK  # its limit stands from memory


def test_a_tool_makes_it_quick() -> None:
    assert "with the tool of 10 kΩ at A" in told("discharge-time", ("discharge-tool", 10e3)).says


def test_the_shop_may_say_what_counts_as_discharged() -> None:
    assert "below 10 V after" in told("discharge-time").says
    assert "below 25 V after" in told("discharge-time", ("discharge-to", 25.0)).says


def test_the_bias_supply_stands_apart() -> None:
    assert told("discharge-time", at="bias").judgement is Judgement.ODD
    assert told("stored-energy", at="bias").value == pytest.approx(
        0.5 * 60e-6 * 43.077**2, rel=1e-3
    )


@pytest.mark.parametrize(
    ("volts", "judgement"),
    [(3.0, Judgement.WITHIN), (-3.0, Judgement.WITHIN), (30.0, Judgement.HIGH), (-300.0, Judgement.HIGH), (nan, Judgement.IMPOSSIBLE), (9e3, Judgement.IMPOSSIBLE)],
)  # fmt: skip
def test_what_is_left_counts_either_way_round(volts: float, judgement: Judgement) -> None:
    sheet = bench(read(1, "filter-volts-left", volts, at="elco-1"))
    assert the(lines(sheet), "filter-volts-left", "elco-1").judgement is judgement


def test_a_capacitor_must_stand_the_unloaded_supply() -> None:
    # √2 · 325 V · 126/117 = 495 V on a directly heated rectifier
    good, bad = told("capacitor-margin", at="elco-1"), told("capacitor-margin", at="elco-2")
    assert good.judgement is Judgement.WITHIN and good.value == pytest.approx(600 / 495, rel=1e-3)
    assert bad.judgement is Judgement.LOW


def test_a_slow_rectifier_spares_the_capacitors_but_not_with_a_valve_pulled() -> None:
    line = told("capacitor-margin", at="elco-2", circuit=changed(rectifier="GZ34"))
    assert line.judgement is Judgement.WITHIN and "would see 495 V" in line.says
    silicon = told("capacitor-margin", at="elco-2", circuit=changed(rectifier="silicon"))
    assert silicon.judgement is Judgement.LOW


def test_without_rails_nothing_is_said_of_the_supply() -> None:
    found = lines(bench(circuit=changed(rails=())))
    assert not {"discharge-time", "capacitor-margin"} & {line.id for line in found}


# ---- limited mains


def limited(mains: float, volts: float, **sheet: object) -> Line:
    taken = (read(1, "limited-mains-volts", mains), read(2, "limited-rail", volts, at="A"))
    return the(lines(bench(*taken, **sheet)), "limited-rail", "A")  # pyright: ignore[reportArgumentType]


def test_a_rail_on_limited_mains_follows_in_proportion() -> None:
    assert limited(60.0, 175.0).judgement is Judgement.WITHIN
    assert limited(90.0, 90.0).judgement is Judgement.LOW
    assert limited(60.0, -175.0).judgement is Judgement.IMPOSSIBLE


def test_cold_valves_let_a_rail_rise_to_the_unloaded_supply_and_no_higher() -> None:
    peak = 2**0.5 * 325 * 60 / 117
    assert limited(60.0, peak).judgement is Judgement.WITHIN
    assert limited(60.0, 1.2 * peak).judgement is Judgement.HIGH


def test_a_valve_rectifier_at_low_heat_is_neither_a_fault_nor_a_pass() -> None:
    line = limited(60.0, 20.0)
    assert line.judgement is Judgement.NO_LIMIT and "81.9 V" in line.says
    silicon = limited(60.0, 20.0, circuit=changed(rectifier="silicon"))
    assert silicon.judgement is Judgement.LOW


def test_a_bias_rail_is_below_the_chassis() -> None:
    def sheet(volts: float) -> Judgement:
        taken = (read(1, "limited-mains-volts", 60.0), read(2, "limited-rail", volts, at="bias"))
        return the(lines(bench(*taken)), "limited-rail", "bias").judgement

    assert sheet(-20.0) is Judgement.WITHIN and sheet(20.0) is Judgement.IMPOSSIBLE


def test_a_current_above_the_rated_one_while_limited_is_a_short() -> None:
    line = told("limited-current", ("limited-current", 1.5))
    assert line.judgement is Judgement.HIGH and "Switch off" in line.says


# ---- what cannot be


@pytest.mark.parametrize("value", [nan, float("inf"), -1.0, 1e30])
def test_what_cannot_be_is_told_in_a_sentence_and_never_passes(value: float) -> None:
    own = [k for k, subject in line_subjects().items() if subject == "safety"]
    for line in own:
        kind = line_kinds()[line]
        if not kind.measured or (value == -1.0 and kind.lowest < 0):
            continue
        at = {"capacitor": "elco-1", "rail": "A"}.get(kind.per, "")
        found = lines(bench(read(1, line, value, at=at), circuit=EARTHED))
        asked = line.removesuffix("-volts") if line.startswith("leakage") else line
        told_here = the(found, asked, at)
        assert told_here.judgement is Judgement.IMPOSSIBLE, line
        assert told_here.says.endswith("."), told_here.says
        assert not [x for x in found if x.value is not None and x.value != x.value]


def test_an_empty_circuit_still_asks_for_safety() -> None:
    bare = changed(
        mains=(),
        rails=(Rail("A", 350.0),),
        capacitors=(),
        resistors=(),
        windings=(),
        fuse=None,
        mains_watt=None,
    )
    found = lines(bench(circuit=bare))
    assert {"cord-kind", "insulation", "leakage-both"} <= {line.id for line in found}
