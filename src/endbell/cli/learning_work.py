"""What the workers of a learning run do: read dossiers, weigh patterns at some values."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from .records_kept import Found, Kept

if TYPE_CHECKING:
    from ..batch.items import Item
    from ..dossier.types import Dossier
    from ..learning.records.passing import Course, Passes
    from ..learning.records.serial import SerialRecord
    from ..learning.records.subjects import Subjects
    from ..reference import Reference


class Packs:
    """The packs that dossiers name but for the one being made, and what is put in force besides."""

    def __init__(self, search: tuple[Path, ...], extra: tuple[str, ...], without: str) -> None:
        from ..batch import packs

        self._extra, self._without = extra, without
        self._merged = packs.Packs(packs.Settings(search=tuple(str(path) for path in search)))

    def names(self, named: Sequence[str]) -> tuple[str, ...]:
        several = dict.fromkeys((*named, *self._extra))
        return tuple(p for p in several if p != self._without)

    def reference(self, named: Sequence[str]) -> Reference:
        """Raises ``PackError``, the same each time."""
        return self._merged.reference(self.names(named))

    def dossier(self, data: bytes, file: str, day: date) -> Dossier:
        """Raises ``DossierError``."""
        from ..dossier import parse_dossier
        from ..dossier.text import decode

        found = parse_dossier(decode(data, file), self.reference, today=day, file=file)
        return replace(found, packs=self.names(found.packs))


class Reader:
    """Reads dossiers in a worker."""

    def __init__(self, packs: Packs, day: date) -> None:
        self._packs, self._day = packs, day

    def __call__(self, items: Sequence[Item]) -> tuple[list[Found], list[str]]:
        from ..batch.items import FileItem
        from ..dossier import DossierError
        from ..learning.records.patterns import pattern

        found: list[Found] = []
        faults: list[str] = []
        for item in items:
            if not isinstance(item, FileItem):
                faults.append(getattr(item, "sentence", str(item)))
                continue
            try:
                d = self._packs.dossier(item.data, item.file, self._day)
            except DossierError as error:
                faults.append(str(error))
                continue
            if d.marks:
                day, made = d.as_of.isoformat(), str(d.made)
                found.append(Found(pattern(d), d.packs, day, made, item.data))
        return found, faults


@dataclass(frozen=True, slots=True)
class Task:
    """Patterns to be weighed at some values."""

    theta: bytes
    rows: tuple[Kept, ...]
    serials: bool


class Weigher:
    """Weighs patterns in a worker; what depends on the values is made once for each of them."""

    def __init__(self, packs: Packs, sets: tuple[tuple[str, ...], ...], days: tuple[date, date]):
        self._packs, self._day = packs, days[1]
        self._course = course_of(packs, sets, days[1])
        self._families = self._course.space.families()
        self._theta = b""
        self._passes: Passes | None = None

    def __call__(self, task: Task) -> tuple[bytes, bytes]:
        import numpy as np

        from ..learning.records.passing import Passes, Record
        from ..learning.records.sums import as_bytes

        if self._passes is None or task.theta != self._theta:
            self._theta = task.theta
            self._passes = Passes(self._course, np.frombuffer(task.theta))
        records = [
            Record(self._packs.dossier(row.text, "", self._day), row.times) for row in task.rows
        ]
        sums = self._passes.sums(records, serials=task.serials)
        return as_bytes(sums, self._families), serial_bytes(self._passes.serials())


def course_of(packs: Packs, sets: Iterable[tuple[str, ...]], last: date) -> Course:
    """What the sets of packs leave to be learned."""
    from ..chronology import assumptions_in_force
    from ..learning.records.passing import Course
    from ..learning.records.subjects import subjects_of

    found: dict[tuple[str, ...], Subjects] = {}
    for names in sets:
        reference = packs.reference(names)
        found[names] = subjects_of(reference, assumptions_in_force(reference, {}), last)
    return Course(found)


def serial_bytes(records: Sequence[SerialRecord]) -> bytes:
    """Serial numbers as one npz."""
    import numpy as np

    file = io.BytesIO()
    np.savez(
        file,
        ids=np.array([r.range_id for r in records], dtype=np.str_),
        numbers=np.array([(r.number, r.times) for r in records], dtype=np.int64).reshape(-1, 2),
        p=np.array([r.p for r in records], dtype=np.float32),
    )
    return file.getvalue()


def serials_from(data: bytes) -> list[SerialRecord]:
    """Back again."""
    import numpy as np

    from ..learning.records.serial import SerialRecord

    with np.load(io.BytesIO(data), allow_pickle=False) as kept:
        rows = zip(kept["ids"].tolist(), kept["numbers"].tolist(), kept["p"], strict=True)
        return [SerialRecord(i, n, p.astype(np.float64), t) for i, (n, t), p in rows]
