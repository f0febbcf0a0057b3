"""``endbell new``: a blank dossier, in the order of the work."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from . import complete
from .errors import CommandError, nearest_sentence
from .options import AsJson, AsOf, PackDirs, Packs


def new(
    file: Annotated[
        Path | None,
        typer.Argument(
            metavar="[FILE]",
            help="Where to write it; left out: on standard output.",
            show_default=False,
        ),
    ] = None,
    model: Annotated[
        str | None,
        typer.Option(
            "--model",
            autocompletion=complete.models,
            help="The model it is said to be: a mark for every part such an amp should have.",
        ),
    ] = None,
    dossier_id: Annotated[
        str | None, typer.Option("--id", help="The shop's number [the name of the file].")
    ] = None,
    packs: Packs = None,
    as_json: AsJson = False,
    pack_dir: PackDirs = None,
    as_of: AsOf = None,
) -> None:
    """Write a blank dossier: a commented mark for every part, outside first, cautions in place.

    \b
    Example: endbell new TRV-2026-0148.toml --model lantern-20-reverb
    """
    from ..dossier.editing import blank_dossier
    from ..dossier.values import nearest_words, text_fault
    from .options import command_day, listed
    from .say import print_json, tell
    from .shelf import Shelf

    shelf = Shelf(pack_dir)
    named = listed(packs) or (shelf.pack_with_model(model) if model else ())
    reference = shelf.reference(named)
    chosen = next((known for known in reference.models if known.id == model), None)
    if model and chosen is None:
        near = nearest_sentence(nearest_words(model, shelf.model_ids()))
        raise CommandError(f"--model {model}: no pack within reach has that model{near}")
    number = dossier_id or (file.stem if file else "unnamed")
    fault = text_fault("--id", number)
    if fault is not None:
        raise CommandError(f"{fault.found}; accepted: {fault.accepted}")
    text = blank_dossier(number, command_day(as_of), reference, chosen, named)
    if file is None:
        print_json({"dossier": number, "file": None, "text": text}) if as_json else typer.echo(
            text, nl=False
        )
        return
    try:
        with file.open("x", encoding="utf-8") as stream:
            stream.write(text)
    except FileExistsError:
        raise CommandError(f"{file} is there already; a dossier is never written over") from None
    print_json({"dossier": number, "file": str(file), "text": text}) if as_json else tell(
        f"blank dossier: {file}"
    )
