"""A batch as a command carries it out: what is said before, meanwhile and after."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from .assume import assumed
from .batch_bar import bar
from .errors import CommandError, internal_error
from .say import console, print_table, tell
from .shelf import Shelf

if TYPE_CHECKING:
    from ..batch.columns import Understood
    from ..batch.inputs import Inputs
    from ..batch.journal import Journal
    from ..batch.packs import Settings
    from ..batch.run import Finished, Progress


@dataclass(frozen=True, slots=True)
class Job:
    """What was asked for, as typed.

    ``ask``: whether a doubt about columns may be asked about.  ``words``: what the bar says.
    ``aloud``: whether the columns are shown, and what is found afterwards said.  ``option``: the
    one that ``assume`` was given by.
    """

    inputs: Sequence[Path]
    out: Path
    workers: int | None = None
    scheduler: str | None = None
    maps: Sequence[str] = ()
    ask: bool = True
    packs: tuple[str, ...] = ()
    pack_dirs: Sequence[Path] = ()
    assume: Sequence[str] = ()
    as_of: str | None = None
    words: str = "weighing"
    aloud: bool = True
    option: str = "--assume"


def carry_out(job: Job) -> Finished:
    """Weigh all that the job names; everything said goes to standard error."""
    from ..batch.errors import BatchError
    from ..batch.pool import PoolError, WorkFailed, cores
    from ..batch.run import Plan, Stopped, open_journal, run

    shelf = Shelf(job.pack_dirs, job.packs)
    try:
        inputs = _inputs(job, shelf)
        journal = open_journal(job.out)
        try:
            settings = _settings(job, shelf, journal)
            total = _look(inputs)
            plan = Plan(
                inputs=inputs,
                settings=settings,
                out=job.out,
                workers=cores() if job.workers is None else job.workers,
                total=total if inputs.counted else None,
                scheduler=job.scheduler,
                told=_told(job, inputs),
            )
            with bar(job.words, inputs.counted) as show:
                done = run(plan, journal, show)
        finally:
            journal.close()
    except Stopped as stop:
        raise CommandError(_stopped(stop.progress, job.out)) from None
    except WorkFailed as error:
        raise CommandError(internal_error(error)) from None
    except (BatchError, PoolError) as error:
        raise CommandError(str(error)) from None
    if job.aloud:
        _say_after(done, inputs, shelf)
    return done


# ---- before


def _inputs(job: Job, shelf: Shelf) -> Inputs:
    """The inputs, once it is settled how their tables are understood."""
    from ..batch.columns import parse_maps
    from ..batch.inputs import open_inputs
    from ..dossier.parts import known_part

    reference = shelf.reference(())
    inputs = open_inputs(
        job.inputs, lambda text: known_part(text, reference) is not None, parse_maps(job.maps)
    )
    for path, table in inputs.tables.items() if job.aloud else ():
        _preview(path, table)
    unclear = [path for path, table in inputs.tables.items() if not table.certain]
    for path in unclear:
        missing = inputs.tables[path].missing
        if missing:
            raise CommandError(
                f"{path}: no column is {' or '.join(missing)}; say which with --map COLUMN=FIELD"
            )
    if inputs.tables and job.ask:
        if sys.stdin.isatty() and sys.stderr.isatty():
            if not typer.confirm("Weigh with the columns as shown?", default=True, err=True):
                raise CommandError("stopped; --map COLUMN=FIELD says what a column is")
        elif unclear:
            raise CommandError(
                f"{unclear[0]}: some columns are guesses; --yes takes them as shown, --map"
                " COLUMN=FIELD says what a column is"
            )
    return inputs


def _preview(path: Path, table: Understood) -> None:
    """How a table is understood, and its first rows so understood."""
    from ..batch.fields import BY_NAME

    rows: list[tuple[str, ...]] = []
    for c in table.columns:
        shown = ", ".join(row[c.number - 1] for row in table.first_rows[:2] if c.number <= len(row))
        as_what = BY_NAME[c.field].words if c.field else "not used"
        doubt = "" if c.certain or not c.field else " (a guess)"
        name = f'"{c.heading}"' if c.heading else f"column {c.number}"
        rows.append((name, f"{as_what}{doubt}", c.field, c.why, shown[:24]))
    print_table(
        f"{path}: how its columns are understood",
        ("column", "is read as", "field", "because of", "first rows"),
        rows,
        err=True,
    )
    used = [c for c in table.columns if c.field]
    if table.first_rows:
        cells = [
            [row[c.number - 1] if c.number <= len(row) else "" for c in used]
            for row in table.first_rows
        ]
        print_table("the first rows, so read", [c.field for c in used], cells, err=True)
    for field in table.missing:
        tell(f"{path}: no column is {field} ({BY_NAME[field].words})")
    if "kind" not in table.fields:
        tell(f"{path}: no column is kind: the kind of each mark is guessed from part and text")


def _settings(job: Job, shelf: Shelf, journal: Journal) -> Settings:
    """What verdicts depend on; said where it is not what it was in an earlier run."""
    from ..batch.packs import Settings
    from .options import command_day

    before = journal.about("settings")
    day = before["day"] if before and job.as_of is None else command_day(job.as_of).isoformat()
    settings = Settings(
        packs=job.packs,
        search=tuple(str(folder.resolve()) for folder in shelf.search),
        assume=tuple(sorted(_assumed(job, shelf).items())),
        day=day,
    )
    now = {"packs": list(job.packs), "assume": dict(settings.assume), "day": day}
    if before is not None and before != now:
        changed = [name for name in now if before.get(name) != now[name]]
        words = {"packs": "packs in force", "assume": "assumptions", "day": "day"}
        tell(
            f"{job.out}: {' and '.join(words[name] for name in changed)} not those of the last run"
            " there: everything is weighed anew"
        )
    elif before is not None and journal.finished() and job.aloud:
        tell(f"{job.out}: going on from {journal.finished():,} dossiers, as of {day}")
    journal.tell("settings", now)
    return settings


def _assumed(job: Job, shelf: Shelf) -> dict[str, float]:
    """``--assume`` checked; a name may also be one of a pack that only some dossiers name."""
    from ..reference import PackError, available_packs

    reference = shelf.reference(())
    names = {pair.partition("=")[0].strip() for pair in job.assume}
    if not names <= reference.assumptions.keys():
        for info in available_packs(shelf.search):
            try:
                other = shelf.reference((info.id,))
            except PackError:
                continue
            if names <= other.assumptions.keys():
                return assumed(job.assume, other, job.option)
    return assumed(job.assume, reference, job.option)


def _look(inputs: Inputs) -> int:
    """Count; a long table takes its time, and says so."""
    if not inputs.tables:
        return inputs.look()
    with console(err=True).status("reading") as status:
        return inputs.look(
            lambda path, rows: status.update(f"{path}: {rows:,} rows looked through")
        )


def _told(job: Job, inputs: Inputs) -> tuple[tuple[str, Any], ...]:
    """What another command needs to do the same again: paths as typed, and where."""
    return (
        ("inputs", [str(path) for path in inputs.paths]),
        ("folder", str(Path.cwd())),
        ("maps", list(job.maps)),
    )


# ---- stopped, or done


def _stopped(p: Progress, out: Path) -> str:
    of = f" of {p.total:,}" if p.total is not None else ""
    return (
        f"stopped; {p.done:,}{of} dossiers are done and kept in {out}; the same command goes on"
        " from there"
    )


def _say_after(done: Finished, inputs: Inputs, shelf: Shelf) -> None:
    from ..batch.archives import is_archive
    from ..batch.tables import TABLES

    p, written = done.progress, done.written
    for names in done.asked:
        _say_pack_problems(names, shelf)
    if p.other_packs:
        tell(f"{p.other_packs:,} dossiers weighed anew: a pack they use has changed")
    elif done.dropped and done.made_by is not None:
        tell(f"{done.dropped:,} dossiers weighed anew: they were weighed by Endbell {done.made_by}")
    elif done.dropped:
        tell(f"{done.dropped:,} dossiers of an earlier run gone or changed, or their neighbours")
    left = sum(
        n for ending, n in inputs.left.items() if ending in TABLES or is_archive(Path(f"x{ending}"))
    )
    if left:
        what = "table or archive" if left == 1 else "tables or archives"
        tell(f"{left:,} {what} inside folders or archives left alone: name them themselves")
    if written.twice_in_all:
        more = ", …" if written.twice_in_all > len(written.twice) else ""
        tell(
            f"{written.twice_in_all:,} id{'' if written.twice_in_all == 1 else 's'} of more than"
            f" one dossier ({', '.join(written.twice)}{more}); column file tells them apart"
        )
    if not written.parquet:
        tell("no Parquet without pyarrow (pip install 'endbell[scale]'); the same command adds it")


def _say_pack_problems(names: tuple[str, ...], shelf: Shelf) -> None:
    """The shelf says once what is wrong with a pack; a pack that is missing is said by its rows."""
    from ..reference import PackError

    with suppress(PackError):
        shelf.reference(names)
