"""Which row wins, which packs are found, and what is said when one is not."""

from pathlib import Path

import pytest

from endbell.reference import PackNotFound, PackUnreadable, available_packs, load_reference

from .shop import SAID, write_pack

LAG = "lag.potentiometer.median_weeks"


def test_standards_and_common_practice_always_apply() -> None:
    reference, problems = load_reference([])
    assert problems == ()
    assert [stamp.id for stamp in reference.packs] == ["standards", "common-practice"]
    assert reference.assumptions[LAG].value == 14
    assert reference.models == ()


def test_a_pack_that_is_not_there_is_named_beside_those_that_are() -> None:
    with pytest.raises(PackNotFound) as error:
        load_reference(["brackwatter"])
    assert error.value.known == ("brackwater", "common-practice", "standards")
    assert "'brackwatter'" in str(error.value)
    assert "brackwater, common-practice, standards" in str(error.value)


def test_a_shops_own_number_overrides_common_practice(tmp_path: Path) -> None:
    row = f'[[assumption]]\nname = "{LAG}"\nvalue = 9.5\nunit = "weeks"\n{SAID}'
    write_pack(tmp_path / "two-rivers", row)
    reference, problems = load_reference(["brackwater", "two-rivers"], [tmp_path])
    assert problems == ()
    assert reference.assumptions[LAG].value == 9.5
    assert reference.assumptions[LAG].source == "shop records"
    assert reference.assumptions["lag.choke.median_weeks"].value == 9
    assert reference.packs[-1].version == "3"


def test_of_two_packs_the_later_one_wins(tmp_path: Path) -> None:
    for name, value in (("first", 5), ("second", 6)):
        row = f'[[assumption]]\nname = "{LAG}"\nvalue = {value}\n{SAID}'
        write_pack(tmp_path / name, row)
    one, _ = load_reference(["first", "second"], [tmp_path])
    other, _ = load_reference(["second", "first"], [tmp_path])
    assert (one.assumptions[LAG].value, other.assumptions[LAG].value) == (6, 5)


def test_new_runs_of_a_model_replace_all_its_old_ones(tmp_path: Path) -> None:
    row = f'[[run]]\nmodel = "wick-6"\nfirst = "1954"\nlast = "1955"\nvolume = 10\n{SAID}'
    write_pack(tmp_path / "two-rivers", row, builds_on='["brackwater"]')
    reference, problems = load_reference(["two-rivers"], [tmp_path])
    assert problems == ()
    models = {model.id: model for model in reference.models}
    assert [run.weight for run in models["wick-6"].runs] == [10]
    assert len(models["beacon-45"].runs) == 3


def test_a_pack_brings_the_packs_it_builds_on(tmp_path: Path) -> None:
    write_pack(tmp_path / "two-rivers", builds_on='["brackwater"]')
    reference, _ = load_reference(["two-rivers"], [tmp_path])
    assert [stamp.id for stamp in reference.packs][2:] == ["brackwater", "two-rivers"]


def test_packs_that_build_on_each_other_in_a_circle_are_refused(tmp_path: Path) -> None:
    write_pack(tmp_path / "one", builds_on='["two"]')
    write_pack(tmp_path / "two", builds_on='["one"]')
    with pytest.raises(PackUnreadable, match="one → two → one"):
        load_reference(["one"], [tmp_path])


def test_a_search_folder_may_be_the_pack_itself(tmp_path: Path) -> None:
    folder = write_pack(tmp_path / "two-rivers")
    assert load_reference(["two-rivers"], [folder])[0].packs[-1].id == "two-rivers"


def test_the_packs_that_always_apply_cannot_be_put_aside_by_a_folder_of_that_name(
    tmp_path: Path,
) -> None:
    write_pack(tmp_path / "common-practice")
    reference, _ = load_reference([], [tmp_path])
    assert reference.assumptions[LAG].value == 14


def test_two_makers_side_by_side_keep_their_suppliers_and_features_apart(tmp_path: Path) -> None:
    rows = (
        f'[[model]]\nid = "other-amp"\nmaker = "other"\ntitle = "Other"\nsoftness_weeks = 4\n{SAID}'
        f'[[run]]\nmodel = "other-amp"\nfirst = "1960"\nlast = "1965"\nvolume = 10\n{SAID}'
        f'[[supply]]\nnumber = "998"\nname = "Someone"\nclass = "choke"\nshare = 1\n'
        f"softness_weeks = 4\n{SAID}"
        f'[[feature_value]]\nfeature = "knob-colour"\nvalue = "green"\n{SAID}'
    )
    write_pack(tmp_path / "other", rows, builds_on='["brackwater"]')
    both, problems = load_reference(["other"], [tmp_path])
    assert problems == ()
    by_number = {row.number: row.models for row in both.supplies if row.part_class == "choke"}
    assert by_number["998"] == ("other-amp",)
    assert set(by_number["993"]) == {"lantern-20", "lantern-20-reverb", "beacon-45", "wick-6"}
    colours = {value.value: value.models for value in both.features["knob-colour"].values}
    assert colours["green"] == ("other-amp",)
    assert "other-amp" not in colours["brown"]
    alone, _ = load_reference(["brackwater"])
    assert all(row.models in ((), ("lantern-20",)) for row in alone.supplies)


def test_the_stamp_of_a_pack_changes_with_any_byte_of_it(tmp_path: Path) -> None:
    folder = write_pack(
        tmp_path / "two-rivers", f'[[source_number]]\nnumber = "990"\nname = "A"\n{SAID}'
    )
    before = load_reference(["two-rivers"], [tmp_path])[0].packs[-1].sha256
    assert load_reference(["two-rivers"], [tmp_path])[0].packs[-1].sha256 == before
    path = folder / "pack.toml"
    path.write_text(path.read_text("utf-8") + "# seen again\n", "utf-8")
    assert load_reference(["two-rivers"], [tmp_path])[0].packs[-1].sha256 != before


def test_the_same_packs_give_the_same_reference() -> None:
    assert load_reference(["brackwater"]) == load_reference(["brackwater"])


def test_available_packs_tell_the_shops_own_from_those_shipped(tmp_path: Path) -> None:
    write_pack(tmp_path / "two-rivers")
    found = {pack.id: pack for pack in available_packs([tmp_path])}
    assert set(found) == {"two-rivers", "brackwater", "common-practice", "standards"}
    assert not found["two-rivers"].shipped
    assert found["two-rivers"].version == "3"
    assert found["brackwater"].shipped


def test_packs_that_are_shipped_are_read_without_pydantic() -> None:
    import subprocess
    import sys

    code = (
        "import sys; from endbell.reference import load_reference;"
        "load_reference(['brackwater']); print('pydantic' in sys.modules)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "False"
