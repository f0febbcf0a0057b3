"""All packs in force, found, loaded and merged into the one :class:`Reference`.

'standards' and 'common-practice' always apply and come first; then the packs asked for, each after
the packs it builds on. A later pack's rows replace earlier rows of the same key.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from .assemble import reference_from
from .errors import PackNotFound, PackProblem, PackUnreadable
from .files import HEAD, read_head
from .load import Pack, Row, load_pack
from .tables import ROWS_OF, TABLES, Table
from .types import ConditionWord, Reference

SHIPPED = Path(__file__).parent / "packs"
ALWAYS = ("standards", "common-practice")


@dataclass(frozen=True, slots=True)
class PackInfo:
    """A pack that could be put in force."""

    id: str
    version: str
    title: str
    path: Path
    shipped: bool


def load_reference(
    pack_ids: Sequence[str], search: Sequence[Path] = ()
) -> tuple[Reference, tuple[PackProblem, ...]]:
    """The merged reference of ``pack_ids``, and every row that was left out.

    ``search``: folders that hold a shop's own packs (or are one); they are looked through before
    the packs that are shipped. Raises PackNotFound, PackUnreadable.
    """
    return merge(load_packs(pack_ids, search))


def load_packs(pack_ids: Sequence[str], search: Sequence[Path] = ()) -> tuple[Pack, ...]:
    """The packs that always apply and ``pack_ids``, each after those it builds on, not merged."""
    packs: dict[str, Pack] = {}
    for pack_id in (*ALWAYS, *pack_ids):
        _load_with_foundations(pack_id, search, packs, ())
    return tuple(packs.values())


def merge(packs: Sequence[Pack]) -> tuple[Reference, tuple[PackProblem, ...]]:
    """The packs merged in order: later rows replace earlier ones of the same key."""
    problems = [problem for pack in packs for problem in pack.problems]
    rows = _drop_loose_ends(_drop_overfull(_latest(packs), problems), problems)
    return reference_from(packs, rows), tuple(problems)


def available_packs(search: Sequence[Path] = ()) -> tuple[PackInfo, ...]:
    """Every pack that ``load_reference`` would find, the shop's own first, each id once."""
    found: dict[str, PackInfo] = {}
    for folder in _folders(search):
        if folder.name not in found:
            shipped = folder.parent == SHIPPED
            found[folder.name] = PackInfo(folder.name, *_head_or_reason(folder), folder, shipped)
    return tuple(found.values())


def find_pack(pack_id: str, search: Sequence[Path] = ()) -> Path:
    """The folder of a pack; PackNotFound names the packs there are."""
    folders = list(_folders(search))
    for folder in folders:
        if folder.name == pack_id:
            return folder
    raise PackNotFound(pack_id, sorted({folder.name for folder in folders}))


def _folders(search: Sequence[Path]) -> Iterable[Path]:
    for place in search:
        inside = sorted(place.iterdir()) if place.is_dir() else []
        found = [place.resolve()] if (place / HEAD).is_file() else inside
        # The two packs that always apply can be overridden row by row, but not replaced.
        yield from (f for f in found if (f / HEAD).is_file() and f.name not in ALWAYS)
    yield from sorted(inner for inner in SHIPPED.iterdir() if (inner / HEAD).is_file())


def _head_or_reason(folder: Path) -> tuple[str, str]:
    try:
        return read_head(folder)
    except PackUnreadable as error:
        return "", str(error)


def _load_with_foundations(
    pack_id: str, search: Sequence[Path], packs: dict[str, Pack], above: tuple[str, ...]
) -> None:
    if pack_id in packs:
        return
    folder = find_pack(pack_id, search)
    if pack_id in above:
        circle = " → ".join((*above, pack_id))
        accepted = "packs that do not build on each other in a circle"
        raise PackUnreadable(str(folder / HEAD), None, f"builds_on {circle}", accepted)
    pack = load_pack(folder, strict=folder.parent != SHIPPED)
    for needed in pack.raw.builds_on:
        _load_with_foundations(needed, search, packs, (*above, pack_id))
    packs[pack_id] = pack


def _latest(packs: Sequence[Pack]) -> list[Row]:
    """Rows in order, without those whose key a later pack has rows for."""
    owner: dict[tuple[str, object], int] = {}
    keyed: list[tuple[tuple[str, object], int, Row]] = []
    for n, pack in enumerate(packs):
        for row in pack.rows:
            table: Table[object] = TABLES[row.table]
            key = (row.table, table.key(row.value))
            owner[key] = n
            keyed.append((key, n, row))
    return [row for key, n, row in keyed if owner[key] == n]


def _drop_overfull(rows: list[Row], problems: list[PackProblem]) -> list[Row]:
    """Condition words of a group exclude each other: the one that lifts a sum above one falls."""
    sums: dict[str, tuple[float, float, float]] = {}
    kept: list[Row] = []
    for row in rows:
        if isinstance(row.value, ConditionWord):
            word = row.value
            a, b, c = sums.get(word.group, (0.0, 0.0, 0.0))
            total = (a + word.if_original, b + word.if_later, c + word.if_period)
            if max(total) > 1.0 + 1e-9:
                found = f"a group '{word.group}' whose words sum to {max(total):.4g}"
                problems.append(row.raw.problem(found, "at most 1 in every column"))
                continue
            sums[word.group] = total
        kept.append(row)
    return kept


def _drop_loose_ends(rows: list[Row], problems: list[PackProblem]) -> list[Row]:
    """Rows that lean on something no pack in force has are reported and left out.

    Leaving a row out can loosen others, so this is repeated until nothing more falls.
    """
    while True:
        known = _known_ids(rows)
        kept: list[Row] = []
        for row in rows:
            loose = _loose_end(row, known)
            if loose:
                problems.append(row.raw.problem(*loose))
            else:
                kept.append(row)
        if len(kept) == len(rows):
            return kept
        rows = kept


def _known_ids(rows: Iterable[Row]) -> dict[str, set[str]]:
    known: dict[str, set[str]] = {}
    for row in rows:
        table: Table[object] = TABLES[row.table]
        for kind, name in table.provides(row.value):
            known.setdefault(kind, set()).add(name)
    return known


def _loose_end(row: Row, known: dict[str, set[str]]) -> tuple[str, str] | None:
    """What the row leans on and nobody has, and what there is instead."""
    table: Table[object] = TABLES[row.table]
    for kind, name in table.refs(row.value):
        there = known.get(kind, set())
        if name not in there:
            if kind in ROWS_OF:
                return (f"{row.table} '{name}' without any {kind} row", f"at least one {kind} row")
            return f"{kind} '{name}'", _one_of(kind, there)
    return None


def _one_of(kind: str, there: Collection[str]) -> str:
    if not there or len(there) > 60:
        return f"a {kind} that a pack in force has"
    return f"one of {', '.join(sorted(there))}"
