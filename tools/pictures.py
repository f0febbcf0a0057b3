"""Makes the pictures in docs/pictures from the demonstration dossiers, in a real Chromium.

``python tools/pictures.py [FOLDER]`` weighs three of them and writes

- ``verdict-desktop.png``: the page at a desk, from the verdict to the end of the time line;
- ``verdict-phone.png``: the top of the page on a phone;
- ``verdict-terminal.svg``: the terminal, to the end of the time line.
"""

from __future__ import annotations

import io
import re
import shutil
import sys
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

from playwright.sync_api import Browser, sync_playwright

from endbell.chronology import Verdict, weigh
from endbell.dossier import Dossier, load_dossier
from endbell.reference import Reference, load_reference
from endbell.report import page, terminal_renderables

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from tests.chromium import FLAGS  # noqa: E402

DEMO = ROOT / "src" / "endbell" / "cli" / "demo_dossiers"
FOLDER = ROOT / "docs" / "pictures"
DESK, PHONE, TERMINAL = "c-two-decades-open", "b-one-later-loudspeaker", "f-worn-codes"
WIDTH = 100


def weighed(name: str) -> tuple[Verdict, Reference, Dossier]:
    """A demonstration dossier with its reference and verdict."""

    def reference(packs: tuple[str, ...]) -> Reference:
        return load_reference(packs, ())[0]

    # Every demonstration dossier has its own as_of, so the day given here is never used.
    dossier = load_dossier(DEMO / f"{name}.toml", reference, today=date(2026, 1, 1))
    known = reference(dossier.packs)
    return weigh(dossier, known), known, dossier


def page_pictures(browser: Browser, folder: Path) -> None:
    """The page at a desk and on a phone."""
    with TemporaryDirectory() as scratch:
        for name, picture, width, height, scale, until in (
            (DESK, "verdict-desktop.png", 1280, 900, 1, "#time-line"),
            (PHONE, "verdict-phone.png", 360, 780, 2, None),
        ):
            file = Path(scratch) / "page.html"
            file.write_text(page(*weighed(name)), encoding="utf-8")
            shown = browser.new_page(
                viewport={"width": width, "height": height}, device_scale_factor=scale
            )
            shown.goto(file.as_uri())
            if until is not None:
                end = shown.evaluate(
                    "s => document.querySelector(s).getBoundingClientRect().bottom", until
                )
                shown.set_viewport_size({"width": width, "height": int(end) + 24})
            shown.screenshot(path=str(folder / picture))
            shown.close()


def terminal_picture(folder: Path) -> None:
    """The terminal up to the end of the time line, as a drawing that asks for no outside font."""
    from rich.console import Console

    verdict, reference, dossier = weighed(TERMINAL)
    console = Console(record=True, width=WIDTH, file=io.StringIO(), force_terminal=True)
    for line in terminal_renderables(verdict, reference, width=WIDTH):
        if line.plain == "Parts":
            break
        console.print(line)
    drawn = console.export_svg(title=f"endbell weigh {Path(dossier.file).name}")
    drawn = re.sub(r"@font-face\s*\{[^}]*\}", "", drawn)
    drawn = re.sub(r"<!--.*?-->", "", drawn, flags=re.DOTALL)
    drawn = re.sub(r"[ \t]+$", "", drawn, flags=re.MULTILINE)
    (folder / "verdict-terminal.svg").write_text(f"{drawn.rstrip()}\n", encoding="utf-8")


def main(folder: Path) -> int:
    """Make them all; 2 where there is no browser."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        print("pictures: chromium is not installed", file=sys.stderr)
        return 2
    folder.mkdir(parents=True, exist_ok=True)
    terminal_picture(folder)
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=found, args=list(FLAGS))
        page_pictures(browser, folder)
        browser.close()
    for picture in sorted(folder.iterdir()):
        print(f"{picture}: {picture.stat().st_size // 1024} KB")
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER))
