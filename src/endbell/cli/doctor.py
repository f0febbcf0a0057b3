"""``endbell doctor``: is everything there that was recorded, and unaltered?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer

from .data import DATA, Data, DatabaseUrl, opened, told
from .errors import DONE_WITH_REMARKS, CommandError
from .options import AsJson

if TYPE_CHECKING:
    from ..store import Database
    from ..store.doctor import Finding


def doctor(
    data: Data = DATA,
    database: DatabaseUrl = None,
    mend: Annotated[
        bool,
        typer.Option(
            "--mend",
            help="Make anew what follows from events and photos. Events and photos stay untouched.",
        ),
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Look at all that a shop has recorded: every event, every photo, all that follows from them.

    Exit status 1 where something is not as it should be; each finding says where, what was found
    and what would mend it. May run while the workbench is in use.

    \b
    Example: endbell doctor --data shop
    """
    from .say import print_json, tell

    with opened(data, database) as db:
        findings = _examined(db)
        if mend and findings:
            _mend(db, findings)
            findings = _examined(db)
    grave = [f for f in findings if f.grave]
    if as_json:
        print_json({"clean": not grave, "findings": [asdict(f) for f in findings]})
    else:
        for f in findings:
            typer.echo(f"{f.what}: {f.where}: {f.found}; {f.mend}")
        tell("everything is there and unaltered" if not grave else f"{len(grave)} findings")
    if grave:
        raise typer.Exit(DONE_WITH_REMARKS)


def _examined(db: Database) -> Sequence[Finding]:
    from ..store.doctor import examine

    with told() as step:
        return examine(db, step)


def _mend(db: Database, findings: Sequence[Finding]) -> None:
    from ..store.rebuild import mend
    from .say import tell

    lasting = [f for f in findings if f.grave and not f.mendable]
    if lasting:
        raise CommandError(
            f"{lasting[0].where}: {lasting[0].found}; nothing is made anew from damaged events: "
            f"{lasting[0].mend}"
        )
    tell(f"{mend(db)} dossiers made anew from their events")
