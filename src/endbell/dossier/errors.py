"""Why a dossier could not be opened at all.  A bad row never raises: it becomes a ``Problem``.

DossierError                    one sentence: the file, the place, what was found, what is accepted
├── UnreadableFile              missing, a folder, too large, not UTF-8
├── NotToml                     no TOML, or TOML nested too deeply
├── UnknownFormat               another kind of file, or a form newer than this Endbell
├── TwoPartsOneId               a second ``[[part]]`` with the same id
└── OutOfBounds                 more marks than one amp can bear, a day outside the grid
"""

from __future__ import annotations


class DossierError(Exception):
    """A dossier that can't be opened.  ``str()`` is one sentence that names file and place."""

    def __init__(self, file: str, sentence: str, *, line: int | None = None) -> None:
        self.file = file
        self.line = line
        self.sentence = sentence
        place = f"{file}, line {line}" if line else file
        super().__init__(f"{place}: {sentence}")


class UnreadableFile(DossierError):
    """The file is missing, a folder, too large, or not UTF-8."""


class NotToml(DossierError):
    """The file is no TOML."""


class UnknownFormat(DossierError):
    """``format`` names another kind of file, or a newer number."""


class TwoPartsOneId(DossierError):
    """Two ``[[part]]`` tables have the same id, so marks can't be told apart."""


class OutOfBounds(DossierError):
    """A number or a day so far out that it can't be meant."""
