"""What can be weighed: folders, files, archives, tables; the same amps give the same verdicts."""

from __future__ import annotations

import random
import tarfile
import zipfile
from pathlib import Path

import openpyxl
import pytest

from endbell.batch import archives
from endbell.batch.errors import BatchError, ColumnsUnclear, InputUnreadable, NothingToWeigh

from .conftest import COLLECTION, Weigh, pack, rows, toml, write_folder, write_table

WHERE = ("file",)


def test_a_folder_is_read_with_all_below_it_in_the_order_of_names(
    weigh: Weigh, tmp_path: Path
) -> None:
    for name in ("b/TR-1", "a", "B", "b/a/TR-2", "b/Z"):
        file = tmp_path / "in" / f"{name}.toml"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(toml(name, COLLECTION["TR-1"]), encoding="utf-8")
    (tmp_path / "in" / "photo.jpg").touch()
    (tmp_path / "in" / "marks.csv").touch()
    (tmp_path / "in" / "round").symlink_to(tmp_path / "in")
    ran = weigh(tmp_path / "in")
    assert [row["dossier"] for row in ran.rows] == ["B", "a", "b/TR-1", "b/Z", "b/a/TR-2"]
    assert ran.finished.progress.total == 5


@pytest.mark.parametrize("name", ["c.zip", "c.tar", "c.tar.gz", "c.tgz", "c.tar.xz", "c.tar.bz2"])
def test_an_archive_gives_what_its_folder_gives(
    weigh: Weigh, folder: Path, tmp_path: Path, name: str
) -> None:
    (folder / "photo.jpg").write_bytes(b"\xff\xd8" * 100)
    packed = weigh(pack(folder, tmp_path / name), out="packed")
    assert packed.by_id(*WHERE) == weigh(folder).by_id(*WHERE)
    assert packed.rows[0]["file"] == f"{tmp_path / name}/TR-1.toml"
    assert packed.told[-1].total == packed.told[-1].done == 6
    assert len(packed.bad) == 2


def test_a_table_gives_what_the_folder_gives_in_whatever_order_its_rows_stand(
    weigh: Weigh, folder: Path, tmp_path: Path
) -> None:
    files = weigh(folder)
    together = weigh(write_table(tmp_path / "marks.csv", rows()), out="together")
    mixed = rows()
    random.Random(5).shuffle(mixed)
    apart = weigh(write_table(tmp_path / "mixed.csv", mixed), out="apart")
    assert together.by_id(*WHERE) == files.by_id(*WHERE)
    assert apart.by_id(*WHERE) == files.by_id(*WHERE)
    assert [row["dossier"] for row in together.rows] == list(COLLECTION)
    first_seen = list(dict.fromkeys(row["dossier"] for row in mixed))
    assert [row["dossier"] for row in apart.rows] == first_seen
    assert apart.finished.progress.total == len(COLLECTION)
    assert not list(tmp_path.glob("apart/sorting*"))


def test_rows_of_a_table_may_lie_apart_without_a_number(weigh: Weigh, tmp_path: Path) -> None:
    found = [{k: v for k, v in row.items() if k != "n"} for row in rows()]
    apart = found[::2] + found[1::2]
    one = weigh(write_table(tmp_path / "a.csv", found), out="one")
    two = weigh(write_table(tmp_path / "b.csv", apart), out="two")
    assert one.by_id(*WHERE) == two.by_id(*WHERE)


def test_a_spreadsheet_gives_what_the_csv_gives(weigh: Weigh, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(list(rows()[0]))
    for row in rows():
        sheet.append(list(row.values()))
    book.save(tmp_path / "marks.xlsx")
    csv = weigh(write_table(tmp_path / "marks.csv", rows()), out="csv")
    assert weigh(tmp_path / "marks.xlsx").by_id(*WHERE) == csv.by_id(*WHERE)


def test_several_inputs_are_weighed_in_the_order_given_each_once(
    weigh: Weigh, folder: Path, tmp_path: Path
) -> None:
    table = write_table(tmp_path / "marks.csv", rows()[:2])
    single = folder / "TR-6.toml"
    ran = weigh(single, table, folder, single, folder / ".." / folder.name)
    assert [row["dossier"] for row in ran.rows] == ["TR-6", "TR-1", *COLLECTION]


def test_the_same_id_twice_is_kept_apart_by_its_file_and_said(
    weigh: Weigh, folder: Path, tmp_path: Path
) -> None:
    write_folder(folder / "again")
    (folder / "again" / "TR-1.toml").unlink()
    ran = weigh(folder)
    assert ran.finished.written.twice == ("TR-2", "TR-3", "TR-4")
    assert ran.finished.written.twice_in_all == 5
    assert len({(row["dossier"], row["file"]) for row in ran.rows}) == 11


def test_a_file_that_can_not_be_read_is_a_row_that_says_why(weigh: Weigh, folder: Path) -> None:
    (folder / "broken.toml").write_text("id = ", encoding="utf-8")
    (folder / "gone.toml").symlink_to(folder / "nowhere")
    (folder / "newer.toml").write_text('format = "endbell-dossier/9"', encoding="utf-8")
    (folder / "latin.toml").write_bytes(b'id = "caf\xe9"')
    (folder / "huge.toml").write_bytes(b"#" * 5_000_001)
    ran = weigh(folder)
    errors = {row["dossier"]: row["error"] for row in ran.rows if row["error"]}
    assert errors.keys() == {"broken", "gone", "newer", "latin", "huge"}
    assert "line 1" in errors["broken"]
    assert "can't be opened" in errors["gone"]
    assert "newer than this Endbell" in errors["newer"]
    assert "UTF-8" in errors["latin"]
    assert "larger than" in errors["huge"]
    assert all(row["edtf"] == row["mode"] == "" for row in ran.rows if row["error"])
    assert ran.finished.progress.errors == 5
    assert ran.finished.progress.done == 11


def test_a_pack_that_is_not_there_is_a_row_not_weighed(weigh: Weigh, tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    text = 'packs = ["nobody"]\n' + toml("TR-1", COLLECTION["TR-1"])
    (tmp_path / "in" / "a.toml").write_text(text, encoding="utf-8")
    ran = weigh(tmp_path / "in")
    assert ran.rows[0]["not_weighed"] == "1"
    assert 'no reference pack "nobody"' in ran.bad[0]["found"]


# ---- what is refused


def test_an_empty_folder_is_said(weigh: Weigh, tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    with pytest.raises(NothingToWeigh, match=r"no dossiers in .*in;"):
        weigh(tmp_path / "in")


@pytest.mark.parametrize(("name", "why"), [("none", "no such file"), ("a.pdf", "accepted are")])
def test_what_is_not_there_or_no_input_is_refused(
    weigh: Weigh, tmp_path: Path, name: str, why: str
) -> None:
    (tmp_path / "a.pdf").touch()
    with pytest.raises(InputUnreadable, match=why):
        weigh(tmp_path / name)


def test_a_column_that_no_table_has_can_not_be_mapped(weigh: Weigh, tmp_path: Path) -> None:
    table = write_table(tmp_path / "marks.csv", rows())
    with pytest.raises(ColumnsUnclear, match="Stamp: no table here has that column; there are"):
        weigh(table, given={"Stamp": "text"})


# ---- archives that are not what they seem


def test_a_broken_archive_ends_with_a_row_and_the_rest_is_weighed(
    weigh: Weigh, folder: Path, tmp_path: Path
) -> None:
    whole = pack(folder, tmp_path / "c.tar.gz")
    cut = tmp_path / "cut.tar.gz"
    cut.write_bytes(whole.read_bytes()[:-60])
    (tmp_path / "no.zip").write_bytes(b"PK nothing")
    ran = weigh(cut, tmp_path / "no.zip", folder)
    assert [row["error"] != "" for row in ran.rows][-6:] == [False] * 6
    errors = [row["error"] for row in ran.rows if row["error"]]
    assert any("can't be read on from here" in error for error in errors)
    assert any("not a zip archive" in error for error in errors)


def test_a_member_larger_than_a_dossier_is_a_fault_in_its_place(
    weigh: Weigh, folder: Path, tmp_path: Path
) -> None:
    (folder / "TR-3.toml").write_bytes(b"#" * 6_000_000)
    for name in ("c.zip", "c.tar.xz"):
        ran = weigh(pack(folder, tmp_path / name), out=f"of {name}")
        assert [row["dossier"] for row in ran.rows if row["error"]] == ["TR-3"]


def test_a_bomb_is_stopped_at_its_limits(
    weigh: Weigh, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for n in range(3):
        (folder / f"z{n}.toml").write_bytes(b" " * 4_000_000)
    (folder / "film.mov").write_bytes(b"\0" * 3_000_000)
    bomb, zipped = pack(folder, tmp_path / "b.tar.xz"), pack(folder, tmp_path / "b.zip")
    monkeypatch.setattr(archives, "RATIO_FROM", 6_000_000)
    monkeypatch.setattr(archives, "MAX_RATIO", 100)
    for file in (bomb, zipped):
        ran = weigh(file, out=f"ratio{file.suffix}")
        assert "unpacks to more than 100 times its size" in ran.rows[-1]["error"]
    monkeypatch.setattr(archives, "MAX_MEMBER", 1_000_000)
    assert "a member of more than" in weigh(bomb, out="member").rows[-1]["error"]
    monkeypatch.setattr(archives, "MAX_ZIP_MEMBERS", 1)
    assert "list of contents" in weigh(zipped, out="list").rows[-1]["error"]


def test_names_that_climb_out_of_an_archive_are_only_names(weigh: Weigh, tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "c.zip", "w") as archive:
        archive.writestr("../../up.toml", toml("up", COLLECTION["TR-1"]))
    with tarfile.open(tmp_path / "c.tar", "w") as archive:
        info = tarfile.TarInfo("link.toml")
        info.type, info.linkname = tarfile.SYMTYPE, "up.toml"
        archive.addfile(info)
    ran = weigh(tmp_path / "c.zip")
    assert [row["dossier"] for row in ran.rows] == ["up"]
    assert not list(tmp_path.parent.glob("**/up.toml"))
    assert weigh(tmp_path / "c.tar", out="tar").rows == []


def test_every_fault_is_of_one_family() -> None:
    assert issubclass(InputUnreadable, BatchError)
