"""``endbell backup``: everything that a shop has recorded, in one file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .data import DATA, Data, DatabaseUrl, opened, told
from .errors import CommandError
from .options import AsJson


def backup(
    out: Annotated[Path, typer.Argument(metavar="OUT", help="The file to write; it must be new.")],
    data: Data = DATA,
    database: DatabaseUrl = None,
    as_json: AsJson = False,
) -> None:
    """Write everything a shop has recorded, with every photo, to one file; then read it back.

    May run while the workbench is in use: one moment of it is written. The file holds what signs
    people in, so keep it where the shop's own data might lie.

    \b
    Example: endbell backup shop-2026-03-02.zip --data shop
    """
    from .say import print_json, tell

    with opened(data, database) as db, told() as step:
        from ..store.backup import BackupRefused
        from ..store.backup import backup as write

        try:
            manifest = write(db, out, step)
        except BackupRefused as error:
            raise CommandError(str(error)) from None
    counts = manifest["counts"]
    if as_json:
        print_json({"file": str(out), "taken": manifest["taken"], "counts": counts})
    else:
        tell(
            f"{out}: {counts['dossiers']} dossiers, {counts['events']} events, "
            f"{counts['photos']} photos, read back and found right"
        )
