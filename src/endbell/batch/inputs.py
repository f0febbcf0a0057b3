"""What was asked for: folders, files, archives and tables, as one stream of dossiers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from .archives import count_members, is_archive, is_zip, members
from .columns import IsPart, Understood, understand, unknown_maps
from .errors import ColumnsUnclear, InputUnreadable, NothingToWeigh
from .folders import DOSSIER, dossier_files, read_file
from .grouping import Table, dossiers_of, look_through, sample_of
from .items import Item
from .tables import is_table

ACCEPTED = "folders, .toml, .csv, .tsv, .xlsx, .zip, .tar, .tar.gz, .tar.xz"

TellRows = Callable[[Path, int], None]


@dataclass(slots=True)
class Inputs:
    """Inputs in the order given, each once.

    ``tables``: how each table is understood.  ``left``: what else lay in folders and archives, by
    the ending of its name, filled while they are read.
    """

    paths: tuple[Path, ...]
    tables: dict[Path, Understood] = field(default_factory=dict[Path, Understood])
    left: Counter[str] = field(default_factory=Counter[str])
    _looked: dict[Path, Table] = field(default_factory=dict[Path, Table])
    _counted: int = 0
    _tars: int = 0  # bytes of all of them
    _through: int = 0  # bytes of those that have been read
    _here: int = 0  # bytes read of the one in hand
    _from_tars: int = 0  # dossiers that came out so far

    def look(self, tell: TellRows = lambda path, rows: None) -> int:
        """Count the dossiers; a tar, which would have to be unpacked for it, counts nothing.

        Tables are read through once for this.  ``tell`` hears how far that has come.  Raises
        :class:`NothingToWeigh` where there can be none.
        """
        total = 0
        self._tars = 0
        for path in self.paths:
            if path in self.tables:
                table = look_through(path, self.tables[path], lambda n, path=path: tell(path, n))
                self._looked[path] = table
                total += table.dossiers
            elif path.is_dir():
                total += sum(1 for _ in dossier_files(path))
            elif is_archive(path):
                counted = count_members(path)
                self._tars += path.stat().st_size if counted is None else 0
                total += counted or 0
            else:
                total += 1
        if not total and not self._tars:
            raise NothingToWeigh(
                f"no dossiers in {', '.join(str(path) for path in self.paths)}; a dossier is a"
                f" {DOSSIER} file, or rows of a table that is named itself"
            )
        self._counted = total
        return total

    @property
    def counted(self) -> bool:
        """Whether the count was complete: no tar among the inputs."""
        return not self._tars

    def expected(self) -> int | None:
        """How many dossiers there will be in all, going by how far tars have been read."""
        if not self._tars:
            return self._counted
        read = self._through + self._here
        return self._counted + round(self._from_tars * self._tars / read) if read else None

    def items(self, scratch: Path) -> Iterator[Item]:
        """Every dossier, in order; ``scratch``: a folder for sorting tables in."""
        self.left.clear()
        self._through = self._here = self._from_tars = 0
        for path in self.paths:
            if path in self.tables:
                if path not in self._looked:
                    self._looked[path] = look_through(path, self.tables[path])
                yield from dossiers_of(self._looked[path], scratch)
            elif path.is_dir():
                yield from map(read_file, dossier_files(path, self.left))
            elif is_zip(path):
                yield from members(path, self.left)
            elif is_archive(path):
                yield from self._of_tar(path)
            else:
                yield read_file(path)

    def _of_tar(self, path: Path) -> Iterator[Item]:
        def here(place: int) -> None:
            self._here = place

        for item in members(path, self.left, here):
            self._from_tars += 1
            yield item
        self._through += path.stat().st_size
        self._here = 0


def open_inputs(
    paths: Sequence[Path], is_part: IsPart, given: Mapping[str, str] | None = None
) -> Inputs:
    """The inputs, their tables understood but not read; ``given``: what columns are, if told.

    A path named twice is read once.  Raises :class:`InputUnreadable` for one that is not there or
    that is neither folder, dossier, archive nor table, :class:`ColumnsUnclear` for a column in
    ``given`` that no table has.
    """
    once: dict[Path, Path] = {}
    for path in paths:
        once.setdefault(path.resolve(), path)
    inputs = Inputs(tuple(once.values()))
    for path in inputs.paths:
        if not path.exists():
            raise InputUnreadable(f"{path}: there is no such file or folder")
        if path.is_dir() or is_archive(path) or path.suffix.lower() == DOSSIER:
            continue
        if not is_table(path):
            raise InputUnreadable(f"{path}: accepted are {ACCEPTED}")
        inputs.tables[path] = understand(sample_of(path), is_part, given)
    lost = unknown_maps(given or {}, list(inputs.tables.values()))
    if lost:
        raise ColumnsUnclear(
            f"--map {lost[0]}: no table here has that column"
            + _columns_said([c.heading for t in inputs.tables.values() for c in t.columns])
        )
    return inputs


def _columns_said(headings: Sequence[str]) -> str:
    named = list(dict.fromkeys(heading for heading in headings if heading))
    return f"; there are {', '.join(named)}" if named else ""
