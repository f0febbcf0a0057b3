"""``endbell reweigh``: what another pack or assumption does to verdicts already reached."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import chdir
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .batch import Maps, Workers
from .errors import CommandError
from .options import AsJson, AsOf, Assume, PackDirs, Packs

if TYPE_CHECKING:
    from ..batch.changes import Tally
    from .batching import Job

BEFORE = "before"
AFTER = "after"


def reweigh(
    old: Annotated[
        list[Path],
        typer.Argument(
            metavar="OLD…",
            help="The output folder of a batch; or dossiers, to be weighed twice.",
            show_default=False,
        ),
    ],
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="DIR",
            help="Where changes.csv goes [OLD/reweighed, or reweighed].",
        ),
    ] = None,
    packs: Packs = None,
    assume: Assume = None,
    against: Annotated[
        list[Path] | None,
        typer.Option(
            "--against",
            metavar="PACK",
            help="For dossiers: a pack as it was before, its folder. May be repeated.",
        ),
    ] = None,
    before: Annotated[
        list[str] | None,
        typer.Option(
            "--before",
            metavar="NAME=VALUE",
            help="For dossiers: the value of an assumption before. May be repeated.",
        ),
    ] = None,
    most: Annotated[int, typer.Option("--most", min=1, metavar="N", help="Changes to print.")] = 20,
    workers: Workers = None,
    maps: Maps = None,
    as_json: AsJson = False,
    pack_dir: PackDirs = None,
    as_of: AsOf = None,
) -> None:
    """Say which verdicts another pack or assumption changes, and by how much, most changed first.

    \b
    Example: endbell reweigh verdicts --assume replaced.loudspeaker.probability=0.5
    Example: endbell reweigh dossiers/ --against old/brackwater
    """
    from ..batch.journal import is_journal
    from .batching import Job
    from .options import listed
    from .say import print_json

    after = Job(
        inputs=old,
        out=out or Path("reweighed"),
        workers=workers,
        maps=maps or (),
        ask=False,
        packs=listed(packs),
        pack_dirs=pack_dir or (),
        assume=assume or (),
        as_of=as_of,
        aloud=False,
    )
    if any(is_journal(folder) for folder in old):
        if len(old) > 1:
            raise CommandError("one output folder of a batch at a time, and no dossiers beside it")
        if against or before:
            raise CommandError(
                f"{old[0]} holds the verdicts from before; --against and --before are for dossiers"
            )
        tally, first, folder = _of_batch(old[0], after, out, most)
    else:
        tally, first, folder = _of_dossiers(after, against or (), before or (), most)
    if as_json:
        print_json({"out": str(folder), **asdict(tally), "changes": first})
    else:
        _print(tally, first, folder)


def _of_batch(
    old: Path, asked: Job, out: Path | None, most: int
) -> tuple[Tally, list[dict[str, Any]], Path]:
    """A finished batch against the packs of now, and whatever else was asked for."""
    from dataclasses import replace

    from ..batch.journal import seed

    journal = _opened(old)
    about = journal.about("batch")
    journal.close()
    if about is None:
        raise CommandError(f"{old}: that batch is not finished; the same 'endbell batch' goes on")
    where = Path(about["folder"])
    if not where.is_dir():
        raise CommandError(f"{old}: its dossiers lay in {where}, which is not there any more")
    folder = (out or old / "reweighed").resolve()
    given = {pair.partition("=")[0].strip() for pair in asked.assume}
    kept = [f"{n}={v!r}" for n, v in about["assumptions"].items() if n not in given]
    job = replace(
        asked,
        inputs=[Path(path) for path in about["inputs"]],
        out=folder / AFTER,
        maps=tuple(about["maps"]),
        packs=asked.packs or tuple(about["packs_besides"]),
        pack_dirs=[*(p.resolve() for p in asked.pack_dirs), *map(Path, about["pack_folders"])],
        assume=[*kept, *asked.assume],
        as_of=asked.as_of or about["day"],
        words="weighing again",
    )
    old = old.resolve()
    seed(old, job.out)
    _carry_out(job, where)
    first, tally = _compared(old, job.out, folder, most)
    return tally, first, folder


def _of_dossiers(
    after: Job, against: Sequence[Path], assumed: Sequence[str], most: int
) -> tuple[Tally, list[dict[str, Any]], Path]:
    """Dossiers weighed twice: as it was before, and as it is now."""
    from dataclasses import replace

    from ..batch.journal import is_journal, seed

    if not against and not assumed and not after.assume:
        raise CommandError(
            "two settings are compared: say what was before (--against PACK, --before NAME=VALUE)"
            " or what is now (--assume NAME=VALUE)"
        )
    for pack in against:
        if not pack.is_dir():
            raise CommandError(f"--against {pack}: there is no such pack; give its folder")
    folder = after.out
    then = replace(
        after,
        out=folder / BEFORE,
        pack_dirs=[*against, *after.pack_dirs],
        assume=assumed,
        option="--before",
        words="weighing as before",
    )
    now = replace(after, out=folder / AFTER, words="weighing as now")
    _carry_out(then, Path.cwd())
    if not is_journal(now.out):
        seed(then.out, now.out)
    _carry_out(now, Path.cwd())
    first, tally = _compared(then.out, now.out, folder, most)
    return tally, first, folder


def _carry_out(job: Job, where: Path) -> None:
    from .batching import carry_out

    with chdir(where):
        carry_out(job)


def _opened(folder: Path) -> Any:
    from ..batch.errors import BatchError
    from ..batch.journal import Journal

    try:
        return Journal(folder, read_only=True)
    except BatchError as error:
        raise CommandError(str(error)) from None


def _compared(
    before: Path, after: Path, folder: Path, most: int
) -> tuple[list[dict[str, Any]], Tally]:
    from ..batch.changes import Tally, changes
    from ..batch.ranking import rank

    tally = Tally()
    then, now = _opened(before), _opened(after)
    try:
        first = rank(changes(then.rows(), now.rows(), tally), folder, most)
    finally:
        then.close()
        now.close()
    return first, tally


# ---- on the terminal


def _print(tally: Tally, first: Sequence[Mapping[str, Any]], folder: Path) -> None:
    from ..batch.ranking import CHANGES_CSV
    from .say import print_table

    if first:
        print_table(
            "",
            ("dossier", "moved", "likeliest week", "its year", "claim", "95% set", "parts"),
            [_line(one) for one in first],
            right=(1,),
        )
    said = f"{tally.changed:,} of {tally.compared:,} verdicts changed"
    pieces = [
        (tally.other_year, "have another year"),
        (tally.other_words, "another word for a part"),
        (tally.lost, "have no verdict any more"),
        (tally.gained, "have one now"),
    ]
    more = [f"{n:,} {words}" for n, words in pieces if n]
    typer.echo(said + (f": {', '.join(more)}" if more else ""))
    if tally.only_before or tally.only_after:
        typer.echo(
            f"not compared: {tally.only_before:,} dossiers that are gone, {tally.only_after:,} new"
        )
    shown = f"the first {len(first):,} above, " if tally.changed > len(first) else ""
    typer.echo(f"{shown}all of them in {folder / CHANGES_CSV}")


def _line(one: Mapping[str, Any]) -> tuple[str, ...]:
    from .say import percent

    if one["error_before"] or one["error_after"]:
        what = "no verdict now" if one["error_after"] else "a verdict now"
        if one["error_before"] and one["error_after"]:
            what = "another error"
        return one["dossier"], what, "", "", "", "", str(one["error_after"] or one["error_before"])
    weeks = one["mode_weeks"]
    mode = f"{one['mode_after']} ({weeks:+d})" if weeks else one["mode_after"]
    years = f"{one['mode_year_after']}: {_two(one, 'p_mode_year')}"
    claim = _two(one, "claim_p") if one["claim_p_after"] is not None else "none"
    sets = [*(f"+{y}" for y in one["years_in"]), *(f"-{y}" for y in one["years_out"])]
    parts = [f"{p} {a or '-'} → {b or '-'}" for p, (a, b) in one["words"].items()]
    moved = one["shift"]
    return (
        one["dossier"],
        percent(moved) if moved else "0%",
        mode,
        years,
        claim,
        " ".join(sets),
        "; ".join(parts),
    )


def _two(one: Mapping[str, Any], name: str) -> str:
    """A probability before and after; once where both are said alike."""
    from .say import percent

    then, now = percent(one[f"{name}_before"]), percent(one[f"{name}_after"])
    return now if then == now else f"{then} → {now}"
