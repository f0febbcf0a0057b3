"""``endbell restore``: a shop's records out of a backup."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from .data import DATA, Data, DatabaseUrl, opened, told
from .errors import CommandError
from .options import AsJson

_OURS = ("endbell.sqlite", "endbell.sqlite-wal", "endbell.sqlite-shm", "photos", "thumbs")


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="What endbell backup wrote.")],
    data: Data = DATA,
    database: DatabaseUrl = None,
    over: Annotated[
        bool,
        typer.Option(
            "--over", help="What is in the folder is moved aside in it first; nothing is deleted."
        ),
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Bring a backup back into an empty folder or database, all of it or nothing.

    Stop the workbench first. A backup of a file can be restored into PostgreSQL and the other way
    round.

    \b
    Example: endbell restore shop-2026-03-02.zip --data shop-again
    """
    from .say import print_json, tell

    if not file.is_file():
        raise CommandError(f"{file}: there is no such file; accepted: what endbell backup wrote")
    aside = _move_aside(data) if over else None
    with opened(data, database, must_be_there=False) as db, told() as step:
        from ..store.backup import BackupRefused
        from ..store.backup import restore as read

        try:
            manifest = read(db, file, step)
        except BackupRefused as error:
            raise CommandError(str(error)) from None
    counts = manifest["counts"]
    if as_json:
        print_json({"data": str(data), "taken": manifest["taken"], "counts": counts})
        return
    tell(
        f"{data}: {counts['dossiers']} dossiers, {counts['events']} events and "
        f"{counts['photos']} photos as they were at {manifest['taken']}"
    )
    if aside is not None:
        tell(f"what was there before lies in {aside}")


def _move_aside(data: Path) -> Path | None:
    """What Endbell keeps in the folder, moved to a folder of its own in it; None: nothing was."""
    there = [data / name for name in _OURS if (data / name).exists()]
    if not there:
        return None
    aside = data / f"before-{datetime.now().strftime('%Y-%m-%dT%H%M%S')}"
    aside.mkdir()
    for path in there:
        with suppress(FileNotFoundError):
            path.rename(aside / path.name)
    return aside
