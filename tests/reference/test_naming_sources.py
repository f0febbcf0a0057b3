"""A shop names source numbers as it finds them out; nothing it wrote is ever lost."""

from pathlib import Path

import pytest

from endbell.reference import load_reference
from endbell.reference.names import SourceNameTaken, name_source, name_sources

from .shop import SAID, write_pack


def test_the_first_name_makes_the_pack_and_is_there_at_once(tmp_path: Path) -> None:
    shop = tmp_path / "two-rivers"
    path = name_source(shop, "998", "Someone, by a catalogue")
    reference, problems = load_reference(["two-rivers"], [tmp_path])
    assert problems == ()
    assert reference.tables.sources["998"] == "Someone, by a catalogue"
    assert path.read_text("utf-8").count("\n") == 2


def test_a_name_is_one_more_line_and_everything_else_stays_as_it_is(tmp_path: Path) -> None:
    table = 'confidence,number,note,name,source\r\nsure,990,"a, b",First,shop'
    rows = f"# ours\n[[assumption]]  # so far\nname = 'serial.leak'\nvalue = 0.02\n{SAID}"
    shop = write_pack(tmp_path / "shop", rows)
    (shop / "source_number.csv").write_bytes(table.encode())
    head = (shop / "pack.toml").read_bytes()
    name_source(shop, "0998", 'Second, "the later"')
    assert (shop / "pack.toml").read_bytes() == head
    after = (shop / "source_number.csv").read_bytes().decode()
    assert after.startswith(table + "\r\n")
    assert after.count("\r\n") == 3
    reference, problems = load_reference(["shop"], [tmp_path])
    assert problems == ()
    assert reference.tables.sources["0998"] == 'Second, "the later"'
    assert reference.tables.sources["990"] == "First"


def test_the_same_name_again_writes_nothing(tmp_path: Path) -> None:
    path = name_source(tmp_path / "shop", "998", "Someone")
    before = path.read_bytes()
    name_source(tmp_path / "shop", "998", " Someone ")
    assert path.read_bytes() == before


def test_another_name_for_a_number_is_refused_with_its_place(tmp_path: Path) -> None:
    path = name_source(tmp_path / "shop", "998", "Someone")
    before = path.read_bytes()
    with pytest.raises(SourceNameTaken) as error:
        name_source(tmp_path / "shop", "998", "Somebody")
    assert path.read_bytes() == before
    assert (error.value.taken.there, error.value.taken.line) == ("Someone", 2)
    assert f"{path}, line 2" in str(error.value)


def test_a_name_written_in_toml_counts_as_taken(tmp_path: Path) -> None:
    row = f'[[source_number]]\nnumber = "998"\nname = "Someone"\n{SAID}'
    shop = write_pack(tmp_path / "shop", row)
    (taken,) = name_sources(shop, [("998", "Somebody"), ("997", "Other")])
    assert taken.file == str(shop / "pack.toml")
    assert taken.line == 6
    assert load_reference(["shop"], [tmp_path])[0].tables.sources == {
        "998": "Someone",
        "997": "Other",
    }


def test_the_shops_name_for_a_number_stands_before_the_makers_pack(tmp_path: Path) -> None:
    name_source(tmp_path / "shop", "993", "Halden Coil, Port Ellery works")
    reference, _ = load_reference(["brackwater", "shop"], [tmp_path])
    assert reference.tables.sources["993"] == "Halden Coil, Port Ellery works"


@pytest.mark.parametrize("number", ["9", "99999", "99x", "", "99 "])
def test_a_source_number_has_two_to_four_digits(tmp_path: Path, number: str) -> None:
    with pytest.raises(ValueError, match="two to four digits"):
        name_source(tmp_path / "shop", number, "Someone")
    assert not (tmp_path / "shop").exists()


def test_a_name_must_be_one_and_the_folder_a_pack_id(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="a name is needed"):
        name_source(tmp_path / "shop", "998", "  ")
    with pytest.raises(ValueError, match="a pack's id"):
        name_source(tmp_path / "our shop", "998", "Someone")
