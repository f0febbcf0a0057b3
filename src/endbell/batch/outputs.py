"""The results as files: one CSV and one Parquet of verdicts in input order, and the bad rows."""

from __future__ import annotations

import csv
import json
import os
from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from hashlib import blake2b
from pathlib import Path
from typing import Any, Protocol

from .verdict_row import COLUMNS, NAMES
from .weigher import unpacked

VERDICTS_CSV = "verdicts.csv"
VERDICTS_PARQUET = "verdicts.parquet"
BAD_ROWS = "bad_rows.csv"
ABOUT = "batch.json"

BAD_COLUMNS = ("file", "dossier", "header", "table", "line", "found", "accepted")
ROW_GROUP = 16_384  # rows: what is held in memory while the Parquet file is written


@dataclass(frozen=True, slots=True)
class Written:
    """What was written.  ``twice``: ids that more than one dossier has, the first few of them."""

    dossiers: int
    bad_rows: int
    parquet: bool
    twice: tuple[str, ...]
    twice_in_all: int


class _Sink(Protocol):
    def rows(self, rows: Sequence[Sequence[Any]]) -> None: ...

    def end(self) -> None: ...


def has_parquet() -> bool:
    """Whether pyarrow, which writes Parquet, is installed."""
    try:
        import pyarrow.parquet  # noqa: F401
    except ImportError:
        return False
    return True


def write_outputs(folder: Path, blocks: Iterable[bytes], about: Mapping[str, Any]) -> Written:
    """Join the chunks' rows into the output files, a row group at a time.

    Every file is written beside its place and moved there when it is whole.  Without pyarrow
    there is no Parquet file, and one that an earlier run left is taken away.
    """
    parquet = has_parquet()
    names = [VERDICTS_CSV, BAD_ROWS, *([VERDICTS_PARQUET] if parquet else [])]
    ids = array("Q")
    dossiers = bad_rows = 0
    with ExitStack() as stack:
        verdicts = _Csv(_part(folder / VERDICTS_CSV), NAMES, stack)
        bad = _Csv(_part(folder / BAD_ROWS), BAD_COLUMNS, stack)
        sinks: list[_Sink] = [verdicts]
        if parquet:
            sinks.append(_Parquet(_part(folder / VERDICTS_PARQUET), about, stack))
        for block in blocks:
            rows, listed = unpacked(block)
            for sink in sinks:
                sink.rows(rows)
            bad.rows(listed)
            ids.extend(_short(row[0]) for row in rows if row[0])
            dossiers += len(rows)
            bad_rows += len(listed)
        for sink in sinks:
            sink.end()
    for name in names:
        os.replace(_part(folder / name), folder / name)
    if not parquet:
        (folder / VERDICTS_PARQUET).unlink(missing_ok=True)
    (folder / ABOUT).write_text(
        json.dumps(about, ensure_ascii=False, indent=2) + "\n", encoding="utf-8"
    )
    twice = _twice(ids)
    return Written(dossiers, bad_rows, parquet, _named(folder, twice), len(twice))


def read_verdicts(file: Path) -> Iterator[dict[str, str]]:
    """The rows of a ``verdicts.csv``, as texts."""
    with open(file, encoding="utf-8", newline="") as stream:
        yield from csv.DictReader(stream)


def _part(file: Path) -> Path:
    return file.with_name(file.name + ".part")


class _Csv:
    def __init__(self, file: Path, head: Sequence[str], stack: ExitStack) -> None:
        stream = stack.enter_context(
            open(file, "w", encoding="utf-8", newline="", errors="replace")  # noqa: SIM115
        )
        self._writer = csv.writer(stream, lineterminator="\n")
        self._writer.writerow(head)

    def rows(self, rows: Sequence[Sequence[Any]]) -> None:
        self._writer.writerows(rows)

    def end(self) -> None:
        pass


class _Parquet:
    """A Parquet file, its rows held until they fill a row group."""

    def __init__(self, file: Path, about: Mapping[str, Any], stack: ExitStack) -> None:
        import pyarrow
        from pyarrow import parquet

        self._arrow: Any = pyarrow
        forms = {"text": pyarrow.string(), "number": pyarrow.float64(), "count": pyarrow.int64()}
        told = {"endbell": json.dumps(about, ensure_ascii=False, sort_keys=True)}
        self._schema: Any = pyarrow.schema(
            [pyarrow.field(c.name, forms[c.form], metadata={"says": c.words}) for c in COLUMNS],
            metadata=told,
        )
        self._writer: Any = stack.enter_context(
            parquet.ParquetWriter(file, self._schema, compression="zstd")
        )
        self._held: list[Sequence[Any]] = []

    def rows(self, rows: Sequence[Sequence[Any]]) -> None:
        self._held.extend(rows)
        while len(self._held) >= ROW_GROUP:
            self._write(self._held[:ROW_GROUP])
            del self._held[:ROW_GROUP]

    def end(self) -> None:
        if self._held:
            self._write(self._held)
            self._held = []

    def _write(self, rows: Sequence[Sequence[Any]]) -> None:
        arrays = [
            self._arrow.array([_clean(row[n]) for row in rows], field.type)
            for n, field in enumerate(self._schema)
        ]
        self._writer.write_table(self._arrow.table(arrays, schema=self._schema), ROW_GROUP)


def _clean(value: Any) -> Any:
    """A name of a file may hold bytes that are no text; they are shown as in the CSV."""
    if isinstance(value, str) and not value.isascii():
        return value.encode("utf-8", "replace").decode("utf-8")
    return value


# ---- ids that stand twice


def _short(name: str) -> int:
    return int.from_bytes(blake2b(name.encode("utf-8", "replace"), digest_size=8).digest())


def _twice(ids: array[int]) -> frozenset[int]:
    """Which ids, in short, stand more than once; eight bytes a dossier."""
    import numpy as np

    values = np.sort(np.frombuffer(ids, dtype=np.uint64)) if ids else np.zeros(0, np.uint64)
    return frozenset(np.unique(values[1:][values[1:] == values[:-1]]).tolist())


def _named(folder: Path, short: frozenset[int], most: int = 3) -> tuple[str, ...]:
    """The first few of them, in the order of the output."""
    found: dict[str, None] = {}
    if short:
        for row in read_verdicts(folder / VERDICTS_CSV):
            if len(found) == most:
                break
            if _short(row["dossier"]) in short:
                found[row["dossier"]] = None
    return tuple(found)
