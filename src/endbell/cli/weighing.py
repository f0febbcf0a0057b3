"""Dossiers opened and weighed, one after the other, whatever becomes of the others."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from .assume import assumed
from .errors import CommandError, internal_error
from .say import bars, problem_line, tell
from .shelf import Shelf

if TYPE_CHECKING:
    from ..chronology import Verdict
    from ..dossier import Dossier
    from ..reference import Reference


@dataclass(frozen=True, slots=True)
class Weighed:
    """One dossier and its verdict; or ``error``, the sentence why there is none."""

    file: str
    dossier: Dossier | None = None
    reference: Reference | None = None
    verdict: Verdict | None = None
    error: str | None = None


def weigh_file(
    file: Path,
    shelf: Shelf,
    assume: Sequence[str] | None,
    today: date,
    models: Sequence[str] | None = None,
) -> Weighed:
    """Open and weigh one dossier; a file that can't be read comes back as its error."""
    from ..dossier import DossierError, load_dossier

    try:
        dossier = load_dossier(file, shelf.reference, today=today)
    except DossierError as error:
        return Weighed(str(file), error=str(error))
    return weigh_dossier(dossier, shelf, assume, models)


def say_remarks(weighed: Weighed) -> None:
    """What is to be said about the file, though it costs nothing, on standard error."""
    for remark in weighed.dossier.remarks if weighed.dossier is not None else ():
        tell(f"remark: {problem_line(remark)}")


def weigh_dossier(
    dossier: Dossier,
    shelf: Shelf,
    assume: Sequence[str] | None,
    models: Sequence[str] | None = None,
) -> Weighed:
    """Weigh a dossier with the packs it names."""
    from ..chronology import weigh

    reference = shelf.reference(dossier.packs)
    chosen = tuple(models) if models is not None else None
    verdict = weigh(dossier, reference, assumed(assume, reference), models=chosen)
    return Weighed(dossier.file, dossier, reference, verdict)


def weigh_files(
    files: Sequence[Path], shelf: Shelf, assume: Sequence[str] | None, today: date
) -> list[Weighed]:
    """Weigh every file in the order given, with a bar on standard error where there are several."""
    out: list[Weighed] = []
    with progress(len(files), "weighing") as step:
        for file in files:
            out.append(_weigh_whatever_comes(file, shelf, assume, today))
            step()
    return out


def _weigh_whatever_comes(
    file: Path, shelf: Shelf, assume: Sequence[str] | None, today: date
) -> Weighed:
    """One file of several: not even a fault of Endbell's own stops the others."""
    try:
        return weigh_file(file, shelf, assume, today)
    except CommandError:  # an option that is wrong for all of them
        raise
    except Exception as error:
        return Weighed(str(file), error=f"{file}: {internal_error(error)}")


@contextmanager
def progress(total: int, words: str) -> Iterator[Callable[[], None]]:
    """A bar on standard error for two things or more; gives the function that moves it on."""
    if total < 2:
        yield lambda: None
        return
    with bars() as bar:
        task = bar.add_task(words, total=total)
        yield lambda: bar.advance(task)
