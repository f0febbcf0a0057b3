"""``endbell calibrate``: is what Endbell says with 95% so in 95 cases of 100?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .errors import DONE_WITH_REMARKS
from .options import AsJson, PackDirs

if TYPE_CHECKING:
    from datetime import date

    from ..learning.calibration import Bar, Figures, Job, Mended, Records
    from .calibrating import Work

AS_OF = "2026-01-01"
NO_PACK = "none"
MEND_WITH = 2000
"""Dossiers that a changed assumption is tried on where a world falls short."""


def calibrate(
    n: Annotated[
        int, typer.Option("--n", min=20, help="Dossiers for each world and set of packs.")
    ] = 1000,
    n_stated: Annotated[
        int | None,
        typer.Option("--n-stated", min=20, help="Dossiers of the world as stated [those of --n]."),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Draws other dossiers.")] = 1,
    packs: Annotated[
        list[str] | None,
        typer.Option(
            "--packs",
            metavar="A,B",
            help="A set of packs, 'none' for no maker's; may be repeated [none, brackwater].",
        ),
    ] = None,
    scenario: Annotated[
        list[str] | None,
        typer.Option(
            "--scenario", metavar="ID", help="A world to draw from, may be repeated [all of them]."
        ),
    ] = None,
    workers: Annotated[
        int | None,
        typer.Option("--workers", min=0, help="Processes; 0: none beside this one [one a core]."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", metavar="DIR", help="Write calibration.md, .json and pictures there."
        ),
    ] = None,
    work: Annotated[
        Path,
        typer.Option(
            "--work", metavar="DIR", help="Where finished chunks are kept, to go on from."
        ),
    ] = Path("calibration-work"),
    as_of: Annotated[
        str, typer.Option("--as-of", metavar="DAY", help="The day of every drawn dossier.")
    ] = AS_OF,
    pack_dir: PackDirs = None,
    as_json: AsJson = False,
) -> None:
    """Draw dossiers from the model, weigh them, and judge what was said by what was so.

    Stopped and started again with the same arguments, it goes on where it stopped.

    \b
    Example: endbell calibrate --n 300
    Example: endbell calibrate --n 10000 --n-stated 20000 --seed 1 --out docs
    """
    from ..batch.pool import cores
    from ..learning.calibration import AS_STATED, SCENARIOS, Asked, Job, as_form
    from .calibrating import Work, run_jobs
    from .options import command_day, one_of
    from .say import print_json
    from .shelf import Shelf

    ids = [world.id for world in SCENARIOS]
    chosen = {one_of("--scenario", word, ids) for word in scenario or ids} | {AS_STATED}
    worlds = [word for word in ids if word in chosen]
    sets = list(dict.fromkeys(_pack_set(text) for text in packs or (NO_PACK, "brackwater")))
    day = command_day(as_of)
    shelf = Shelf(pack_dir)
    references = {several: shelf.reference(several) for several in sets}
    folder = Work(work, {several: r.packs for several, r in references.items()})
    size = {AS_STATED: n_stated or n}
    jobs = {
        Job(several, world, seed, day): size.get(world, n) for several in sets for world in worlds
    }
    crew = cores() if workers is None else workers
    records = run_jobs(jobs, folder, shelf.search, crew, "weighing")
    found, bars = _judged(records, references)
    mended = _mended(bars, records, references, (folder, shelf.search, crew))
    form = as_form(
        Asked(n, seed, day, _command((n, n_stated, seed), sets, worlds, day, out)),
        {",".join(several) or NO_PACK: r.packs for several, r in references.items()},
        found,
        bars,
        mended,
    )
    if out is not None:
        write(form, out)
    if as_json:
        print_json(form)
    else:
        _show(form, out)
    if any(figures.failed for figures in found.values()):
        raise typer.Exit(DONE_WITH_REMARKS)


def write(form: Mapping[str, Any], out: Path) -> None:
    """The page, its figures and its pictures, into ``out``."""
    import json

    from ..report.calibration_page import calibration_page
    from ..report.calibration_pictures import PicturesNotPossible, pictures
    from .say import tell

    out.mkdir(parents=True, exist_ok=True)
    drawn: dict[str, str] = {}
    try:
        drawn = pictures(form)
    except PicturesNotPossible as error:
        tell(f"no pictures: {error}")
    for name, text in drawn.items():
        (out / "pictures").mkdir(exist_ok=True)
        (out / "pictures" / name).write_text(text, encoding="utf-8")
    page = calibration_page(form, "pictures" if drawn else None)
    (out / "calibration.md").write_text(page, encoding="utf-8")
    text = json.dumps(form, ensure_ascii=False, indent=1, allow_nan=False) + "\n"
    (out / "calibration.json").write_text(text, encoding="utf-8")


def _pack_set(text: str) -> tuple[str, ...]:
    from .options import listed

    return () if text.strip() == NO_PACK else listed(text)


def _judged(
    records: Mapping[Job, Records], references: Mapping[tuple[str, ...], Any]
) -> tuple[dict[Job, Figures], list[Bar]]:
    """The figures of every world and all bars, in the order of the jobs."""
    from ..learning.calibration import AS_STATED, bars, figures, years_made

    stated = {job.packs: r for job, r in records.items() if job.scenario == AS_STATED}
    found = {
        job: figures(r, stated[job.packs], years_made(references[job.packs], job.as_of))
        for job, r in records.items()
    }
    return found, [bar for job, f in found.items() for bar in bars(job.name, job.world, f)]


def _mended(
    bars: Sequence[Bar],
    records: Mapping[Job, Records],
    references: Mapping[tuple[str, ...], Any],
    how: tuple[Work, Sequence[Path], int],
) -> list[Mended]:
    """The worlds that fall short, weighed again with each assumption that ought to mend them."""
    from dataclasses import replace

    from ..learning.calibration import AS_STATED, Mended, figures, missed, years_made
    from .calibrating import run_jobs

    short = missed(bars)
    jobs = {
        replace(job, mend=k): min(r.n, MEND_WITH)
        for job, r in records.items()
        if job.name in short
        for k in range(len(job.world.mends))
    }  # the world as stated has none: nothing is wrong there but the engine
    if not jobs:
        return []
    work, search, crew = how
    out: list[Mended] = []
    for job, r in run_jobs(jobs, work, search, crew, "mending").items():
        stated = records[replace(job, scenario=AS_STATED, mend=None)]
        made = years_made(references[job.packs], job.as_of)
        whole = replace(job, mend=None)
        before = figures(records[whole].first(jobs[job]), stated, made)
        words = job.mended.words if job.mended is not None else ""
        out.append(Mended(whole.name, words, before, figures(r, stated, made)))
    return out


def _command(
    numbers: tuple[int, int | None, int],
    sets: Sequence[tuple[str, ...]],
    worlds: Sequence[str],
    day: date,
    out: Path | None,
) -> str:
    """The command that gives the same figures again."""
    from ..learning.calibration import SCENARIOS

    n, n_stated, seed = numbers
    words = ["endbell calibrate", f"--n {n}"]
    words += [f"--n-stated {n_stated}"] if n_stated is not None else []
    words += [f"--seed {seed}", *(f"--packs {','.join(several) or NO_PACK}" for several in sets)]
    if len(worlds) < len(SCENARIOS):
        words += [f"--scenario {world}" for world in worlds]
    if day.isoformat() != AS_OF:
        words.append(f"--as-of {day.isoformat()}")
    if out is not None:
        words.append(f"--out {out.name}")
    return " ".join(words)


def _show(form: Mapping[str, Any], out: Path | None) -> None:
    """A line a world, then every bar that is not met."""
    from .say import print_table

    bars = form["bars"]
    rows = [
        (
            name,
            "yes" if form["rank_inside_99"][name] else "no",
            *(f"{form['coverage'][name][level]:.3f}" for level in ("0.50", "0.80", "0.95")),
            *(f"{form['log_score'][name][who]:.3f}" for who in ("engine", "latest", "median")),
            f"{sum(bar['met'] is True for bar in bars if bar['run'] == name)}"
            f"/{sum(bar['run'] == name for bar in bars)}",
        )
        for name in form["runs"]
    ]
    title = f"{form['n']} dossiers for each world, seed {form['seed']}"
    heads = ("world", "band", "50%", "80%", "95%", "score", "latest", "median", "bars met")
    print_table(title, heads, rows, right=range(2, 9))
    for bar in bars:
        figure = "-" if bar["figure"] is None else f"{bar['figure']:.4f}"
        if bar["met"] is False:
            typer.echo(f"missed: {bar['run']}: {bar['what']}: {figure}, wanted {bar['wanted']}")
    for bar in bars:
        if bar["met"] is None:
            typer.echo(f"not judged: {bar['run']}: {bar['what']}: {bar['why']}")
    failed = sum(run["failed"] for run in form["runs"].values())
    if failed:
        typer.echo(f"{failed} dossiers could not be weighed")
    if out is not None:
        typer.echo(f"written: {out / 'calibration.md'}")
