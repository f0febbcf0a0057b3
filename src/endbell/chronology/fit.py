"""How each mark fits the rest: the weight of its readings after all, and how surprising it is."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..dossier.types import Mark
from ..marks import MarkReading, Split
from .backward import DateWeight, date_weights
from .evidence import part_units, without
from .factors import PartEvidence, dates_part, factor, texts_of
from .influence import without_mark
from .joint import Joint
from .observe import ASSEMBLY_KINDS, assembly_mark, scheme_weeks
from .setting import Setting
from .texts import code_likelihood, interval_likelihood, week_code_kernel
from .time import MARGIN, Array, IntArray
from .units import DatedUnit, RepairedUnit, unit_of
from .verdict import WeighedReading
from .weeks import thursday, week_label

MOST_READINGS = 12
LEAST_READING = 1e-6
TIE = 1e-6


@dataclass(frozen=True, eq=False)
class Fit:
    readings: tuple[WeighedReading, ...]
    conflict: float | None


def mid_p(mass: NDArray[np.number], seen: float) -> float:
    """P(less likely) + P(equally likely)/2 of a discrete distribution (equal: to a millionth)."""
    whole = float(mass.sum())
    if whole <= 0:
        return 1.0
    less = float(mass[mass < seen * (1 - TIE)].sum())
    tied = float(mass[(mass >= seen * (1 - TIE)) & (mass <= seen * (1 + TIE))].sum())
    return min((less + 0.5 * tied) / whole, 1.0)


class Fits:
    """Answers for the marks of one joint; date weights are worked out once a part."""

    def __init__(self, joint: Joint, evidence: Sequence[PartEvidence]) -> None:
        self.joint = joint
        self.setting: Setting = joint.setting
        self.evidence = evidence
        self._weights: dict[tuple[DatedUnit, int], tuple[DateWeight, ...]] = {}

    def of(self, mark: Mark, reading: MarkReading, log_change: float) -> Fit:
        """The fit of one mark; ``log_change``: ln evidence without it minus with it."""
        holder = next(e for e in self.evidence if e.part.id == mark.part)
        if reading.dating in ("nothing", "nothing-found"):
            return Fit((), None)
        unit = None if reading.dating == "existed" else unit_of(mark.part, self.joint.units)
        if unit is not None and dates_part(mark, reading, holder.part, self.setting):
            if isinstance(unit, RepairedUnit) or not isinstance(unit, DatedUnit):
                return Fit(self._plain(reading), None)
            return self._dated(mark, reading, holder, unit)
        if mark.kind in ASSEMBLY_KINDS and unit is not None:
            return self._assembly_mark(mark, reading, holder)
        if mark.kind == "feature" and mark.feature is not None:
            return Fit(self._plain(reading), self._feature(mark, reading, holder))
        return Fit(self._plain(reading), self._one_sided(mark, reading, holder, log_change))

    # -- marks that date their part ---------------------------------------------------------------

    def _dated(
        self, mark: Mark, reading: MarkReading, holder: PartEvidence, unit: DatedUnit
    ) -> Fit:
        key = (unit, unit.place[mark.part])  # parts that are alike share the answer
        if key not in self._weights:
            self._weights[key] = date_weights(self.joint, unit, mark.part)
        others = np.ones(self.setting.grid.size)
        for other, read in holder.read:
            if other.n != mark.n and dates_part(other, read, holder.part, self.setting):
                others = others * sum(
                    (t.made.dense for t in texts_of(other, read, self.setting)),
                    np.zeros_like(others),
                )
        weights = self._weights[key]
        alone = sum(dates_part(m, r, holder.part, self.setting) for m, r in holder.read) == 1
        if reading.dating == "week-code":
            by_source: dict[object, Array] = {w.source: w.weeks * others for w in weights}
            whole = sum((w.weeks for w in weights), np.zeros_like(others)) * others

            def base(split: Split) -> Array:
                return by_source.get(split.source or None, whole) if alone else whole

            return self._week_code(mark, reading, base)
        weeks = sum((w.weeks for w in weights), np.zeros_like(others)) * others
        return self._intervals(mark, reading, weeks, slice(0, weeks.size))

    def _week_code(self, mark: Mark, reading: MarkReading, base: Callable[[Split], Array]) -> Fit:
        grid, assume = self.setting.grid, self.setting.assume
        kappa = assume["week_code.week_53_of_52"]
        first = grid.first_after_52
        found: list[tuple[float, Split, int, bool]] = []
        tables: list[tuple[float, Split, Array, Array]] = []
        use = self.setting.in_use if mark.kind == "source-date-code" else np.ones(grid.size)
        for split in reading.splits:
            codes = self._over_codes(base(split) * use)
            own, carried = codes.copy(), np.zeros_like(codes)
            own[first] *= 1.0 - kappa
            carried[first] = kappa * codes[first]
            fit, fit_53 = code_likelihood(split, grid)
            ordinary, odd = split.weight * fit * own, split.weight * fit_53 * carried
            for values, is_53 in ((ordinary, False), (odd, True)):
                at = np.flatnonzero(values)
                best = at[np.argsort(-values[at], kind="stable")[: 2 * MOST_READINGS]]
                found.extend((float(values[i]), split, int(i), is_53) for i in best)
            tables.append((float(ordinary.sum() + odd.sum()), split, own, carried))
        whole = sum(t[0] for t in tables)
        if whole <= 0:
            return Fit(self._plain(reading), None)
        found.sort(key=lambda f: (-f[0], f[2]))
        readings = tuple(
            self._reading(mark, weight / whole, split, i - MARGIN, is_53)
            for weight, split, i, is_53 in found[:MOST_READINGS]
            if weight / whole >= LEAST_READING
        )
        _, split, own, carried = max(tables, key=lambda t: t[0])
        return Fit(readings, self._code_conflict(mark, split, own, carried))

    def _over_codes(self, weeks: Array) -> Array:
        """Weight of the code of every (padded) week: the transpose of the week-code kernel."""
        before, same, after = week_code_kernel(self.setting.assume)
        out = np.zeros(weeks.size + 2 * MARGIN)
        n = weeks.size
        out[MARGIN : MARGIN + n] += same * weeks
        out[MARGIN - 1 : MARGIN + n - 1] += before * weeks
        out[MARGIN + 1 : MARGIN + n + 1] += after * weeks
        return out

    def _reading(
        self, mark: Mark, p: float, split: Split, week: int, is_53: bool
    ) -> WeighedReading:
        flags: tuple[str, ...] = ()
        label = week_label(week)
        if is_53:
            label = f"{thursday(week).year - 1:04d}-W53"
            flags = ("week 53 of a year of 52 weeks",)
        monday = thursday(week)
        source = self._source(split)
        return WeighedReading(
            label,
            p,
            source,
            self.setting.reference.tables.sources.get(source) if source else None,
            monday.fromordinal(monday.toordinal() - 3),
            monday.fromordinal(monday.toordinal() + 3),
            split.spans,
            flags,
        )

    def _source(self, split: Split) -> str | None:
        """The source number as read: the digits that are certain, '?' for the others."""
        if not split.source:
            return None
        return "".join(
            str(int(np.argmax(v))) if max(v) > 0.5 * sum(v) else "?" for v in split.source
        )

    def _code_conflict(self, mark: Mark, split: Split, own: Array, carried: Array) -> float:
        years, weeks = self.setting.grid.padded_codes
        digits = len(split.year)
        span = 10**digits
        table = np.bincount((years % span) * 100 + weeks, weights=own, minlength=span * 100)
        table += np.bincount(((years - 1) % span) * 100 + 53, weights=carried, minlength=span * 100)
        cells = (*split.year, *split.week)
        tensor = table.reshape((10,) * len(cells))
        matrix = np.asarray(self.setting.reference.tables.digits[mark.legibility].rows)
        seen: list[int] = []
        axis = 0
        for cell in cells:
            vector = np.asarray(cell)
            if np.ptp(vector) == 0:
                tensor = tensor.sum(axis=axis)
                continue
            column = next(
                (s for s in range(10) if np.allclose(matrix[:, s], vector, atol=1e-12)), None
            )
            if column is None:
                named = vector >= 0.5 * vector.max()
                table_2 = np.stack([named, ~named], axis=1).astype(np.float64)
                column = 0
            else:
                table_2 = matrix
            tensor = np.moveaxis(np.tensordot(tensor, table_2, axes=(axis, 0)), -1, axis)
            seen.append(column)
            axis += 1
        flat = np.asarray(tensor)
        return mid_p(flat.ravel(), float(flat[tuple(seen)]))

    # -- marks of final assembly ------------------------------------------------------------------

    def _assembly_mark(self, mark: Mark, reading: MarkReading, holder: PartEvidence) -> Fit:
        joint, setting = self.joint, self.setting
        unit = unit_of(mark.part, joint.units)
        rest = part_units(
            without([e for e in self.evidence if e.part.id in unit.parts], mark.n), setting
        )
        bare = unit_of(mark.part, rest)
        shape = unit.values.shape
        weight = joint.spread_out(joint.own_weight(unit.assembly, shape))
        donor = joint.donor_weight(unit.assembly, shape)
        weight = weight if donor is None else weight + donor
        whole = joint.whole_of(unit).values
        original, later, period = (
            self._per_week(weight, v, whole) for v in bare.origins(mark.part)
        )
        misread, before, after = assembly_mark(mark.kind, setting.assume)
        n = setting.grid.size
        weeks = np.zeros(n)
        for d in range(-before, after + 1):
            lo, hi = max(0, -d), min(n, n - d)
            weeks[lo + d : hi + d] += original[lo:hi]
        weeks *= (1.0 - misread) / (before + after + 1)
        scheme = scheme_weeks(reading, setting.grid)
        flat = misread * original.sum() + later.sum() + period.sum()
        weeks[scheme] += flat / (scheme.stop - scheme.start)
        return self._intervals(mark, reading, weeks, scheme)

    @staticmethod
    def _per_week(weight: Array, part: Array, whole: Array) -> Array:
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.where(whole > 0, part / whole, 0.0)
        return (weight * ratio).sum(axis=(0, 1))

    def _intervals(self, mark: Mark, reading: MarkReading, weeks: Array, scheme: slice) -> Fit:
        """Readings that are intervals; the values are the codes of the scheme."""
        grid = self.setting.grid
        weighed = [
            r.p * float(weeks[grid.weeks_of(r.first, r.last)].sum()) for r in reading.readings
        ]
        whole = sum(weighed)
        if whole <= 0:
            return Fit(self._plain(reading), None)
        order = sorted(range(len(weighed)), key=lambda i: (-weighed[i], i))[:MOST_READINGS]
        readings = tuple(
            WeighedReading(
                r.label, weighed[i] / whole, r.source, None, r.first, r.last, r.spans, r.flags
            )
            for i in order
            if weighed[i] / whole >= LEAST_READING
            for r in (reading.readings[i],)
        )
        key = _code_of_week(mark.kind, grid.years, grid.months)
        mass = np.bincount(key[scheme] - key.min(), weights=weeks[scheme])
        t = interval_likelihood(reading.readings, grid)
        hit = np.unique(key[np.flatnonzero(t > 0)]) - key.min()
        if mark.legibility == "clear" and hit.size and hit.max() < mass.size:
            return Fit(
                readings,
                mid_p(mass, float(mass[hit].sum()) if hit.size > 1 else float(mass[hit[0]])),
            )
        seen = float((weeks * t).sum() / max(t.max(), 1e-300))
        return Fit(readings, mid_p(mass, seen))

    # -- the rest
    # -----------------------------------------------------------------------------------

    def _feature(self, mark: Mark, reading: MarkReading, holder: PartEvidence) -> float:
        """mid-p over the feature's values, each weighed in place of the one seen."""
        values = self.setting.feature(str(mark.feature)).values
        seen = str(reading.value)
        if seen not in values:
            values = (*values, seen)
        unit = unit_of(mark.part, self.joint.units)
        linked = [e for e in self.evidence if e.part.id in unit.parts]
        logs: list[float] = []
        for value in values:
            if value == seen:
                logs.append(0.0)
                continue
            other = [
                replace(
                    e,
                    read=tuple(
                        (replace(m, value=value, result="seen"), replace(r, value=value))
                        if m.n == mark.n
                        else (m, r)
                        for m, r in e.read
                    ),
                )
                for e in linked
            ]
            logs.append(self.joint.replaced_by([unit], list(part_units(other, self.setting)))[1])
        mass = np.exp(np.array(logs) - max(logs))
        return mid_p(mass, float(mass[values.index(seen)]))

    def _one_sided(
        self, mark: Mark, reading: MarkReading, holder: PartEvidence, log_change: float
    ) -> float | None:
        """The expectation of the mark's likelihood, given all others, over its maximum."""
        if reading.dating == "existed":
            return min(float(np.exp(-log_change)), 1.0)
        found = factor(mark, reading, holder.part, self.setting)
        if found is None:
            return None
        top = max(float(a.max()) for a in found)
        return min(float(np.exp(-log_change)) / top, 1.0) if top > 0 else None

    def _plain(self, reading: MarkReading) -> tuple[WeighedReading, ...]:
        return tuple(
            WeighedReading(r.label, r.p, r.source, None, r.first, r.last, r.spans, r.flags)
            for r in reading.readings[:MOST_READINGS]
        )


def _code_of_week(kind: str, years: IntArray, months: IntArray) -> IntArray:
    """A number for what a scheme would write in each week."""
    if kind == "year-stamp":
        return years % 100
    if kind == "chart-letters":
        return months
    if kind == "date-code":
        return months % 240
    return np.arange(years.size)


def influences(
    joint: Joint, evidence: Sequence[PartEvidence], marks: Sequence[int]
) -> Mapping[int, tuple[Array, float]]:
    """p(B) without each mark, and the change in log evidence."""
    return {n: without_mark(joint, evidence, n) for n in marks}
