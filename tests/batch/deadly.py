"""A weigher that a dossier kills; apart from the pool's own work, which needs no arrays."""

from __future__ import annotations

from collections.abc import Sequence

from endbell.batch.items import Item
from endbell.batch.weigher import Weighed, Weigher

from .works import die


class DeadlyWeigher(Weigher):
    """Weighs dossiers, and is killed by one."""

    def __call__(self, chunk: Sequence[Item]) -> Weighed:
        if any(getattr(item, "file", "") == "deadly.toml" for item in chunk):
            die()
        return super().__call__(chunk)
