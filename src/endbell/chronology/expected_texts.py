"""Expected digits of week codes: what was struck, where a worn character is seen as something."""

from __future__ import annotations

import numpy as np

from ..dossier.types import Mark
from ..marks import MarkReading, Split, Vector
from .factors import PartEvidence, dates_part
from .plan import Cells
from .setting import Setting
from .texts import week_code_kernel
from .time import MARGIN, Array, IntArray
from .workspace import Same

DigitCounts = dict[str, Array]
"""By legibility, (10, 10): the digit struck, the digit seen."""

LEAST = 1e-8


def counts_digits(e: PartEvidence, setting: Setting) -> bool:
    """Whether a part bears a week code with a character that may be another one."""
    return any(_columns(mark, reading, e, setting) for mark, reading in e.read)


def count_digits(
    into: DigitCounts,
    e: PartEvidence,
    source: Cells | None,
    made: Array,
    source_digits: Array | None,
    setting: Setting,
) -> None:
    """Add the digits of the week codes on a part.

    ``source``: the source characters of the account; ``made``: expected parts by week of making,
    (size,); ``source_digits``: their source digits by place, (length, 10).
    """
    at = np.flatnonzero(made > LEAST)
    for mark, reading in e.read:
        columns = _columns(mark, reading, e, setting)
        if not columns:
            continue
        table = into.setdefault(mark.legibility, np.zeros((10, 10)))
        splits = [s for s in reading.splits if _same(s, source)]
        if source_digits is not None and splits:
            for place, vector in enumerate(splits[0].source):
                if vector in columns:
                    table[:, columns[vector]] += source_digits[place]
        _count_dates(table, splits, columns, at, made[at], setting)


def _same(split: Split, source: Cells | None) -> bool:
    if not split.source or source is None:
        return True
    return split.source == source or len(split.source) == len(source)


def _columns(
    mark: Mark, reading: MarkReading, e: PartEvidence, setting: Setting
) -> dict[Vector, int]:
    """The characters seen, by P(seen | digit), where there are such in the code."""
    if mark.legibility == "clear" or reading.dating != "week-code":
        return {}
    if not dates_part(mark, reading, e.part, setting):
        return {}
    confusion = setting.reference.tables.digits.get(mark.legibility)
    if confusion is None:
        return {}
    every = setting.workspace.get(
        ("columns", Same(confusion)),
        lambda: {tuple(row[c] for row in confusion.rows): c for c in range(10)},
    )
    vectors = {v for s in reading.splits for v in (*s.source, *s.year, *s.week)}
    return {v: every[v] for v in vectors if v in every}


def _count_dates(
    table: Array,
    splits: list[Split],
    columns: dict[Vector, int],
    at: IntArray,
    made: Array,
    setting: Setting,
) -> None:
    """Digits of year and week: every code that a part made in these weeks can bear."""
    years, weeks = setting.grid.padded_codes
    kappa = setting.assume["week_code.week_53_of_52"]
    found: list[tuple[Split, Array, Places]] = []
    total = np.zeros(at.size)
    for d, p in zip((-1, 0, 1), week_code_kernel(setting.assume), strict=True):
        v = at + MARGIN + d
        carried = (weeks[v] == 1) & (weeks[v - 1] == 52)
        ways = [(np.where(carried, 1.0 - kappa, 1.0), years[v], weeks[v])]
        if carried.any():
            ways.append((np.where(carried, kappa, 0.0), years[v] - 1, np.full(v.shape, 53)))
        for share, year, week in ways:
            for split in splits:
                places = _places(split, year, week)
                fit = split.weight * p * share
                for vector, digit in places:
                    fit = fit * np.asarray(vector)[digit]
                total += fit
                found.append((split, fit, places))
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = np.where(total > 0, made / total, 0.0)
    for _, fit, places in found:
        number = fit * scale
        for vector, digit in places:
            if vector in columns:
                table[:, columns[vector]] += np.bincount(digit, number, minlength=10)


Places = list[tuple[Vector, IntArray]]


def _places(split: Split, year: IntArray, week: IntArray) -> Places:
    """Every character of year and week with the digit it stands for."""
    out: Places = []
    for number, vectors in ((year, split.year), (week, split.week)):
        for i, vector in enumerate(vectors):
            out.append((vector, number // 10 ** (len(vectors) - 1 - i) % 10))
    return out
