"""``endbell compare``: rival models with their odds."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .errors import DONE_WITH_REMARKS, CommandError, nearest_sentence
from .options import AsJson, AsOf, Assume, PackDirs, Packs


def compare(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A dossier.", show_default=False)],
    models: Annotated[
        str,
        typer.Option(
            "--models",
            metavar="A,B,…",
            help="The rival models, as their pack names them.",
            show_default=False,
        ),
    ],
    as_json: AsJson = False,
    packs: Packs = None,
    assume: Assume = None,
    pack_dir: PackDirs = None,
    as_of: AsOf = None,
) -> None:
    """Set rival models against each other: the odds of each, given all marks.

    \b
    Example: endbell compare amp.toml --models lantern-20,lantern-20-reverb
    """
    from ..dossier import DossierError, load_dossier
    from ..dossier.problem_json import problem_json
    from ..dossier.values import nearest_words
    from .options import command_day, listed
    from .say import percent, print_json, print_table
    from .shelf import Shelf
    from .weighing import weigh_dossier

    rivals = listed(models)
    if len(rivals) < 2:
        raise CommandError("--models takes two models or more, with commas between them")
    shelf = Shelf(pack_dir, listed(packs))
    try:
        dossier = load_dossier(file, shelf.reference, today=command_day(as_of))
    except DossierError as error:
        raise CommandError(str(error)) from None
    known = {model.id: model for model in shelf.reference(dossier.packs).models}
    for rival in rivals:
        if rival not in known:
            near = nearest_sentence(nearest_words(rival, known))
            there = ", ".join(known) or "none: the dossier names no pack with models"
            raise CommandError(
                f"--models {rival}: no pack in force has that model{near} (there are: {there})"
            )
    verdict = weigh_dossier(dossier, shelf, assume, rivals).verdict
    assert verdict is not None
    odds = [
        (m.model, m.p, known[m.model].odds if m.model in known else 1.0) for m in verdict.models
    ]
    if as_json:
        print_json(
            {
                "dossier": verdict.dossier,
                "file": str(file),
                "models": [
                    {"model": m, "p": float(f"{p:.9g}"), "prior_odds": prior}
                    for m, p, prior in odds
                ],
                "build": {"edtf": verdict.build.edtf, "mode_year": verdict.build.mode_year},
                "not_weighed": [problem_json(problem) for problem in verdict.not_weighed],
            }
        )
    else:
        rows = [
            (known[m].title if m in known else m, m, percent(p), f"{prior:g}")
            for m, p, prior in odds
        ]
        print_table(verdict.dossier, ("model", "id", "odds now", "odds before"), rows, right=(2, 3))
        typer.echo(f"Built {verdict.build.edtf} (95%), whichever of these it is.")
    if verdict.not_weighed:
        raise typer.Exit(DONE_WITH_REMARKS)
