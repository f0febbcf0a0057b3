"""``endbell note``: a mark added to a dossier, its comments kept."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from . import complete
from .errors import DONE_WITH_REMARKS, CommandError
from .options import AsJson, AsOf, PackDirs, Packs

if TYPE_CHECKING:
    from datetime import date

    from ..dossier import Mark, Part, Problem
    from ..reference import Reference
    from .shelf import Shelf


def note(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The dossier.", show_default=False)],
    part: Annotated[
        str, typer.Argument(metavar="PART", help="The part it sits on.", show_default=False)
    ],
    text: Annotated[
        str, typer.Argument(metavar="TEXT", help="Exactly as seen.", show_default=False)
    ],
    kind: Annotated[
        str | None,
        typer.Option(
            "--kind", autocompletion=complete.kinds, help="The kind of mark [guessed, and said]."
        ),
    ] = None,
    legibility: Annotated[
        str,
        typer.Option(
            "--legibility", autocompletion=complete.legibilities, help="clear, worn or poor."
        ),
    ] = "clear",
    result: Annotated[
        str,
        typer.Option(
            "--result",
            autocompletion=complete.results,
            help="seen, absent, nothing-found, illegible or not-possible.",
        ),
    ] = "seen",
    place: Annotated[str, typer.Option("--place", help="Where on the part.")] = "",
    by: Annotated[str, typer.Option("--by", help="Who saw it.")] = "",
    on: Annotated[
        str | None,
        typer.Option("--on", metavar="DAY", help="When it was seen [the day of the command]."),
    ] = None,
    photo: Annotated[
        list[str] | None,
        typer.Option("--photo", help="A photo, relative to the dossier. May be repeated."),
    ] = None,
    remark: Annotated[str, typer.Option("--note", help="Anything else.")] = "",
    packs: Packs = None,
    as_json: AsJson = False,
    pack_dir: PackDirs = None,
    as_of: AsOf = None,
) -> None:
    """Add a mark to a dossier; its comments and lay-out are kept, and what was typed is kept too.

    \b
    Example: endbell note amp.toml pot-2 "992-34?" --legibility worn --by RT
    """
    from ..dossier import parse_dossier
    from ..dossier.editing import add_mark
    from ..dossier.keys import LEGIBILITIES, RESULTS
    from ..dossier.problem_json import problem_json
    from ..dossier.text import read_text
    from .options import command_day, listed, one_of
    from .say import print_json, problem_line, tell
    from .shelf import Shelf

    one_of("--legibility", legibility, LEGIBILITIES)
    one_of("--result", result, RESULTS)
    today = command_day(as_of)
    seen_on = today if on is None else command_day(on, "--on")
    shelf = Shelf(pack_dir, listed(packs))
    before = read_text(file)
    dossier = parse_dossier(before, shelf.reference, today=today, file=str(file))
    reference = shelf.reference(dossier.packs)
    mark = _mark(part, text, kind, dossier.parts, reference)
    mark = replace(
        mark,
        legibility=legibility,
        place=place,
        by=by,
        on=seen_on,
        photos=tuple(photo or ()),
        note=remark,
    )
    mark = replace(mark, result=result if result != "seen" else mark.result)
    after = add_mark(before, mark, str(file))
    number, problems = _problems(after, file, shelf, today)
    if read_text(file) != before:
        raise CommandError(f"{file} was changed meanwhile; nothing was written, try again")
    _write(file, after)
    if as_json:
        print_json(
            {
                "file": str(file),
                "mark": number,
                "part": mark.part,
                "kind": mark.kind,
                "problems": [problem_json(p) for p in problems],
            }
        )
    else:
        typer.echo(f"{file}: mark {number} added")
        for problem in problems:
            tell(f"kept, but not weighed: {problem_line(problem)}")
    if problems:
        raise typer.Exit(DONE_WITH_REMARKS)


def _mark(
    part: str, text: str, kind: str | None, parts: tuple[Part, ...], reference: Reference
) -> Mark:
    from ..dossier.guess import guess_mark
    from ..dossier.types import Mark
    from ..marks import KINDS, read_mark
    from .options import one_of
    from .say import tell

    if kind is None:
        guess = guess_mark(
            0,
            part,
            text,
            reference,
            lambda seen: read_mark(seen, reference.tables),
            parts,
        )
        tell(guess.says)
        return guess.mark
    one_of("--kind", kind, KINDS)
    if kind in ("feature", "measured"):
        guess = guess_mark(
            0,
            part,
            text,
            reference,
            lambda seen: read_mark(seen, reference.tables),
            parts,
        )
        if guess.mark.kind == kind:
            return guess.mark
        raise CommandError(
            f"--kind {kind}: '{text}'; accepted: NAME=VALUE, such as covering-colour=grey-tweed "
            f"or weave-pitch=2.31mm"
        )
    if kind == "document":
        return Mark(0, part, kind, date=text)
    return Mark(0, part, kind, text)


def _problems(text: str, file: Path, shelf: Shelf, today: date) -> tuple[int, list[Problem]]:
    """The number of the last mark of ``text``, and what is wrong with that mark."""
    from ..dossier import parse_dossier, read_marks

    dossier = parse_dossier(text, shelf.reference, today=today, file=str(file))
    numbers = [mark.n for mark in dossier.marks]
    numbers += [row.table for row in dossier.set_aside if row.header == "mark"]
    last = max(numbers)
    found = (*dossier.problems, *read_marks(dossier, shelf.reference(dossier.packs)).problems)
    return last, [p for p in found if p.header == "mark" and p.table == last]


def _write(file: Path, text: str) -> None:
    """Write beside the file and put it in its place: a cut in the power loses nothing."""
    import os
    import shutil
    import tempfile

    target = file.resolve()
    handle, beside = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as stream:
            stream.write(text)
        shutil.copymode(target, beside)
        os.replace(beside, target)
    except BaseException:
        os.unlink(beside)
        raise
