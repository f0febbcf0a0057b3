"""A pack's files checked before they are recorded, in a folder that is gone afterwards."""

from __future__ import annotations

import difflib
import re
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ..reference import PackProblem, check_pack
from ..reference.files import HEAD

_SAID = re.compile(r"'([^']*)'")
_AT_THE_END = "at end of document"


@dataclass(frozen=True, slots=True)
class Trouble:
    """One thing in a pack that can't be used: where, what was found, what would be, the nearest.

    ``file``: its name in the pack; ``row``: the row of its table, from 1.
    """

    file: str
    line: int | None
    table: str
    row: int | None
    found: str
    accepted: str
    nearest: str = ""


@dataclass(frozen=True, slots=True)
class Checked:
    """What a check has found.  ``readable``: the pack can be loaded, without the rows at fault."""

    troubles: tuple[Trouble, ...]
    readable: bool

    def of(self, file: str) -> tuple[Trouble, ...]:
        """The troubles of one file."""
        return tuple(t for t in self.troubles if t.file == file)


def check_files(
    pack: str, files: Mapping[str, str], search: Sequence[Path] = (), others: Sequence[str] = ()
) -> Checked:
    """What is wrong with a pack of these ``files``.

    ``search``: folders of the packs that it may build on; ``others``: ids that may be named there,
    for offering the nearest.  Nothing of it is kept.
    """
    with tempfile.TemporaryDirectory(prefix="endbell-pack-") as place:
        folder = Path(place).resolve() / pack
        write_files(folder, files)
        found = check_pack(folder, search)
        troubles = tuple(_trouble(problem, folder, files, others) for problem in found)
        # a trouble of no table is one of a whole file or of the head: nothing can be loaded
        return Checked(troubles, readable=all(problem.table for problem in found))


def write_files(folder: Path, files: Mapping[str, str]) -> None:
    """Lay ``files`` into ``folder``, which is made; line ends stay as they are."""
    folder.mkdir(parents=True)
    for name, content in files.items():
        (folder / name).write_bytes(content.encode("utf-8"))


def _trouble(
    problem: PackProblem, folder: Path, files: Mapping[str, str], others: Sequence[str]
) -> Trouble:
    place = str(folder)
    found, accepted = (
        text.replace(f"{place}/", "").replace(place, folder.name)
        for text in (problem.found, problem.accepted)
    )
    file = Path(problem.file).name if problem.file != place else HEAD
    line = problem.line
    if line is None and _AT_THE_END in found:
        line = len(files.get(file, "").splitlines()) or None
    nearest = nearest_of(found, accepted, others)
    return Trouble(file, line, problem.table, problem.number, found, accepted, nearest)


def nearest_of(found: str, accepted: str, others: Sequence[str] = ()) -> str:
    """The one accepted word that is nearest to what was found; empty where none is near.

    >>> nearest_of("class 'potentiomter'", "one of choke, potentiometer")
    'potentiometer'
    """
    said = _SAID.search(found)
    if said is None:
        return ""
    words = re.split(r", | or ", accepted.partition("one of ")[2] or accepted)
    offered = [word.split()[-1].strip("'\"") for word in words if word.strip()]
    near = difflib.get_close_matches(said[1], [*offered, *others], n=1, cutoff=0.6)
    return near[0] if near and near[0] != said[1] else ""
