"""What was replaced at the bench, the bags of removed parts, and the service record of it all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..bench.result import SheetResult
from ..bench.service import (
    Handover,
    Replacement,
    ServiceRecord,
    handover_of,
    next_bag,
    replacements,
    service_record,
)
from ..store import DossierState
from ..store.bench import BenchRow


@dataclass(frozen=True, slots=True)
class RepairsShown:
    """What the page shows of repairs.

    ``replaced`` and ``handovers``: each with the row as recorded; ``in_hand``: bags that are still
    at the shop; ``bag``: the number of the next one; ``titles``: of parts, by id.
    """

    replaced: tuple[tuple[BenchRow, Replacement], ...]
    handovers: tuple[tuple[BenchRow, Handover], ...]
    in_hand: tuple[Replacement, ...]
    bag: str
    titles: Mapping[str, str]


def repairs_shown(state: DossierState, titles: Mapping[str, str]) -> RepairsShown:
    """The repairs of a dossier as the bench shows them."""
    handed = state.bench.standing("handovers")
    handovers = tuple(handover_of(row.row) for row in handed)
    rows = [row for row in state.bench.standing("replaced") if row.row.get("part")]
    told = replacements((row.row for row in rows), handovers, titles)
    return RepairsShown(
        replaced=tuple(zip(rows, told, strict=True)),
        handovers=tuple(zip(handed, handovers, strict=True)),
        in_hand=tuple(one for one in told if one.kept and one.bag and not one.to),
        # a number is not given twice, even where its bag was withdrawn
        bag=next_bag(row.row for row in state.bench.replaced),
        titles=titles,
    )


def record_of(
    state: DossierState, result: SheetResult, title: str, titles: Mapping[str, str]
) -> ServiceRecord:
    """The service record of a dossier."""
    owner = state.intake.get("whose")
    return service_record(
        result,
        [row.row for row in state.bench.standing("replaced")],
        [row.row for row in state.bench.standing("handovers")],
        title=title,
        titles=titles,
        owner=owner if isinstance(owner, str) else "",
    )
