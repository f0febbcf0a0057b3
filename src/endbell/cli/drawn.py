"""The folder that ``endbell simulate`` fills: dossiers, truth.csv, what they were drawn from."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .errors import CommandError

if TYPE_CHECKING:
    from ..learning.simulation import Drawn
    from ..reference import Reference

TRUTH = "truth.csv"
HEAD = "simulation.json"
FORMAT = "endbell-simulation/1"
COLUMNS = (
    "dossier",
    "model",
    "build_week",
    "stock_age",
    "origins",
    "married",
    "claim_true",
)
_AT_ONCE = 200  # rows of truth.csv kept back, so that a dossier is always there before its row


@dataclass(frozen=True, slots=True)
class Origin:
    """What the dossiers of a folder were drawn from: enough to draw them again."""

    format: str
    endbell: str
    seed: int
    as_of: str
    packs: Sequence[str]
    sha256: Mapping[str, str]
    assume: Mapping[str, float]

    @classmethod
    def of(
        cls,
        seed: int,
        as_of: date,
        packs: Sequence[str],
        reference: Reference,
        assume: Mapping[str, float],
    ) -> Origin:
        """``assume``: the assumptions that are not the packs' own."""
        from .. import __version__

        sums = {stamp.id: stamp.sha256 for stamp in reference.packs}
        day = as_of.isoformat()
        return cls(FORMAT, __version__, seed, day, list(packs), sums, dict(sorted(assume.items())))

    def as_form(self) -> dict[str, Any]:
        """As it is written to ``simulation.json``."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class Folder:
    """A folder of drawn dossiers. ``done``: how many are complete, with their row of truth.csv."""

    path: Path
    done: int

    @classmethod
    def opened(cls, path: Path, origin: Origin) -> Folder:
        """Make the folder, or open one that was begun with the same arguments.

        Raises :class:`CommandError` for a folder with other things in it, or drawn from elsewhere.
        """
        head = path / HEAD
        if not path.is_dir() and path.exists():
            raise CommandError(f"{path} is there already and is no folder; name another")
        if head.is_file():
            _same(head, origin)
            return cls(path, _complete(path / TRUTH))
        if path.is_dir() and any(path.iterdir()):
            raise CommandError(
                f"{path} holds files that 'endbell simulate' did not write; name an empty folder"
            )
        path.mkdir(parents=True, exist_ok=True)
        head.write_text(json.dumps(origin.as_form(), indent=2) + "\n", encoding="utf-8")
        return cls(path, 0)

    @contextmanager
    def writing(self) -> Iterator[Callable[[Drawn], None]]:
        """Gives the function that writes one dossier and its row."""
        rows: list[Sequence[str]] = []
        with (self.path / TRUTH).open("a", encoding="utf-8", newline="") as truth:
            table = csv.writer(truth, lineterminator="\n")
            if truth.tell() == 0:
                table.writerow(COLUMNS)

            def settle() -> None:
                table.writerows(rows)
                truth.flush()
                rows.clear()

            def write(drawn: Drawn) -> None:
                (self.path / f"{drawn.id}.toml").write_text(
                    drawn.text, encoding="utf-8", newline="\n"
                )
                rows.append(row_of(drawn))
                if len(rows) >= _AT_ONCE:
                    settle()

            try:
                yield write
            finally:
                settle()


def row_of(drawn: Drawn) -> tuple[str, ...]:
    """One row of truth.csv."""
    truth = drawn.truth
    said = {None: "", True: "true", False: "false"}
    return (
        drawn.id,
        truth.model or "",
        truth.build,
        f"{truth.stock_age:.6g}",
        ";".join(f"{part}={origin}" for part, origin in truth.origins.items()),
        ";".join(sorted(truth.married)),
        said[truth.claim_true],
    )


def _same(head: Path, origin: Origin) -> None:
    try:
        found = json.loads(head.read_text(encoding="utf-8"))
    except ValueError:
        raise CommandError(f"{head} can't be read; name another folder") from None
    wanted = json.loads(json.dumps(origin.as_form()))
    other = [key for key in wanted if not isinstance(found, dict) or found.get(key) != wanted[key]]
    if other:
        raise CommandError(
            f"{head.parent} was begun with another {', '.join(other)}; name another folder"
        )


def _complete(truth: Path) -> int:
    """Count the rows of truth.csv, and cut off one that was left half written."""
    if not truth.is_file():
        return 0
    text = truth.read_bytes()
    whole = text[: text.rfind(b"\n") + 1]
    if whole != text:
        truth.write_bytes(whole)
    rows = list(csv.reader(io.StringIO(whole.decode("utf-8"))))
    if rows and tuple(rows[0]) != COLUMNS:
        raise CommandError(f"{truth} has other columns; name another folder")
    return max(len(rows) - 1, 0)
