"""``endbell check``: reads only, and says every problem with its place."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from .errors import DONE_WITH_REMARKS, NOT_DONE
from .options import AsJson, AsOf, PackDirs, Packs


def check(
    files: Annotated[
        list[Path], typer.Argument(metavar="FILE…", help="Dossiers to read.", show_default=False)
    ],
    as_json: AsJson = False,
    packs: Packs = None,
    pack_dir: PackDirs = None,
    as_of: AsOf = None,
) -> None:
    """Read dossiers and say every problem with its place; nothing is weighed.

    \b
    Example: endbell check amp.toml
    """
    from ..dossier.errors import DossierError
    from ..dossier.problem_json import problem_json
    from .options import command_day, listed
    from .say import print_json, tell
    from .shelf import Shelf

    shelf, today = Shelf(pack_dir, listed(packs)), command_day(as_of)
    results: list[dict[str, Any]] = []
    for file in files:
        try:
            results.append(_checked(file, shelf, today))
        except DossierError as error:
            tell(f"endbell: {error}")
            results.append({"file": str(file), "error": str(error)})
    if as_json:
        out = [
            {
                key: [problem_json(p) for p in value] if key in ("problems", "remarks") else value
                for key, value in result.items()
            }
            for result in results
        ]
        if len(out) > 1:
            print_json(out)
        elif "error" not in out[0]:
            print_json(out[0])
    else:
        for result in results:
            if "error" not in result:
                _print(result)
    if all("error" in result for result in results):
        raise typer.Exit(NOT_DONE)
    if any("error" in result or result["problems"] for result in results):
        raise typer.Exit(DONE_WITH_REMARKS)


def _checked(file: Path, shelf: Any, today: Any) -> dict[str, Any]:
    from ..dossier.load import load_dossier
    from ..dossier.reading import read_marks

    dossier = load_dossier(file, shelf.reference, today=today)
    read = read_marks(dossier, shelf.reference(dossier.packs))
    return {
        "file": str(file),
        "dossier": dossier.id,
        "as_of": dossier.as_of.isoformat(),
        "as_of_from": dossier.as_of_from,
        "marks": len(dossier.marks) + sum(1 for row in dossier.set_aside if row.header == "mark"),
        "weighable": len(read.read),
        "problems": (*dossier.problems, *read.problems),
        "remarks": dossier.remarks,
    }


def _print(result: dict[str, Any]) -> None:
    from .say import problem_line

    for problem in result["problems"]:
        typer.echo(problem_line(problem))
    for remark in result["remarks"]:
        typer.echo(f"remark: {problem_line(remark)}")
    left_out = len(result["problems"])
    said = (
        "every row can be weighed"
        if not left_out
        else f"{left_out} problem{'s' if left_out > 1 else ''}"
    )
    typer.echo(
        f"{result['file']}: {result['weighable']} of {result['marks']} marks can be weighed; {said}"
    )
