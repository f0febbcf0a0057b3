"""``endbell demo``: the demonstration dossiers, written out and weighed."""

from __future__ import annotations

from importlib import resources
from pathlib import Path
from typing import Annotated

import typer

from .errors import CommandError
from .options import AsJson, Packs


def demo(
    folder: Annotated[Path, typer.Argument(metavar="[DIR]", help="Where to write them.")] = Path(
        "demo"
    ),
    packs: Packs = None,
    as_json: AsJson = False,
) -> None:
    """Write the demonstration dossiers, weigh them all, and leave a report of the first.

    \b
    Example: endbell demo
    """
    from .options import command_day, listed
    from .say import print_json, tell
    from .shelf import Shelf
    from .weigh import print_summary, print_verdict, write_page
    from .weighing import weigh_files

    files = write_demo(folder)
    results = weigh_files(files, Shelf(None, listed(packs)), None, command_day(None))
    report = folder / f"{files[0].stem}.html"
    write_page(results[0], report)
    if as_json:
        from ..chronology import as_json as verdict_json

        print_json(
            {
                "folder": str(folder),
                "report": str(report),
                "verdicts": [
                    verdict_json(r.verdict) if r.verdict else {"file": r.file, "error": r.error}
                    for r in results
                ],
            }
        )
        return
    print_summary(results, f"{len(files)} dossiers in {folder}")
    print_verdict(results[0])
    tell(f"report: {report}")


def demo_texts() -> dict[str, str]:
    """The demonstration dossiers: file name -> text, in order."""
    shelf = resources.files("endbell.cli") / "demo_dossiers"
    found = sorted(
        (item for item in shelf.iterdir() if item.name.endswith(".toml")),
        key=lambda item: item.name,
    )
    return {item.name: item.read_text(encoding="utf-8") for item in found}


def write_demo(folder: Path) -> list[Path]:
    """Write them into ``folder``; a file there that says something else is not written over."""
    folder.mkdir(parents=True, exist_ok=True)
    files: list[Path] = []
    for name, text in demo_texts().items():
        file = folder / name
        if file.exists() and file.read_text(encoding="utf-8", errors="replace") != text:
            raise CommandError(
                f"{file} is there already and says something else; name another folder"
            )
        file.write_text(text, encoding="utf-8")
        files.append(file)
    return files
