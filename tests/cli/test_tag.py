"""``endbell tag``: labels of dossier files and of dossiers in the workbench's data."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from endbell.store import By, Change, append, new_id, open_database

from .conftest import Run, one_sentence


def words(pdf: Path) -> str:
    program = shutil.which("pdftotext")
    if program is None:
        pytest.skip("pdftotext is not installed (poppler-utils)")
    said = subprocess.run([program, str(pdf), "-"], capture_output=True, text=True, check=True)
    return " ".join(said.stdout.split())


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A workbench's data with one dossier."""
    db = open_database(tmp_path / "shop")
    opened = {
        "number": "TRV-2026-0147",
        "packs": ["brackwater"],
        "claim": {"model": "lantern-20-reverb", "built": "1964", "by": "seller"},
        "intake": {"whose": "A. Customer"},
    }
    append(db, new_id(), [Change("opened", opened)], by=By("RT"))
    db.close()
    return tmp_path / "shop"


def test_the_tag_of_a_dossier_file(run: Run, amp: Path) -> None:
    ran = run("tag", str(amp), "--out", "tag.pdf")
    assert (ran.status, ran.out) == (0, "")
    assert "1 tag, a label of 62 × 29 mm: tag.pdf" in ran.err
    assert words(Path("tag.pdf")) == "TRV-1 Lantern 20 said to be of 1964 2026-03-02"


def test_the_tag_of_a_dossier_in_the_workbench_bears_no_name_unless_asked(
    run: Run, data: Path
) -> None:
    run("tag", "TRV-2026-0147", "--data", str(data), "--out", "tag.pdf", "--size", "100x62")
    said = words(Path("tag.pdf"))
    assert "TRV-2026-0147" in said and "Lantern 20 Reverb" in said
    assert "A. Customer" not in said
    run("tag", "TRV-2026-0147", "--data", str(data), "--out", "tag.pdf", "--whose")
    assert "A. Customer" in words(Path("tag.pdf"))


def test_many_tags_on_a_sheet_and_what_their_codes_hold(run: Run, amp: Path, data: Path) -> None:
    ran = run("tag", str(amp), "TRV-2026-0147", "--data", str(data), "--out", "tags.pdf",
              "--size", "a4", "--first", "24", "--json")  # fmt: skip
    assert ran.status == 0
    assert [row["dossier"] for row in ran.json["tags"]] == ["TRV-1", "TRV-2026-0147"]
    assert ran.json["tags"][0]["code"] == "TRV-1"
    assert len(ran.json["tags"][1]["code"]) == 26, "the id, which never changes, not the number"


def test_the_same_tag_has_the_same_bytes(run: Run, amp: Path) -> None:
    for name in ("a.pdf", "b.pdf"):
        run("tag", str(amp), "--out", name)
    assert Path("a.pdf").read_bytes() == Path("b.pdf").read_bytes()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("amp.toml", "--size", "a5"), "62x29"),
        (("amp.toml", "--size", "a4", "--first", "25"), "accepted: 1 to 24"),
        (("TRV-9", "--data", "shop"), "no dossier in shop"),
        (("TRV-9",), "data holds no workbench"),
        (("lost.toml",), "lost.toml"),
    ],
)
def test_what_can_not_be_tagged_is_said_in_a_sentence(
    run: Run, amp: Path, data: Path, arguments: tuple[str, ...], says: str
) -> None:
    ran = run("tag", *arguments, "--out", "tag.pdf")
    assert ran.status == 2
    assert says in ran.err and one_sentence(ran.err)
    assert not Path("tag.pdf").exists()
    assert not Path("data").exists(), "looking for a workbench makes none"
