"""What the pages on reference packs show: features, models and sources put together from rows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from .pack_sheets import SheetRow, models_of
from .windows import Bar, window_of

MOST_FOUND = 80


@dataclass(frozen=True, slots=True)
class FeatureView:
    """A feature (or a measured quantity) with its values in the order of their windows.

    ``row``: None where a pack has values for it but not the feature itself.
    """

    id: str
    row: SheetRow | None
    bars: tuple[Bar, ...]

    @property
    def title(self) -> str:
        """What it is called."""
        return self.row.cells["title"] if self.row else self.id

    @property
    def part(self) -> str:
        """The part it is seen on."""
        return self.row.cells["part"] if self.row else ""

    @property
    def group(self) -> str:
        """Features that the maker changed together."""
        return (self.row.cells.get("group") or self.id) if self.row else self.id


@dataclass(frozen=True, slots=True)
class ModelView:
    """A model with its runs and what else names it."""

    id: str
    row: SheetRow | None
    runs: tuple[Bar, ...]
    expected: tuple[SheetRow, ...]
    serials: tuple[Bar, ...]

    @property
    def title(self) -> str:
        """What it is called."""
        return self.row.cells["title"] if self.row else self.id


@dataclass(frozen=True, slots=True)
class SourceView:
    """A source number: its name, by whom it is named, when it supplied what."""

    number: str
    names: tuple[tuple[str, SheetRow], ...]
    bars: tuple[Bar, ...]

    @property
    def name(self) -> str:
        """The name that counts; empty where nobody has named it."""
        return self.names[-1][0] if self.names else ""


def features_of(
    rows: Sequence[SheetRow], table: str = "feature", values: str = "feature_value"
) -> tuple[FeatureView, ...]:
    """The features of ``rows`` in their order, then those of which there are only values."""
    heads = {row.cells["id"]: row for row in rows if row.table == table}
    bars: dict[str, list[Bar]] = {name: [] for name in heads}
    for row in rows:
        if row.table == values:
            of = row.cells[table]
            title = heads[of].cells["title"] if of in heads else of
            bars.setdefault(of, []).extend(_bars(title, row.cells["value"], row))
    return tuple(
        FeatureView(name, heads.get(name), tuple(sorted(found, key=_when)))
        for name, found in bars.items()
    )


def quantities_of(rows: Sequence[SheetRow]) -> tuple[FeatureView, ...]:
    """The measured quantities of ``rows`` with their alternatives."""
    return features_of(rows, "quantity", "alternative")


def models_in(rows: Sequence[SheetRow]) -> tuple[ModelView, ...]:
    """The models of ``rows``, with what is meant for each."""
    heads = {row.cells["id"]: row for row in rows if row.table == "model"}
    for row in rows:
        if row.table == "run":
            heads.setdefault(row.cells["model"], None)  # pyright: ignore
    return tuple(
        ModelView(
            name,
            head,
            tuple(
                bar
                for row in rows
                if row.table == "run" and row.cells["model"] == name
                for bar in _bars("run", f"{row.cells.get('volume', '')} made", row)
            ),
            tuple(row for row in rows if row.table == "expected" and _meant(row, name, head)),
            tuple(
                bar
                for row in rows
                if row.table == "serial" and _meant(row, name, head)
                for bar in _bars("serial", _serials(row), row)
            ),
        )
        for name, head in heads.items()
    )


def supplies_of(rows: Sequence[SheetRow], titles: dict[str, str]) -> tuple[Bar, ...]:
    """Who supplied what, when, by class of part.  ``titles``: of the classes."""
    return tuple(
        bar
        for row in rows
        if row.table == "supply"
        for bar in _bars(
            titles.get(row.cells["class"], row.cells["class"]),
            f"{row.cells['number']} {row.cells['name']}",
            row,
        )
    )


def sources_of(rows: Iterable[SheetRow], titles: dict[str, str]) -> dict[str, SourceView]:
    """Every source number that ``rows`` know, in order of number.

    A name of its own (``source_number``) counts before one that stands with a supply.
    """
    listed = [row for row in rows if row.table in ("supply", "source_number")]
    numbers = sorted({row.cells["number"] for row in listed}, key=lambda n: (len(n), n))
    found: dict[str, SourceView] = {}
    for number in numbers:
        own = [row for row in listed if row.cells["number"] == number]
        own.sort(key=lambda row: row.table == "source_number")
        names = {row.cells["name"]: row for row in own}
        bars = supplies_of(own, titles)
        found[number] = SourceView(number, tuple(names.items()), bars)
    return found


def class_titles(rows: Iterable[SheetRow]) -> dict[str, str]:
    """Titles of the classes of parts, by id."""
    return {row.cells["id"]: row.cells["title"] for row in rows if row.table == "class"}


def neighbours(feature: FeatureView, among: Sequence[FeatureView]) -> tuple[FeatureView, ...]:
    """The features beside one: those that were changed with it, then those of the same part."""
    others = [f for f in among if f.id != feature.id and f.row is not None]
    together = [f for f in others if f.group == feature.group]
    same_part = [f for f in others if f.part == feature.part and f not in together]
    return (*together, *same_part)


def found_in(rows: Iterable[SheetRow], words: str, most: int = MOST_FOUND) -> list[SheetRow]:
    """The rows in which every word stands somewhere, features first; not the bare assumptions'."""
    wanted = words.casefold().split()
    if not wanted:
        return []
    hits = [row for row in rows if all(word in _text(row) for word in wanted)]
    hits.sort(key=lambda row: _FIRST.get(row.table, len(_FIRST)))
    return hits[:most]


def address_of(row: SheetRow) -> str:
    """Where a row is shown."""
    pack, cells = f"/packs/{quote(row.pack)}", row.cells
    if row.table in ("feature", "feature_value"):
        name = cells["id"] if row.table == "feature" else cells["feature"]
        return f"{pack}/features/{quote(name)}"
    if row.table in ("model", "run"):
        return f"{pack}/models/{quote(cells['id' if row.table == 'model' else 'model'])}"
    if row.table in ("supply", "source_number"):
        return f"/packs/sources/{quote(cells['number'])}"
    return f"{pack}/tables/{row.table}#{row.anchor}"


def row_says(row: SheetRow) -> str:
    """A row in one line: what it is about."""
    cells = row.cells
    name = cells.get("title") or cells.get("words") or cells.get("text") or ""
    first = next(iter(cells.values()), "")
    if row.table in ("feature_value", "alternative"):
        return f"{first}: {cells['value']}"
    if row.table in ("supply", "source_number"):
        return f"{cells['number']} {cells['name']}"
    return f"{first}: {name}" if name and name != first else first


_FIRST = {
    name: n
    for n, name in enumerate(
        ("feature", "feature_value", "model", "quantity", "source_number", "supply", "term")
    )
}


def _text(row: SheetRow) -> str:
    said = (row.table.replace("_", " "), *row.cells.values(), row.source, row.confidence, row.note)
    return " ".join(said).casefold().replace("-", " ") + " " + " ".join(said).casefold()


def _meant(row: SheetRow, model: str, head: SheetRow | None) -> bool:
    named = models_of(row)
    return model in named or (not named and head is not None and head.pack == row.pack)


def _serials(row: SheetRow) -> str:
    cells = row.cells
    prefix = cells.get("prefix", "")
    return f"{prefix}{cells['first_number']} to {prefix}{cells['last_number']}"


def _bars(of: str, label: str, row: SheetRow) -> list[Bar]:
    window = window_of(row)
    return [Bar(of, label, window, row)] if window else []


def _when(bar: Bar) -> tuple[int, int]:
    first = bar.window.first
    return (first.toordinal() if first else 0, bar.row.number)
