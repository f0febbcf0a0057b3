"""The invented maker holds together: every model can be dated and told from the others."""

from datetime import date, timedelta

import pytest

from endbell.reference import load_reference


@pytest.fixture(scope="module")
def ref():
    return load_reference(["brackwater"])[0]


@pytest.fixture(scope="module")
def models(ref):
    return {model.id: model for model in ref.models}


def _made_on(model, day: date) -> bool:
    return any(run.first <= day <= run.last for run in model.runs)


def _days(model):
    for run in model.runs:
        day = run.first
        while day <= run.last:
            yield day
            day += timedelta(days=97)


def _open(row, model: str, day: date) -> bool:
    window = row.window
    return (
        (not row.models or model in row.models)
        and (window.first is None or window.first <= day)
        and (window.last is None or day <= window.last)
    )


def test_four_models_were_made_and_one_came_again(models) -> None:
    assert set(models) == {"lantern-20", "lantern-20-reverb", "beacon-45", "wick-6"}
    assert _made_on(models["lantern-20"], date(1957, 6, 1))
    assert not _made_on(models["lantern-20"], date(1980, 6, 1))
    assert _made_on(models["lantern-20"], date(1995, 6, 1))
    assert not _made_on(models["lantern-20-reverb"], date(1960, 6, 1))


@pytest.mark.parametrize("table", ["features", "quantities"])
def test_every_feature_has_a_value_on_every_day_its_model_was_made(ref, models, table) -> None:
    """Where a model has a feature at all, there is no gap in its windows."""
    for row in getattr(ref, table).values():
        values = row.values if table == "features" else row.alternatives
        for model in models.values():
            if not any(not value.models or model.id in value.models for value in values):
                continue
            for day in _days(model):
                assert any(_open(value, model.id, day) for value in values), (row.id, model.id, day)


def test_features_changed_together_change_on_the_same_day(ref) -> None:
    groups: dict[str, set[tuple]] = {}
    for feature in ref.features.values():
        windows = tuple((v.window.first, v.window.last, v.models) for v in feature.values)
        groups.setdefault(feature.group, set()).add(windows)
    for group in ("dress", "panel", "back"):
        assert len(groups[group]) == 1, group


def test_a_supplier_is_listed_for_every_week_of_production(ref, models) -> None:
    for model in models.values():
        for part_class in {part.part_class for part in model.expected} & {
            row.part_class for row in ref.supplies
        }:
            rows = [row for row in ref.supplies if row.part_class == part_class]
            for day in _days(model):
                share = sum(row.window.weight for row in rows if _open(row, model.id, day))
                assert share == pytest.approx(1.0), (model.id, part_class, day)


def test_pots_came_from_two_firms_whose_years_overlap(ref) -> None:
    def years(number: str) -> tuple[date, date]:
        rows = [row.window for row in ref.supplies if row.number == number]
        return min(w.first for w in rows), max(w.last for w in rows)

    assert years("991")[0] < years("992")[1] < years("991")[1]


def test_chart_letters_skip_i_o_and_q_and_cover_the_vintage_years(ref) -> None:
    (chart,) = ref.tables.charts
    assert chart.first_year == 1954
    assert chart.years[0] == "K"
    assert not set("IOQ") & set(chart.years + chart.months)
    assert chart.first_year + len(chart.years) - 1 == 1971
    assert len(set(chart.months)) == 12


def test_serial_ranges_follow_each_other_and_cover_every_run(ref, models) -> None:
    for model in models.values():
        ranges = [row for row in ref.tables.serials if model.id in row.models]
        assert len(ranges) == len(model.runs)
        for row, run in zip(ranges, model.runs, strict=True):
            assert (row.first, row.last) == (run.first, run.last)
            assert row.last_number - row.first_number + 1 == run.weight
    prefixes = {row.prefix: row for row in ref.tables.serials}
    assert set(prefixes) == {"L", "RL", "LR", "B", "W"}


def test_the_faceplate_names_the_model(ref, models) -> None:
    legend = ref.features["faceplate-legend"]
    assert {value.models for value in legend.values} == {(model,) for model in models}
    assert len({value.value for value in legend.values}) == 4


def test_only_the_reverb_model_left_with_a_reverb_unit(models) -> None:
    for model in models.values():
        ids = {part.id for part in model.expected}
        assert ({"tank", "rt"} <= ids) == (model.id == "lantern-20-reverb")
        assert {"pt", "ot", "pot-1", "sp-1", "chassis", "chart", "label", "cab"} <= ids


def test_expected_parts_say_what_mark_to_look_for_and_where(models) -> None:
    for model in models.values():
        pots = [part for part in model.expected if part.id.startswith("pot-")]
        assert len(pots) == len({part.id for part in pots})
        for part in pots:
            assert "source-date-code" in part.kinds
            assert part.place


def test_power_rises_with_the_letter_at_one_loudspeaker_maker_and_falls_at_the_other(ref) -> None:
    schemes = {row.id: row for row in ref.tables.designations}
    assert schemes["ostrander"].rising
    assert not schemes["vale-and-marsh"].rising


def test_every_designation_fitted_is_a_name_of_exactly_one_scheme(ref) -> None:
    import re

    for value in ref.features["loudspeaker-designation"].values:
        fits = [s.id for s in ref.tables.designations if re.fullmatch(s.pattern, value.value)]
        assert len(fits) == 1, value.value
        found = re.fullmatch(
            next(s for s in ref.tables.designations if s.id == fits[0]).pattern, value.value
        )
        scheme = next(s for s in ref.tables.designations if s.id == fits[0])
        assert found["magnet"] in scheme.magnets
        assert found["size"] in scheme.sizes
        assert found["power"] in scheme.powers


def test_the_weave_tells_the_re_issue_from_what_it_copies(ref) -> None:
    rows = {row.value: row for row in ref.quantities["weave-pitch"].alternatives}
    old, new = rows["silver-thread"], rows["silver-thread-reissue"]
    assert abs(old.mean - new.mean) > 3 * max(old.sd, new.sd)
    assert new.models == ("lantern-20",)


def test_a_weave_may_be_measured_in_centimetres_or_inches(ref) -> None:
    words = ref.tables.quantities["weave-pitch"]
    assert words.unit == "mm"
    assert words.factors == {"mm": 1.0, "cm": 10.0, "in": 25.4}


def test_every_feature_may_be_found_absent(ref) -> None:
    for words in ref.tables.features.values():
        assert words.values.count("absent") == 1
