"""The stream of dossiers cut into chunks, at places that depend on the dossiers alone.

A chunk ends after a dossier whose digest says so.  When a dossier is added, taken away or changed,
only the chunk it lies in is another one; the others are found again in the journal.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from hashlib import blake2b

from .items import Item, RowsItem, digest

LARGEST = 256  # dossiers in a chunk, on average: a second or less of work
SMALLEST = 4
SHARE = 8  # chunks a worker should have, where there are few dossiers
MAX_BYTES = 8 * 2**20  # of dossiers in a chunk


@dataclass(frozen=True, slots=True)
class Chunk:
    """Dossiers that are weighed together; ``content``: what they say, 16 bytes as hex."""

    content: str
    items: tuple[Item, ...]


def size_for(dossiers: int | None, workers: int) -> int:
    """The average size of a chunk, a power of two: every core gets some, none waits for long."""
    size = LARGEST
    while dossiers is not None and size > SMALLEST and size * SHARE * max(workers, 1) > dossiers:
        size //= 2
    return size


def cut(items: Iterable[Item], size: int) -> Iterator[Chunk]:
    """Chunks of ``size`` / 2 to 2 ``size`` dossiers, ``size`` on average."""
    least, most = size // 2, 2 * size
    held: list[Item] = []
    bulk = 0
    whole = blake2b(digest_size=16)
    for item in items:
        own = digest(item)
        held.append(item)
        whole.update(own)
        bulk += _bytes(item)
        ends = len(held) >= least and own[0] % max(size - least, 1) == 0
        if ends or len(held) >= most or bulk >= MAX_BYTES:
            yield Chunk(whole.hexdigest(), tuple(held))
            held, bulk, whole = [], 0, blake2b(digest_size=16)
    if held:
        yield Chunk(whole.hexdigest(), tuple(held))


def _bytes(item: Item) -> int:
    if isinstance(item, RowsItem):
        return sum(len(cell) + 8 for _, cells in item.rows for cell in cells)
    return len(getattr(item, "data", b""))
