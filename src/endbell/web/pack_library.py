"""The packs of the shop for the pages that leaf through them, each state of them read once."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from ..reference import PackError, PackInfo
from ..reference.combine import ALWAYS
from .pack_sheets import Sheet, SheetRow, rows_in_force, sheet_of
from .pack_views import class_titles
from .refusal import not_found
from .shop_packs import ShopPacks

RESERVED = frozenset({"new", "sources", "search", *ALWAYS})
"""Ids that a pack of the shop's own can't have: their addresses or places are taken."""


class Library:
    """Every pack within reach, as it is now."""

    def __init__(self, packs: ShopPacks) -> None:
        self.search = packs.now().search
        self.infos: tuple[PackInfo, ...] = packs.available()

    @property
    def ids(self) -> tuple[str, ...]:
        """The id of every pack."""
        return tuple(info.id for info in self.infos)

    @property
    def sheets(self) -> tuple[Sheet, ...]:
        """Every pack, the shop's own first."""
        return tuple(_sheet(info.id, self.search) for info in self.infos)

    def sheet(self, pack: str) -> Sheet:
        """One pack.  Refuses with 404 where there is none."""
        if pack not in self.ids:
            raise not_found("such pack")
        return _sheet(pack, self.search)

    def own(self, pack: str) -> Sheet:
        """One pack of the shop's own.  Refuses with 404."""
        sheet = self.sheet(pack)
        if sheet.shipped:
            raise not_found("such pack of the shop’s own")
        return sheet

    def own_above(self, sheet: Sheet) -> list[str]:
        """The shop's packs in which a row of ``sheet`` can be changed: itself, or those above."""
        if not sheet.shipped:
            return [sheet.id]
        own = [other for other in self.sheets if not other.shipped and not other.broken]
        return [o.id for o in own if sheet.always or sheet.id in self._below(o)]

    def _below(self, sheet: Sheet) -> set[str]:
        found: set[str] = set()
        waiting = list(sheet.builds_on)
        while waiting:
            name = waiting.pop()
            if name not in found and name in self.ids:
                found.add(name)
                waiting += self.sheet(name).builds_on
        return found

    def in_force(self, pack: str) -> tuple[SheetRow, ...]:
        """The rows that hold where ``pack`` is in force, those below with them."""
        return _in_force(pack, self.search)

    def rows(self) -> tuple[SheetRow, ...]:
        """The rows of every pack: shipped ones first, so that what the shop says comes last."""
        return _rows(self.ids, self.search)

    @property
    def model_titles(self) -> Mapping[str, str]:
        """Model -> what it is called."""
        return _model_titles(self.ids, self.search)

    def titles(self) -> dict[str, str]:
        """Titles of the classes of parts."""
        return class_titles(self.rows())


@lru_cache(maxsize=64)
def _sheet(pack: str, search: tuple[Path, ...]) -> Sheet:
    # a folder of the shop's packs is named after what it holds and never changes: see shop_packs
    return sheet_of(pack, search)


@lru_cache(maxsize=8)
def _rows(ids: tuple[str, ...], search: tuple[Path, ...]) -> tuple[SheetRow, ...]:
    sheets = sorted((_sheet(pack, search) for pack in ids), key=lambda sheet: not sheet.shipped)
    return tuple(row for sheet in sheets for row in sheet.rows)


@lru_cache(maxsize=8)
def _model_titles(ids: tuple[str, ...], search: tuple[Path, ...]) -> Mapping[str, str]:
    rows = _rows(ids, search)
    return {row.cells["id"]: row.cells["title"] for row in rows if row.table == "model"}


@lru_cache(maxsize=32)
def _in_force(pack: str, search: tuple[Path, ...]) -> tuple[SheetRow, ...]:
    try:
        return rows_in_force(pack, search)
    except PackError:
        return ()
