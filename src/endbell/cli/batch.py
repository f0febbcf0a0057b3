"""``endbell batch``: many dossiers, on every core, stopped and taken up again."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .errors import DONE_WITH_REMARKS, NOT_DONE, CommandError
from .options import AsJson, AsOf, Assume, PackDirs, Packs

if TYPE_CHECKING:
    from ..batch.run import Finished

Workers = Annotated[
    int | None,
    typer.Option(
        "--workers",
        min=0,
        metavar="N",
        help="Processes to work with [one a core]; 0: this one alone.",
    ),
]
Scheduler = Annotated[
    str | None,
    typer.Option(
        "--scheduler",
        metavar="ADDRESS",
        help="Work on the machines of a Dask scheduler, such as tcp://10.0.0.5:8786.",
    ),
]
Maps = Annotated[
    list[str] | None,
    typer.Option(
        "--map",
        metavar="COLUMN=FIELD",
        help="What a column of a table is, by its heading or number. May be repeated.",
    ),
]
Yes = Annotated[bool, typer.Option("--yes", help="Don't ask about the columns of tables.")]


def batch(
    inputs: Annotated[
        list[Path],
        typer.Argument(
            metavar="IN…",
            help="Folders of dossiers, dossiers, archives (.zip, .tar…), tables (.csv, .xlsx).",
            show_default=False,
        ),
    ],
    out: Annotated[
        Path,
        typer.Option(
            "--out",
            metavar="DIR",
            help="Where the results go; the same DIR again goes on where it stopped.",
            show_default=False,
        ),
    ],
    workers: Workers = None,
    scheduler: Scheduler = None,
    maps: Maps = None,
    yes: Yes = False,
    packs: Packs = None,
    assume: Assume = None,
    as_json: AsJson = False,
    pack_dir: PackDirs = None,
    as_of: AsOf = None,
) -> None:
    """Weigh many dossiers into one table of verdicts, on every core.

    \b
    Example: endbell batch collection/ --out verdicts
    Example: endbell batch marks.csv --map "Stamp=text" --out verdicts --workers 4
    """
    from .batching import Job, carry_out
    from .options import listed
    from .say import print_json

    job = Job(
        inputs=inputs,
        out=out,
        workers=workers,
        scheduler=scheduler,
        maps=maps or (),
        ask=not yes,
        packs=listed(packs),
        pack_dirs=pack_dir or (),
        assume=assume or (),
        as_of=as_of,
    )
    done = carry_out(job)
    if as_json:
        print_json(_record(out, done))
    else:
        for line in _summary(out, done):
            typer.echo(line)
    _leave(done)


def _record(out: Path, done: Finished) -> dict[str, Any]:
    from ..batch.outputs import BAD_ROWS, VERDICTS_CSV, VERDICTS_PARQUET

    p, written = done.progress, done.written
    return {
        "out": str(out),
        "csv": str(out / VERDICTS_CSV),
        "parquet": str(out / VERDICTS_PARQUET) if written.parquet else None,
        "bad_rows_csv": str(out / BAD_ROWS),
        "dossiers": p.done,
        "kept": p.kept,
        "errors": p.errors,
        "with_rows_not_weighed": p.remarked,
        "bad_rows": p.bad_rows,
        "ids_that_stand_twice": written.twice_in_all,
    }


def _summary(out: Path, done: Finished) -> Sequence[str]:
    from ..batch.outputs import BAD_ROWS, VERDICTS_CSV, VERDICTS_PARQUET

    p, written = done.progress, done.written
    kept = f" ({p.kept:,} of them by an earlier run)" if p.kept else ""
    files = f"{VERDICTS_CSV} and {VERDICTS_PARQUET}" if written.parquet else VERDICTS_CSV
    lines = [f"{_dossiers(p.done)} weighed{kept}: {files} in {out}"]
    if p.bad_rows:
        lines.append(
            f"{p.bad_rows:,} row{_s(p.bad_rows)} not weighed: {BAD_ROWS} says which and why"
        )
    if p.errors:
        lines.append(f"{_dossiers(p.errors)} without a verdict: column error says why")
    return lines


def _dossiers(n: int) -> str:
    return f"{n:,} dossier{_s(n)}"


def _s(n: int) -> str:
    return "" if n == 1 else "s"


def _leave(done: Finished) -> None:
    p = done.progress
    if not p.done:
        raise CommandError("no dossiers in the inputs")
    if p.errors == p.done:
        raise typer.Exit(NOT_DONE)
    if p.errors or p.bad_rows:
        raise typer.Exit(DONE_WITH_REMARKS)
