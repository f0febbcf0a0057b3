"""Check one pack, wherever it lies: every row that would be left out, with its place."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from .combine import find_pack, load_packs, merge
from .errors import PackNotFound, PackProblem, PackUnreadable
from .files import HEAD
from .load import load_pack


def check_pack(folder: Path, search: Sequence[Path] = ()) -> tuple[PackProblem, ...]:
    """Every problem of the pack in ``folder``; empty if all of it can be used.

    Packs that it builds on are looked for beside it, in ``search``, and among those shipped.
    A file that can't be parsed is one problem here; it does not raise.
    """
    folder = folder.resolve()
    try:
        pack = load_pack(folder, strict=True)
        below = load_packs(pack.raw.builds_on, (folder.parent, *search))
        others = tuple(other for other in below if other.raw.path.resolve() != folder)
        _, problems = merge((*others, pack))
    except PackUnreadable as error:
        where = (error.file, "", None, error.line)
        return (PackProblem(folder.name, *where, error.found, error.accepted),)
    except PackNotFound as error:
        file = str(folder / HEAD)
        accepted = f"one of the packs {', '.join(error.known)}"
        found = f"builds_on '{error.pack}'"
        return (PackProblem(folder.name, file, "", None, None, found, accepted),)
    inside = str(folder)
    return tuple(problem for problem in problems if problem.file.startswith(inside))


def check_named(pack_id: str, search: Sequence[Path] = ()) -> tuple[PackProblem, ...]:
    """As :func:`check_pack`, for a pack by its id. Raises PackNotFound."""
    return check_pack(find_pack(pack_id, search), search)
