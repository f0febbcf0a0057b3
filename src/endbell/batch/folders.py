"""A folder of dossiers: every ``.toml`` in it and below, in an order that never changes."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from ..dossier.limits import MAX_BYTES
from .items import FaultItem, FileItem

DOSSIER = ".toml"


def dossier_files(folder: Path, left: Counter[str] | None = None) -> Iterator[Path]:
    """The dossier files below ``folder``, by name, files and folders of a folder together.

    A link to a folder is not followed (it may lead in a circle).  ``left`` counts what else lies
    there, by the ending of its name.
    """
    with os.scandir(folder) as found:
        names = sorted((entry.name, entry.is_dir(follow_symlinks=False)) for entry in found)
    for name, is_folder in names:
        if is_folder:
            yield from dossier_files(folder / name, left)
        elif name.lower().endswith(DOSSIER):
            yield folder / name
        elif left is not None:
            left[os.path.splitext(name)[1].lower()] += 1


def read_file(path: Path) -> FileItem | FaultItem:
    """The bytes of a dossier file; one that can't be opened is said and does not stop the rest."""
    file = str(path)
    try:
        with open(path, "rb") as stream:
            return FileItem(file, stream.read(MAX_BYTES + 1))
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        return FaultItem(file, f"{file}: can't be opened: {reason}")
