"""A batch from beginning to end: inputs, journal, workers, results."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from .. import __version__
from .chunking import Chunk, cut, size_for
from .code import made_by
from .errors import OtherFolder, WorkersDiffer
from .inputs import Inputs
from .items import Item
from .journal import FORMAT, Journal, is_journal, key_of
from .outputs import ABOUT, VERDICTS_CSV, Written, write_outputs
from .packs import Packs, Settings, Stamps
from .pool import run_chunks
from .weigher import MENDING, Weighed, Weigher

OUTGROWN = 16
"""A list so many times longer than at first is cut anew, and its beginning weighed again."""

Tell = Callable[["Progress"], None]


@dataclass(frozen=True, slots=True)
class Progress:
    """How far it has come.  ``total``: dossiers in all, an estimate until a tar has been read.

    ``done`` includes ``kept``: those that an earlier run had finished.  ``remarked``: dossiers
    with rows that were not weighed; ``errors``: without a verdict; ``other_packs``: dossiers that
    were done before with other packs than are in force now.
    """

    total: int | None
    done: int = 0
    kept: int = 0
    errors: int = 0
    remarked: int = 0
    bad_rows: int = 0
    other_packs: int = 0


@dataclass(frozen=True, slots=True)
class Finished:
    """A batch that is done.  ``asked``: the packs in force for each list of packs named.

    ``dropped``: dossiers in chunks of an earlier run that are not in the input as it is now;
    ``made_by``: the Endbell of that run, where it was another.
    """

    progress: Progress
    dropped: int
    written: Written
    asked: dict[tuple[str, ...], Stamps]
    made_by: str | None = None


class Stopped(Exception):
    """Stopped before the end; what is done is kept.  ``progress``: how far it had come."""

    def __init__(self, progress: Progress) -> None:
        self.progress = progress
        super().__init__(f"{progress.done} dossiers are done")


@dataclass(frozen=True, slots=True)
class Plan:
    """What to do.  ``scheduler``: the address of a Dask scheduler; None: processes here.

    ``told``: what else is to stand in ``batch.json``, such as the inputs.
    """

    inputs: Inputs
    settings: Settings
    out: Path
    workers: int
    total: int | None
    scheduler: str | None = None
    told: tuple[tuple[str, Any], ...] = ()


def open_journal(out: Path) -> Journal:
    """The journal of an output folder, which is made if it isn't there.

    Raises :class:`OtherFolder` where results lie that no journal belongs to.
    """
    if (out / VERDICTS_CSV).exists() and not is_journal(out):
        raise OtherFolder(
            f"{out}: holds a {VERDICTS_CSV} that no journal belongs to; name another folder"
        )
    out.mkdir(parents=True, exist_ok=True)
    return Journal(out)


def run(plan: Plan, journal: Journal, tell: Tell = lambda progress: None) -> Finished:
    """Weigh all inputs of ``plan`` that the journal does not know; write the results.

    ``tell`` hears of every chunk.  Raises :class:`Stopped` on Ctrl-C, with all finished chunks
    kept, so that the same call goes on from there.
    """
    size = size_for(plan.total, plan.workers)
    before = journal.about("chunk_size")
    if before is not None and size < before * OUTGROWN:
        size = int(before)  # chunks of another size would be other chunks
    journal.tell("chunk_size", size)
    earlier = journal.about("made_by")
    journal.tell("made_by", made_by())
    work = _Run(plan, journal, tell, size)
    try:
        work.through()
    except KeyboardInterrupt:
        # asked of the journal: the stop may have come between keeping a chunk and counting it
        raise Stopped(replace(work.progress, done=journal.finished(work.line))) from None
    dropped = journal.line_up(work.line)
    asked = journal.asked()
    about = _about(plan, work.progress, asked)
    journal.tell("batch", about)
    written = write_outputs(plan.out, journal.blocks(), about)
    other = None if earlier == made_by() else earlier
    return Finished(work.progress, dropped, written, asked, other)


class _Run:
    def __init__(self, plan: Plan, journal: Journal, tell: Tell, size: int) -> None:
        self.plan = plan
        self.journal = journal
        self.tell = tell
        self.size = size
        self.packs = Packs(plan.settings)
        self.progress = Progress(plan.total)
        self.line: list[str] = []

    def through(self) -> None:
        plan, settings = self.plan, self.plan.settings
        if plan.scheduler is None:
            found = run_chunks(Weigher, self._undone(), plan.workers, (settings,), mending=MENDING)
        else:
            from .on_dask import run_on_dask

            found = run_on_dask(
                Weigher, self._undone(), plan.scheduler, (settings,), mending=MENDING
            )
        for key, weighed in found:
            self._check(weighed)
            self.journal.add(key, weighed)
            self._count(weighed)

    def _undone(self) -> Iterator[tuple[str, tuple[Item, ...]]]:
        """The chunks that the journal does not know."""
        for chunk in cut(self.plan.inputs.items(self.plan.out), self.size):
            key = key_of(chunk.content, self.plan.settings)
            self.line.append(key)
            done = self.journal.done(key, self.packs)
            if done is None:
                self._note_other_packs(key, chunk)
                yield key, chunk.items
            else:
                self._count(done, kept=done.dossiers)

    def _note_other_packs(self, key: str, chunk: Chunk) -> None:
        if self.journal.other_packs(key, self.packs):
            before = self.progress.other_packs
            self.progress = replace(self.progress, other_packs=before + len(chunk.items))

    def _count(self, more: Any, kept: int = 0) -> None:
        p = self.progress
        self.progress = replace(
            p,
            total=self.plan.inputs.expected(),
            done=p.done + more.dossiers,
            kept=p.kept + kept,
            errors=p.errors + more.errors,
            remarked=p.remarked + more.remarked,
            bad_rows=p.bad_rows + more.bad_rows,
        )
        self.tell(self.progress)

    def _check(self, weighed: Weighed) -> None:
        """Whoever weighed it, it was done with our version and our packs."""
        if weighed.version != made_by():
            raise WorkersDiffer(
                f"a worker has Endbell {weighed.version}, this is {made_by()}: install one"
                " version everywhere"
            )
        for names, stamps in weighed.asked:
            if self.packs.stamps(names) != stamps:
                said = ", ".join(names) or "the packs that always apply"
                raise WorkersDiffer(
                    f"packs are not the same where the work is done ({said}): a pack was changed"
                    " meanwhile, or a worker can't see your folder of packs; run the command again"
                )


def _about(plan: Plan, progress: Progress, asked: dict[tuple[str, ...], Stamps]) -> dict[str, Any]:
    """What stands in ``batch.json``: nothing in it depends on how the work was done."""
    packs = {i: {"version": v, "sha256": s} for stamps in asked.values() for i, v, s in stamps if i}
    return {
        "format": FORMAT,
        "endbell": __version__,
        "day": plan.settings.day,
        "packs": dict(sorted(packs.items())),
        "packs_besides": list(plan.settings.packs),
        "pack_folders": list(plan.settings.search),
        "assumptions": dict(plan.settings.assume),
        **dict(plan.told),
        "dossiers": progress.done,
        "errors": progress.errors,
        "with_rows_not_weighed": progress.remarked,
        "bad_rows": progress.bad_rows,
    }


__all__ = ["ABOUT", "Finished", "Plan", "Progress", "Stopped", "open_journal", "run"]
