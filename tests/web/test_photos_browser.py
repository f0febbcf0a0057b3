"""Photos, export and import in a real browser: by keyboard, at both sizes, without faults."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect
from store.pictures import jpeg

from .browser import DESK, PHONE, Scheme, context_at, faults, sideways, too_small
from .one_app import a_dossier
from .running import Running

PICTURES = os.environ.get("ENDBELL_PICTURES")
TABLE = "Ticket,Part,Code,Claimed built\nTRV-901,ot,993-348,1964\nTRV-901,pot-1,992-354,\n,ot,993-341,\n"


@pytest.fixture(scope="module")
def dossier(server: Running) -> str:
    from types import SimpleNamespace

    db = server.open()
    made = a_dossier(SimpleNamespace(db=db))  # type: ignore[arg-type]
    db.close()
    return made


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder = tmp_path_factory.mktemp("camera")
    out: list[Path] = []
    for n, orientation in enumerate((1, 6, 3)):
        out.append(folder / f"IMG_{n}.jpg")
        out[-1].write_bytes(jpeg(orientation, size=(1600, 1200)))
    return out


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_of_photos_export_and_import_have_no_fault(
    browser: Browser,
    server: Running,
    dossier: str,
    photos: list[Path],
    size: tuple[int, int],
    scheme: Scheme,
) -> None:
    context = context_at(browser, server, size, "owner", scheme)
    page = context.new_page()
    seen = f"{size[0]}-{scheme}"

    def judged(name: str) -> None:
        assert faults(page) == [], name
        assert sideways(page) == 0, name
        assert too_small(page, 44 if size == PHONE else 24) == [], name
        if PICTURES:
            page.screenshot(path=f"{PICTURES}/{name}-{seen}.png", full_page=True)

    page.goto(f"/dossiers/{dossier}/photos")
    page.set_input_files("input[type=file]", photos)
    page.get_by_role("button", name="Send").click()
    expect(page.locator(".photo-grid li")).to_have_count(3)
    judged("gallery")
    page.locator(".photo-grid a").first.click()
    expect(page.locator(".viewer-fit")).to_be_visible()
    judged("viewer")
    page.goto("/export")
    judged("export")
    page.goto("/import")
    judged("import")
    page.set_input_files(
        "input[type=file]", {"name": "pots.csv", "mimeType": "text/csv", "buffer": TABLE.encode()}
    )
    page.get_by_role("button", name="Look at it").click()
    expect(page.get_by_text("1 dossier with 2 marks")).to_be_visible()
    judged("import-table")
    context.close()


def test_the_viewer_by_keyboard(
    browser: Browser, server: Running, dossier: str, photos: list[Path]
) -> None:
    context = context_at(browser, server)
    page = context.new_page()
    page.goto(f"/dossiers/{dossier}/photos")
    page.set_input_files("input[type=file]", photos)
    page.get_by_role("button", name="Send").click()
    page.locator(".photo-grid a").first.click()
    expect(page.get_by_text("1 of 3")).to_be_visible()
    page.keyboard.press("ArrowRight")
    expect(page.get_by_text("2 of 3")).to_be_visible()
    page.keyboard.press("ArrowLeft")
    expect(page.get_by_text("1 of 3")).to_be_visible()
    page.keyboard.press("z")
    expect(page.locator(".viewer-full")).to_be_visible()
    expect(page.locator(".viewer-fit")).to_be_hidden()
    wide = page.locator(".viewer-full").evaluate("e => [e.naturalWidth, e.clientWidth]")
    assert wide == [1600, 1600], "dot for dot"
    page.keyboard.press("Escape")
    expect(page).to_have_url(f"{server.address}/dossiers/{dossier}")
    context.close()


def test_a_table_is_imported_and_taken_back_in_the_browser(
    browser: Browser, server: Running
) -> None:
    context = context_at(browser, server, role="owner")
    page = context.new_page()
    page.goto("/import")
    page.set_input_files(
        "input[type=file]", {"name": "pots.csv", "mimeType": "text/csv", "buffer": TABLE.encode()}
    )
    page.get_by_role("button", name="Look at it").click()
    page.get_by_role("button", name="Import", exact=True).click()
    expect(page.get_by_text("1 dossier with 2 marks imported")).to_be_visible()
    page.get_by_role("button", name="Take this import back").click()
    expect(page.get_by_text("1 taken back")).to_be_visible()
    context.close()
