"""The packs within reach of a command, each merge made once."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from .errors import CommandError
from .say import tell

if TYPE_CHECKING:
    from ..reference import PackProblem, Reference

OWN_PACKS = Path("packs")


class Shelf:
    """Gives the merged reference for a dossier's packs, and says once what is wrong with a pack.

    ``extra``: packs put in force on top of those a dossier names.
    """

    def __init__(self, pack_dirs: Sequence[Path] | None, extra: Sequence[str] = ()) -> None:
        for folder in pack_dirs or ():
            if not folder.is_dir():
                raise CommandError(f"{folder}: there is no such folder of packs")
        own = [OWN_PACKS] if OWN_PACKS.is_dir() else []
        self.search: tuple[Path, ...] = (*(pack_dirs or ()), *own)
        self.extra = tuple(extra)
        self._merged: dict[tuple[str, ...], Reference] = {}
        self._said: set[str] = set()

    def reference(self, packs: tuple[str, ...]) -> Reference:
        """The reference with ``packs`` in force; raises ``PackError``."""
        from ..reference import load_reference

        wanted = tuple(dict.fromkeys((*packs, *self.extra)))
        if wanted not in self._merged:
            self._merged[wanted], problems = load_reference(wanted, self.search)
            self._say(problems)
        return self._merged[wanted]

    def pack_with_model(self, model: str) -> tuple[str, ...]:
        """The id of the first pack that has ``model``, as a tuple; empty where none has."""
        from ..reference import PackUnreadable, available_packs, load_reference

        for info in available_packs(self.search):
            try:
                reference, _ = load_reference((info.id,), self.search)
            except PackUnreadable:
                continue
            if any(known.id == model for known in reference.models):
                return (info.id,)
        return ()

    def model_ids(self) -> tuple[str, ...]:
        """Every model that a pack within reach has, for offering the nearest."""
        from ..reference import PackUnreadable, available_packs, load_reference

        ids: list[str] = []
        for info in available_packs(self.search):
            try:
                reference, _ = load_reference((info.id,), self.search)
            except PackUnreadable:
                continue
            ids += [model.id for model in reference.models]
        return tuple(dict.fromkeys(ids))

    def _say(self, problems: Sequence[PackProblem]) -> None:
        for problem in problems:
            sentence = f"pack '{problem.pack}': {problem}"
            if sentence not in self._said:
                self._said.add(sentence)
                tell(sentence)
