"""Photos are kept as they were taken, shown upright, and leave the shop without their secrets."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image, ImageCms

from endbell.store.database import Database, connect
from endbell.store.exif import taken_of
from endbell.store.photos import (
    SIZES,
    NoPhoto,
    NoRoom,
    clear_incoming,
    keep,
    open_photo,
    photo_path,
    thumb,
    thumb_path,
    without_location,
)
from endbell.store.photos_decode import read_picture

from .pictures import SECRETS, corners, heic, held, jpeg, saved, scene, tags


@pytest.fixture
def db(tmp_path: Path) -> Iterator[Database]:
    opened = connect(tmp_path / "shop")
    yield opened
    opened.close()


def files(db: Database) -> list[str]:
    return sorted(str(p.relative_to(db.folder)) for p in db.folder.rglob("*") if p.is_file())


def test_the_original_keeps_every_byte_under_its_hash(db: Database) -> None:
    data = jpeg()
    kept = keep(db, iter([data[:100], data[100:]]), "IMG 0001.JPG")
    assert kept.sha256 == hashlib.sha256(data).hexdigest()
    assert (kept.type, kept.bytes, kept.width, kept.height) == ("image/jpeg", len(data), 400, 300)
    assert (kept.name, kept.taken, kept.repeated) == ("IMG 0001.JPG", "2026-03-02T14:05:06", False)
    opened = open_photo(db, kept.sha256)
    assert opened.path.read_bytes() == data
    assert opened.path == db.folder / "photos" / kept.sha256[:2] / f"{kept.sha256}.jpg"


def test_the_same_photo_again_is_the_same_photo(db: Database) -> None:
    first = keep(db, [jpeg()], "a.jpg")
    before = files(db)
    again = keep(db, [jpeg()], "b.jpg")
    assert again.repeated and again.sha256 == first.sha256
    assert files(db) == before


def test_sending_a_photo_again_mends_a_damaged_original(db: Database) -> None:
    kept = keep(db, [jpeg()], "a.jpg")
    path = open_photo(db, kept.sha256).path
    path.write_bytes(path.read_bytes()[:-40] + b"x" * 40)
    assert not keep(db, [jpeg()], "a.jpg").repeated
    assert hashlib.sha256(path.read_bytes()).hexdigest() == kept.sha256


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_photo_stands_upright_however_the_camera_was_held(db: Database, orientation: int) -> None:
    kept = keep(db, [jpeg(orientation, size=(1600, 1200))], "a.jpg")
    assert (kept.width, kept.height) == (1600, 1200)
    for size in SIZES:
        with Image.open(thumb(db, kept.sha256, size)) as small:
            assert corners(small) == "rgbw"
            assert small.size == (size, size * 3 // 4)
    with Image.open(io.BytesIO(without_location(jpeg(orientation)))) as out:
        turned = read_picture_bytes(db, out)
        assert corners(turned) == "rgbw"


def read_picture_bytes(db: Database, image: Image.Image) -> Image.Image:
    path = db.folder / "out.bin"
    assert image.fp is not None
    image.fp.seek(0)
    path.write_bytes(image.fp.read())
    return read_picture(path).image


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_a_photo_of_an_iphone_is_turned_once_not_twice(db: Database, orientation: int) -> None:
    data = heic(held(scene(), orientation), exif=tags(orientation).tobytes())
    kept = keep(db, [data], "IMG_0002.HEIC")
    assert (kept.type, kept.width, kept.height) == ("image/heic", 400, 300)
    assert kept.taken == "2026-03-02T14:05:06"
    with Image.open(thumb(db, kept.sha256, 320)) as small:
        assert corners(small) == "rgbw"
    assert open_photo(db, kept.sha256).path.read_bytes() == data
    out = without_location(data)
    assert out.startswith(b"\xff\xd8")
    with Image.open(io.BytesIO(out)) as opened:
        assert corners(opened) == "rgbw"
        assert not opened.getexif()


def test_thumbnails_hold_the_picture_and_nothing_else(db: Database) -> None:
    kept = keep(db, [jpeg()], "a.jpg")
    for size in SIZES:
        data = thumb(db, kept.sha256, size).read_bytes()
        with Image.open(io.BytesIO(data)) as small:
            assert small.format == "WEBP"
            assert not small.getexif()
            assert "icc_profile" not in small.info
        assert b"EXIF" not in data and b"XMP " not in data
        assert not any(secret in data for secret in SECRETS)


def test_a_thumbnail_that_is_missing_or_empty_is_made_again(db: Database) -> None:
    kept = keep(db, [jpeg()], "a.jpg")
    path = thumb_path(db, kept.sha256, 320)
    before = path.read_bytes()
    path.unlink()
    assert thumb(db, kept.sha256, 320).read_bytes() == before
    path.write_bytes(b"")
    assert thumb(db, kept.sha256, 320).read_bytes() == before


def test_only_the_two_sizes_are_made(db: Database) -> None:
    kept = keep(db, [jpeg()], "a.jpg")
    with pytest.raises(ValueError, match="320, 1280"):
        thumb(db, kept.sha256, 999)


def test_a_small_photo_is_not_blown_up(db: Database) -> None:
    kept = keep(db, [saved(scene(40, 30), "PNG")], "a.png")
    with Image.open(thumb(db, kept.sha256, 1280)) as small:
        assert small.size == (40, 30)


@pytest.mark.parametrize("sha256", ["0" * 64, "../../etc/passwd", "", "Z" * 64])
def test_a_photo_that_is_not_there_is_said_to_be_so(db: Database, sha256: str) -> None:
    with pytest.raises(NoPhoto):
        open_photo(db, sha256)
    with pytest.raises(NoPhoto):
        thumb(db, sha256, 320)


# ---- what leaves the shop


def test_what_leaves_the_shop_says_nothing_of_place_camera_or_owner() -> None:
    data = jpeg() + b"trailer: GPSplace"
    assert all(secret in data for secret in SECRETS)
    out = without_location(data)
    assert not any(secret in out for secret in SECRETS)
    with Image.open(io.BytesIO(out)) as opened:
        assert not opened.getexif()
        assert "comment" not in opened.info


def test_a_jpeg_leaves_with_its_picture_untouched() -> None:
    for options in ({}, {"progressive": True}, {"subsampling": 0, "optimize": True}):
        data = jpeg(6, **options)
        out = without_location(data)
        with Image.open(io.BytesIO(data)) as before, Image.open(io.BytesIO(out)) as after:
            assert before.tobytes() == after.tobytes()
            assert dict(after.getexif()) == {0x0112: 6}
        assert without_location(out) == out


def test_a_png_leaves_with_its_pixels_untouched() -> None:
    from PIL.PngImagePlugin import PngInfo

    info = PngInfo()
    info.add_text("Comment", "GPSplace of the shop")
    out = without_location(saved(scene(), "PNG", pnginfo=info, exif=tags()))
    assert b"GPSplace" not in out and b"eXIf" not in out
    with Image.open(io.BytesIO(out)) as opened:
        assert opened.format == "PNG"
        assert opened.tobytes() == scene().tobytes()


def swapped_profile() -> bytes:
    """sRGB with red and green changed round: what is red in the file should be seen as green."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    for letters in ((b"rXYZ", b"gXYZ"), (b"rTRC", b"gTRC")):
        profile = profile.replace(letters[0], b"####").replace(letters[1], letters[0])
        profile = profile.replace(b"####", letters[1])
    return profile


def test_colours_of_another_profile_become_srgb_and_the_profile_is_gone(db: Database) -> None:
    data = jpeg(icc_profile=swapped_profile())
    out = without_location(data)
    with Image.open(io.BytesIO(out)) as opened:
        assert "icc_profile" not in opened.info
        assert corners(opened) == "grbw"
    kept = keep(db, [data], "a.jpg")
    with Image.open(thumb(db, kept.sha256, 320)) as small:
        assert corners(small) == "grbw"


def test_a_profile_that_makes_no_sense_is_left_out_of_account() -> None:
    for profile in (b"no profile", swapped_profile()[:200], b"x" * (5 * 2**20)):
        out = without_location(jpeg(icc_profile=profile))
        with Image.open(io.BytesIO(out)) as opened:
            assert "icc_profile" not in opened.info
            assert corners(opened) == "rgbw"


# ---- pictures of other kinds


def test_webp_is_kept(db: Database) -> None:
    kept = keep(db, [saved(scene(), "WEBP", exif=tags(1))], "a")
    assert (kept.type, kept.taken) == ("image/webp", "2026-03-02T14:05:06")
    assert without_location(open_photo(db, kept.sha256).path).startswith(b"\xff\xd8")


def test_a_picture_for_the_press_becomes_one_for_the_screen(db: Database) -> None:
    kept = keep(db, [saved(scene().convert("CMYK"), "JPEG")], "press.jpg")
    with Image.open(thumb(db, kept.sha256, 320)) as small:
        assert corners(small) == "rgbw"
        assert small.mode == "RGB"


def test_sixteen_bits_of_grey_are_not_burnt_out(db: Database) -> None:
    grey = Image.new("I;16", (80, 60), 30_000)
    kept = keep(db, [saved(grey, "PNG")], "scan.png")
    with Image.open(thumb(db, kept.sha256, 320)) as small:
        colour = small.convert("L").getpixel((40, 30))
    assert colour == pytest.approx(30_000 / 257, abs=2)


def test_what_shows_through_is_laid_over_white(db: Database) -> None:
    for image in (
        Image.new("RGBA", (80, 60), (0, 0, 0, 0)),
        Image.new("LA", (80, 60), (0, 0)),
        Image.new("RGBA", (80, 60), (0, 0, 0, 0)).quantize(4),
    ):
        kept = keep(db, [saved(image, "PNG")], "cut-out.png")
        with Image.open(thumb(db, kept.sha256, 320)) as small:
            assert small.convert("L").getpixel((40, 30)) > 250


# ---- the camera's clock


@pytest.mark.parametrize(
    ("written", "zone", "taken"),
    [
        ("2026:03:02 14:05:06", "+01:00", "2026-03-02T14:05:06+01:00"),
        ("2026:03:02 14:05:06", "local", "2026-03-02T14:05:06"),
        ("2026-03-02 14:05:06", "", "2026-03-02T14:05:06"),
        ("0000:00:00 00:00:00", "", None),
        ("2026:13:41 14:05:06", "", None),
        ("    :  :     :  :  ", "", None),
    ],
)
def test_the_clock_of_the_camera(written: str, zone: str, taken: str | None) -> None:
    assert taken_of(tags(taken=written, zone=zone)) == taken


# ---- the disk


def test_a_full_disk_is_said_and_nothing_is_left_behind(
    db: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = keep(db, [jpeg()], "before.jpg")
    before = files(db)

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("endbell.store.photos.os.fsync", full)
    with pytest.raises(NoRoom, match=r"b\.jpg: the disk is full.*still there"):
        keep(db, [jpeg(3)], "b.jpg")
    assert files(db) == before
    assert open_photo(db, kept.sha256).path.read_bytes() == jpeg()


def test_what_a_broken_off_upload_left_is_cleared_away(db: Database) -> None:
    def broken() -> Iterator[bytes]:
        yield jpeg()[:50]
        raise ConnectionError

    with pytest.raises(ConnectionError):
        keep(db, broken(), "a.jpg")
    assert files(db) == []
    left = db.folder / "photos" / "incoming" / "old.part"
    left.write_bytes(b"x")
    assert clear_incoming(db, older=3600) == 0
    assert clear_incoming(db, older=-1) == 1


def test_names_of_files_are_only_for_people(db: Database) -> None:
    kept = keep(db, [jpeg()], "../../etc/pass\x00wd\n.php")
    assert kept.name == "passwd.php"
    assert photo_path(db, kept.sha256, "jpg").is_file()
    assert keep(db, [jpeg()], "").name == "photo"
