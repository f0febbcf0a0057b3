"""``endbell simulate``: whole dossiers drawn from the model, with the truth beside them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .errors import CommandError
from .options import AsJson, Assume, PackDirs

AS_OF = "2026-01-05"


def simulate(
    n: Annotated[
        int, typer.Argument(metavar="N", min=1, help="How many dossiers.", show_default=False)
    ],
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Where to write them.", show_default=False)
    ],
    packs: Annotated[
        str | None,
        typer.Option(
            "--packs", metavar="A,B", help="The packs of the world they come from [no maker's]."
        ),
    ] = None,
    seed: Annotated[
        int, typer.Option("--seed", min=0, help="Another seed draws other dossiers.")
    ] = 1,
    as_of: Annotated[
        str, typer.Option("--as-of", metavar="DAY", help="The day on which all are looked at.")
    ] = AS_OF,
    assume: Assume = None,
    as_json: AsJson = False,
    pack_dir: PackDirs = None,
) -> None:
    """Draw dossiers from the model that weighs them, and truth.csv with what is true of each.

    The same seed draws the same files; stopped and started again, it goes on where it stopped.

    \b
    Example: endbell simulate 200 drawn --packs brackwater --seed 7
    """
    from ..chronology import assumptions_in_force
    from ..learning.simulation import Simulator
    from .assume import assumed
    from .drawn import TRUTH, Folder, Origin
    from .options import command_day, listed
    from .say import print_json, tell
    from .shelf import Shelf
    from .weighing import progress

    named = listed(packs)
    reference = Shelf(pack_dir).reference(named)
    day = command_day(as_of)
    changed = assumed(assume, reference)
    origin = Origin.of(seed, day, named, reference, changed)
    place = Folder.opened(folder, origin)
    before = place.done
    if before > n:
        raise CommandError(f"{folder} holds {before} dossiers already; name another folder")
    if before and not as_json:
        tell(f"{before} dossiers are in {folder} already; going on from there")
    simulator = Simulator(
        reference, assumptions_in_force(reference, changed), packs=named, as_of=day
    )
    with place.writing() as write, progress(n - before, "drawing") as step:
        for i in range(before, n):
            write(simulator.draw(seed, i))
            step()
    if as_json:
        print_json(
            {
                "folder": str(folder),
                "dossiers": n,
                "written": n - before,
                "truth": str(folder / TRUTH),
                **origin.as_form(),
            }
        )
        return
    world = ", ".join(named) or "no maker's pack"
    typer.echo(
        f"{n - before} dossiers written to {folder} ({n} in all; {world}, seed {seed}); "
        f"what is true of them: {folder / TRUTH}"
    )
