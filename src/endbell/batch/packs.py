"""The packs that dossiers name, merged once each, with a record of what was asked and found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ..reference import PackError, PackProblem, Reference, load_reference


@dataclass(frozen=True, slots=True)
class Settings:
    """All that a verdict depends on besides its dossier.  It pickles: workers get it whole.

    ``packs``: put in force besides those a dossier names.  ``search``: folders of packs.
    ``assume``: assumptions by name.  ``day``: ISO, used where a dossier gives none.
    """

    packs: tuple[str, ...] = ()
    search: tuple[str, ...] = ()
    assume: tuple[tuple[str, float], ...] = ()
    day: str = "2026-01-05"

    @property
    def assumed(self) -> Mapping[str, float]:
        """The assumptions as ``weigh`` takes them."""
        return dict(self.assume)


Stamps = tuple[tuple[str, str, str], ...]
"""Id, version and sha256 of the packs in force; or one ('', '', reason) where they can't be."""


MOST_HELD = 500
"""References and reasons that are held at once."""


class Packs:
    """References by the packs asked for; asking twice costs nothing, not even for a fault."""

    def __init__(self, settings: Settings) -> None:
        self._extra = settings.packs
        self._search = tuple(Path(folder) for folder in settings.search)
        self._merged: dict[tuple[str, ...], Reference | PackError] = {}
        self.problems: dict[tuple[str, ...], tuple[PackProblem, ...]] = {}
        self.asked: dict[tuple[str, ...], Stamps] = {}

    def reference(self, packs: Sequence[str]) -> Reference:
        """The reference with ``packs`` in force; raises ``PackError``, the same each time."""
        packs = tuple(packs)
        if packs not in self._merged:
            if len(self._merged) >= MOST_HELD:  # only a list made to fill the memory gets here
                self._merged.clear()
            self._merged[packs] = self._load(packs)
        found = self._merged[packs]
        if packs not in self.asked:
            self.asked[packs] = _stamps(found)
        if isinstance(found, PackError):
            raise found
        return found

    def stamps(self, packs: Sequence[str]) -> Stamps:
        """What is in force for ``packs``, or why nothing is."""
        try:
            return _stamps(self.reference(packs))
        except PackError as error:
            return _stamps(error)

    def _load(self, packs: tuple[str, ...]) -> Reference | PackError:
        wanted = tuple(dict.fromkeys((*packs, *self._extra)))
        try:
            reference, self.problems[packs] = load_reference(wanted, self._search)
        except PackError as error:
            return error
        return reference


def _stamps(found: Reference | PackError) -> Stamps:
    if isinstance(found, PackError):
        return (("", "", str(found)),)
    return tuple((stamp.id, stamp.version, stamp.sha256) for stamp in found.packs)
