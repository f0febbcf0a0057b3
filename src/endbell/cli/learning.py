"""A learning run: dossiers read once, weighed on every core, stopped and taken up again."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..batch.code import WEIGHING, code_mark
from .errors import CommandError, internal_error
from .learning_work import Packs, Reader, Task, Weigher, course_of, serials_from
from .records_kept import Kept, Store
from .say import bars, tell

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from rich.progress import Progress

    from ..batch.items import Item
    from ..learning.records.fit import Estimate
    from ..learning.records.passing import Course
    from ..learning.records.serial import Knot, SerialRecord
    from ..learning.records.sums import Sums

    Array = NDArray[np.float64]

READ = 250  # dossiers read at a time
WEIGHED = 100  # patterns weighed at a time
SAMPLES = (400, 3000)
"""Patterns on which the values are found first, where there are at least three times as many; of
more than the last of these, the whole then takes the values one step further."""
WHOLE_PASSES = 2
FAR = 0.5
"""Widths of its prior: a value that the whole takes further than that from the sample's is no
longer within a step's reach, and the whole is weighed once more."""
ROUGHLY = 1.0
"""Gain of log posterior at which the values of a sample are near enough."""
HERE = 200
"""Patterns that are not worth other processes."""
SAID = 5  # faults that are said one by one


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked for.  ``day``: the day of dossiers that give none; ``without``: the pack that
    is being made, which has no say in its own making.
    """

    inputs: tuple[Path, ...]
    work: Path
    packs: tuple[str, ...]
    search: tuple[Path, ...]
    without: str
    day: date
    workers: int


@dataclass(frozen=True, slots=True)
class Taught:
    """What came of it."""

    course: Course
    estimate: Estimate
    serials: dict[str, tuple[Knot, ...]]
    dossiers: int
    patterns: int
    days: tuple[date, date]
    faults: int
    passes: int


def learn(asked: Asked) -> Taught:
    """Everything from the files to the values; raises CommandError."""
    from ..batch.errors import BatchError
    from ..batch.pool import PoolError, WorkFailed

    asked.work.mkdir(parents=True, exist_ok=True)
    try:
        store = Store(asked.work)
    except BatchError as error:
        raise CommandError(str(error)) from None
    try:
        return _learn(asked, store)
    except WorkFailed as error:
        raise CommandError(internal_error(error)) from None
    except (BatchError, PoolError) as error:
        raise CommandError(f"{error}{_kept(asked, store)}") from None
    except KeyboardInterrupt:
        goes_on = ", the same command goes on from there" if store.counts()[0] else ""
        raise CommandError(f"stopped{_kept(asked, store)}{goes_on}") from None
    finally:
        if store.counts()[0]:
            store.close()
        else:
            store.remove()


def _kept(asked: Asked, store: Store) -> str:
    return f"; what is done is kept in {asked.work}" if store.counts()[0] else ""


def _learn(asked: Asked, store: Store) -> Taught:
    from ..learning.records.fit import climb, estimate, evaluable, one_round

    packs = Packs(asked.search, asked.packs, asked.without)
    store.begin(_settings(asked, packs))
    _read(asked, packs, store)
    dossiers, patterns = store.counts()
    if not dossiers:
        raise CommandError(f"no dossier with a mark in {', '.join(map(str, asked.inputs))}")
    sets = tuple(store.packs())
    days = store.days()
    first, last = date.fromisoformat(days[0]), date.fromisoformat(days[1])
    course = course_of(packs, sets, last)
    odd = course.disagreement()
    if odd is not None:
        raise CommandError(
            f"the dossiers' packs differ in {odd}: learn from them apart, a folder for each"
        )
    space = course.space
    with bars() as bar:
        work = _Work(asked, packs, store, sets, (first, last), course, bar)
        found, passes = None, 0
        samples = [n for n in SAMPLES if patterns >= 3 * n]
        for n in samples:
            start = None if found is None else found.theta
            found = climb(space, lambda t, n=n: work.sums(t, n, False), start, enough=ROUGHLY)
            passes += found.rounds
        if found is None or len(samples) < len(SAMPLES):
            start = None if found is None else found.theta
            found = climb(space, lambda t: work.sums(t, None, True), start)
            passes += found.rounds
            work.sums(found.last.theta, None, True)  # kept: the curves are made from this pass
        else:
            for _ in range(WHOLE_PASSES):
                theta = evaluable(space, found.theta)
                whole = one_round(space, lambda t: work.sums(t, None, True), theta)
                passes += 1
                found = estimate(space, whole, passes)
                if space.far(found.theta - theta) < FAR:
                    break
                tell("the whole says other things than the sample: once more")
        curves = _curves(work, course, asked)
    faults, said = store.faults(SAID)
    for sentence in said:
        tell(sentence)
    return Taught(course, found, curves, dossiers, patterns, (first, last), faults, passes)


def _settings(asked: Asked, packs: Packs) -> dict[str, Any]:
    """What everything kept depends on."""
    return {
        "code": code_mark(*WEIGHING, "learning/records"),
        "files": _files(asked.inputs),
        "packs": list(asked.packs),
        "search": [str(p.resolve()) for p in asked.search],
        "without": asked.without,
        "day": asked.day.isoformat(),
        "always": [stamp.sha256 for stamp in packs.reference(()).packs],
    }


def _files(inputs: Sequence[Path]) -> str:
    """One hash over what the inputs are: with other dossiers everything is read anew."""
    from ..batch.folders import dossier_files

    mark = hashlib.sha256()
    for path in inputs:
        if path.exists():
            for file in dossier_files(path) if path.is_dir() else (path,):
                known = file.stat()
                mark.update(f"{file}\0{known.st_size}\0{known.st_mtime_ns}\n".encode())
    return mark.hexdigest()


def _read(asked: Asked, packs: Packs, store: Store) -> None:
    """Read every dossier that has not been read, and count the patterns."""
    from ..batch.inputs import open_inputs
    from ..batch.items import digest
    from ..batch.pool import run_chunks

    inputs = open_inputs(asked.inputs, lambda text: False)
    if inputs.tables:
        raise CommandError(f"{next(iter(inputs.tables))}: learn takes folders and archives")
    total = inputs.look()
    held: dict[bytes, int] = {}
    with bars() as bar:
        task = bar.add_task("reading", total=total if inputs.counted else None)

        def chunks() -> Iterator[tuple[bytes, list[Item]]]:
            for several in _several(inputs.items(asked.work), READ):
                key = hashlib.blake2b(b"".join(map(digest, several)), digest_size=16).digest()
                if store.was_read(key):
                    bar.advance(task, len(several))
                else:
                    held[key] = len(several)
                    yield key, several

        crew = asked.workers
        if inputs.counted:
            crew = 0 if total <= READ else min(crew, -(-total // READ))
        for key, (found, faults) in run_chunks(Reader, chunks(), crew, (packs, asked.day)):
            store.keep_read(key, found, faults)
            bar.advance(task, held.pop(key))


def _several(items: Iterable[Any], size: int) -> Iterator[list[Any]]:
    out: list[Any] = []
    for item in items:
        out.append(item)
        if len(out) == size:
            yield out
            out = []
    if out:
        yield out


class _Work:
    """Passes over what is kept: a chunk weighed once at the same values is not weighed again."""

    def __init__(
        self,
        asked: Asked,
        packs: Packs,
        store: Store,
        sets: tuple[tuple[str, ...], ...],
        days: tuple[date, date],
        course: Course,
        bar: Progress,
    ) -> None:
        self.asked, self.store, self.bar = asked, store, bar
        self.initial = (packs, sets, days)
        self.families = course.space.families()
        self.size = course.space.size
        self.rounds = 0
        self._of: int | None = 0
        self.keys: list[bytes] = []
        self._own: Weigher | None = None

    def sums(self, theta: Array, first: int | None, serials: bool) -> Sums:
        """The sums over the ``first`` patterns or all, in an order that never changes."""
        from ..batch.pool import run_chunks
        from ..learning.records.sums import from_bytes, total

        patterns = self.store.counts()[1]
        n = patterns if first is None else min(first, patterns)
        if first != self._of:
            self._of, self.rounds = first, 0
        self.rounds += 1
        words = f"{'all' if first is None else 'a sample'}, round {self.rounds}"
        task = self.bar.add_task(words, total=n)
        self.keys = []
        held: dict[bytes, int] = {}

        def chunks() -> Iterator[tuple[bytes, Task]]:
            for rows in self.store.chunks(WEIGHED, first):
                key = _key(theta, rows, serials)
                self.keys.append(key)
                if self.store.sums(key) is not None:
                    self.bar.advance(task, len(rows))
                else:
                    held[key] = len(rows)
                    yield key, Task(theta.tobytes(), tuple(rows), serials)

        crew = 0 if n <= HERE else min(self.asked.workers, -(-n // WEIGHED))
        results = (
            run_chunks(Weigher, chunks(), crew, self.initial)
            if crew
            else run_chunks(self._here, chunks(), 0)
        )
        for key, (value, numbers) in results:
            self.store.keep_sums(key, value, numbers)
            self.bar.advance(task, held.pop(key))
        self.bar.update(task, visible=False)
        found = self.store.all_sums(self.keys)
        return total((from_bytes(value, self.families) for value, _ in found), self.size)

    def _here(self) -> Weigher:
        """This process's own, made once."""
        if self._own is None:
            self._own = Weigher(*self.initial)
        return self._own

    def serials(self) -> Iterator[SerialRecord]:
        """The serial numbers of the last pass."""
        for _, numbers in self.store.all_sums(self.keys):
            yield from serials_from(numbers)


def _key(theta: Array, rows: Sequence[Kept], serials: bool) -> bytes:
    mark = hashlib.blake2b(digest_size=16)
    mark.update(theta.tobytes())
    mark.update(json.dumps([serials, [(r.digest.hex(), r.times) for r in rows]]).encode())
    return mark.digest()


def _curves(work: _Work, course: Course, asked: Asked) -> dict[str, tuple[Knot, ...]]:
    """The curves of every range of serial numbers that any pack has."""
    from ..learning.records.serial import curve

    records = list(work.serials())
    out: dict[str, tuple[Knot, ...]] = {}
    for subjects in course.subjects.values():
        for row in subjects.reference.tables.serials:
            if row.id not in out:
                a = subjects.assume
                knots = curve(row, records, a["serial.leak"], a["learn.serial.weeks"])
                if knots:
                    out[row.id] = knots
    return out
