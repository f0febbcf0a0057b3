"""A tag says which amp it is, to a person across the room and to a camera, and nothing of whose."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from PIL import Image

from endbell.reference import load_reference
from endbell.report.tag import SIZES, Tag, TagRefused, qr, qr_svg, tag_of, tags_pdf

ID = "01JD8Y3K7Q2M5N8P4R6S9T1V3W"
CLAIM = {
    "maker": "brackwater",
    "model": "lantern-20-reverb",
    "built": "1964",
    "original": ["everything"],
    "except": ["valves", "electrolytics"],
    "by": "seller",
}
MM = {"62x29": (62.0, 29.0), "100x62": (100.0, 62.0), "a4": (210.0, 297.0)}


@pytest.fixture(scope="module")
def tag() -> Tag:
    reference, _ = load_reference(("brackwater",))
    return tag_of(ID, "TRV-2026-0147", CLAIM, "2026-03-02", reference)


def poppler(program: str) -> str:
    found = shutil.which(program)
    if found is None:
        pytest.skip(f"{program} is not installed (poppler-utils)")
    return found


def pictures(pdf: bytes, folder: Path, dpi: int = 300) -> list[Image.Image]:
    """The pages of a PDF as a printer would set them."""
    file = folder / "tag.pdf"
    file.write_bytes(pdf)
    program = poppler("pdftoppm")
    subprocess.run([program, "-r", str(dpi), "-gray", str(file), str(folder / "page")], check=True)
    out: list[Image.Image] = []
    for page in sorted(folder.glob("page*.pgm")):
        with Image.open(page) as image:
            image.load()
            out.append(image)
    return out


def words(pdf: bytes, folder: Path) -> str:
    file = folder / "tag.pdf"
    file.write_bytes(pdf)
    said = subprocess.run(
        [poppler("pdftotext"), "-raw", str(file), "-"], capture_output=True, text=True, check=True
    )
    return " ".join(said.stdout.split())


def modules_seen(image: Image.Image, count: int, side_mm: float, left_mm: float) -> list[list[int]]:
    """The modules of the code as they are printed: 1 dark.  Its left edge and its size are known;
    how high it stands is found by its first dark row."""
    dots = image.width / MM_OF[0]
    module = side_mm * dots / (count + 8)
    left = left_mm * dots + 4 * module
    column = [min(image.getpixel((int(left + i), y)) for i in range(int(3 * module)))  # type: ignore[type-var]
              for y in range(image.height)]  # fmt: skip
    top = next(y for y, v in enumerate(column) if isinstance(v, int) and v < 128)
    seen: list[list[int]] = []
    for row in range(count):
        seen.append([])
        for n in range(count):
            value = image.getpixel(
                (int(left + (n + 0.5) * module), int(top + (row + 0.5) * module))
            )
            assert isinstance(value, int)
            seen[-1].append(int(value < 128))
    return seen


MM_OF = (62.0, 29.0)


@pytest.mark.parametrize("name", [ID, "TRV-2026-0147", "amp no. 4"])
def test_the_printed_code_holds_the_id_module_for_module(tmp_path: Path, name: str) -> None:
    page = pictures(tags_pdf([Tag(name, "TRV-1")], "62x29"), tmp_path)[0]
    matrix = [list(row) for row in qr(name).matrix]
    assert modules_seen(page, len(matrix), side_mm=25, left_mm=1.5) == matrix


def test_the_code_holds_the_id_and_no_address() -> None:
    assert qr(ID).matrix != qr(f"https://shop/{ID}").matrix
    assert qr(ID).designator == "2-Q", "as small and as sure as an id of 26 letters can be"
    assert qr_svg(ID).startswith("<svg")


def test_a_code_has_its_quiet_zone(tmp_path: Path) -> None:
    page = pictures(tags_pdf([Tag(ID, "TRV-1")], "62x29"), tmp_path)[0]
    dots = page.width / 62
    module = 25 / (len(qr(ID).matrix) + 8)
    left = page.crop((0, 0, int((1.5 + 4 * module) * dots) - 1, page.height))
    assert left.getextrema() == (255, 255)


@pytest.mark.parametrize("size", SIZES)
def test_a_tag_has_the_size_of_its_label(tag: Tag, size: str, tmp_path: Path) -> None:
    page = pictures(tags_pdf([tag], size), tmp_path, 100)[0]
    wide, high = (mm / 25.4 * 100 for mm in MM[size])
    assert page.size == (pytest.approx(wide, abs=1.5), pytest.approx(high, abs=1.5))


@pytest.mark.parametrize("size", SIZES)
def test_a_tag_says_number_model_claim_and_day(tag: Tag, size: str, tmp_path: Path) -> None:
    said = words(tags_pdf([tag], size), tmp_path)
    assert "TRV-2026-0147" in said
    assert "Lantern 20 Reverb" in said
    assert "said to be of 1964, all original but valves, electrolytics (seller)" in said
    assert "2026-03-02" in said


def test_no_name_stands_on_a_tag_unless_it_is_asked_for(tag: Tag, tmp_path: Path) -> None:
    assert tag.whose == ""
    named = tag_of(ID, "TRV-1", CLAIM, "2026-03-02", whose="A. Customer")
    assert "A. Customer" in words(tags_pdf([named]), tmp_path)


@pytest.mark.parametrize("size", SIZES)
def test_the_same_tag_has_the_same_bytes(tag: Tag, size: str) -> None:
    assert tags_pdf([tag], size) == tags_pdf([tag], size)


def test_only_the_fonts_that_come_along_are_used(tag: Tag, tmp_path: Path) -> None:
    file = tmp_path / "tag.pdf"
    file.write_bytes(tags_pdf([tag]))
    said = subprocess.run([poppler("pdffonts"), str(file)], capture_output=True, text=True)
    fonts = {
        row.split()[0].partition("+")[2].partition("-")[0] for row in said.stdout.splitlines()[2:]
    }
    assert fonts == {"DejaVuSansMono", "LibertinusSerif"}


def test_a_sheet_holds_24_and_begins_where_labels_are_left(tag: Tag, tmp_path: Path) -> None:
    many = [Tag(ID, f"TRV-{n}") for n in range(1, 26)]
    assert len(pictures(tags_pdf(many[:24], "a4"), tmp_path, 30)) == 1
    (tmp_path / "two").mkdir()
    pages = pictures(tags_pdf(many[:2], "a4", first=24), tmp_path / "two", 60)
    assert len(pages) == 2
    wide, high = pages[0].size
    assert pages[0].crop((0, 0, wide, high * 7 // 8)).getextrema() == (255, 255)
    assert pages[0].crop((wide * 2 // 3, high * 7 // 8, wide, high)).getextrema() != (255, 255)


@pytest.mark.parametrize("size", SIZES)
def test_what_is_too_long_is_set_smaller_and_stays_on_the_label(size: str, tmp_path: Path) -> None:
    claim = CLAIM | {"by": "the seller of the seller, who has it from the first owner's daughter"}
    tag = tag_of("x" * 60, "A number that goes on and on 2026/0147-B", claim, "2026-03-02",
                 whose="A customer of many names")  # fmt: skip
    pdf = tags_pdf([tag], size)
    said = words(pdf, tmp_path)
    assert "2026/0147-B" in said and "2026-03-02" in said
    assert len(pictures(pdf, tmp_path, 50)) == 1


def test_words_are_words_whatever_stands_in_them(tmp_path: Path) -> None:
    nasty = '#read("/etc/passwd") $x$ *b* \\ "quoted" <a> \x07\u202e'
    tag = tag_of(ID, nasty, {"model": nasty, "by": nasty, "built": "#panic()"}, "")
    said = words(tags_pdf([tag], "100x62"), tmp_path)
    assert '#read("/etc/passwd")' in said
    assert "#panic()" in said


@pytest.mark.parametrize(
    ("tags", "size", "first", "says"),
    [
        ([Tag(ID, "1")], "a5", 1, "accepted: 62x29, 100x62, a4"),
        ([Tag(ID, "1")], "a4", 25, "accepted: 1 to 24"),
        ([], "a4", 1, "accepted: 1 to 2,400"),
        ([Tag("ü" * 3_000, "1")], "a4", 1, "a QR code holds fewer"),
    ],
)
def test_a_tag_that_can_not_be_made_is_refused_with_a_sentence(
    tags: list[Tag], size: str, first: int, says: str
) -> None:
    with pytest.raises(TagRefused, match=re.escape(says)):
        tags_pdf(tags, size, first)


def test_a_dossier_without_a_claim_has_a_tag_all_the_same(tmp_path: Path) -> None:
    tag = tag_of(ID, "TRV-9", {}, "")
    assert (tag.model, tag.claim) == ("", "")
    assert words(tags_pdf([tag]), tmp_path) == "TRV-9"
