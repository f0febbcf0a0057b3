"""The world that dossiers are drawn from: packs and assumptions as tables quick to draw by.

Everything here is set up once for a simulator; docs/model.md, sections 1 to 6, says what it means.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from itertools import accumulate
from math import exp

import numpy as np

from ...reference.types import ConditionWord, Model, Reference
from .buying import Buying, permuted
from .calendar import Calendar, Weeks, week_of
from .choices import Choices
from .dice import Again, Dice
from .labels import Labels
from .names import readable
from .scales import Scale
from .serials import Serials
from .types import Twist

EARLY = 8
NODES = 13
SPREAD = 5
_KEPT = 64  # priors within known years that are remembered
Made = tuple[int, int]
"""[known] made as weeks: the first, and one past the last."""


@dataclass(frozen=True, slots=True)
class Wait:
    """A lag: log-normal, old stock, early (no early mass for service)."""

    median: float
    sigma: float
    old_weight: float
    old_mean: float
    early: float

    def weeks(self, dice: Dice, stock_age: float, heavy: bool) -> int:
        """L of one delivery."""
        x = dice.u()
        if x < self.early:
            return -dice.between(1, EARLY)
        if x < self.early + self.old_weight:
            return dice.exponential_weeks(self.old_mean)
        return dice.log_normal_weeks(self.median * exp(stock_age), self.sigma, heavy)


class World:
    """Tables of one simulator."""

    def __init__(
        self, reference: Reference, assume: Mapping[str, float], as_of: date, twist: Twist
    ) -> None:
        self.reference = reference
        self.assume = assume
        self.twist = twist
        self.calendar = Calendar(as_of)
        self.size = self.calendar.size
        self.models: tuple[Model | None, ...] = tuple(reference.models) or (None,)
        self.odds = list(accumulate(1.0 if m is None else m.odds for m in self.models))
        self.era = self.calendar.era(reference.era)
        self.era_sums: list[float] = np.cumsum(self.era).tolist()
        self._runs = [self._production(m) for m in self.models]
        self._priors = [self._sums(self._prior(r)) for r in self._runs]
        self._known: dict[tuple[int, Made], list[float]] = {}
        self.yearly = self._by_year()
        z = np.linspace(-3.0, 3.0, NODES)
        self.ages: list[float] = (assume["stock_age.sigma"] * z).tolist()
        self._age_sums: list[float] = np.cumsum(np.exp(-(z**2) / 2.0)).tolist()
        self.expected = [{p.part_class for p in m.expected} if m else set() for m in self.models]
        self._expected_at_all: set[str] = set().union(*self.expected)
        self.supplies = tuple(reference.supplies)
        if twist.wrong_suppliers:
            self.supplies = permuted(self.supplies)
        self.service = self._wait("service", 0.0)
        self.spread = list(accumulate(assume[f"delivery.spread.{e}"] for e in range(SPREAD)))
        shifts = [assume[f"week_code.{k}"] for k in ("before", "same", "after")]
        self._shifts = list(accumulate(shifts))
        self.conditions: dict[str, list[ConditionWord]] = {}
        for word in reference.conditions.values():
            self.conditions.setdefault(word.group, []).append(word)
        self._scheme_weeks = self._chart_weeks()
        self.labels = Labels(reference.tables, assume, self.size - 1)
        self.designations = readable(reference)
        self._scales: dict[str, Scale] = {}
        self._waits: dict[str, Wait] = {}
        self._buying: dict[tuple[str, int], Buying] = {}
        self._choices: dict[tuple[str, str], Choices] = {}

    # -- model, week, stock age -------------------------------------------------------------------

    def model(self, dice: Dice) -> int:
        """Index of a rival, by its odds."""
        return dice.pick(self.odds)

    def week(self, dice: Dice, m: int, made: Made | None) -> int:
        """B from prior_m, within the years known to be right."""
        if made is None:
            return dice.pick(self._priors[m])
        if dice.chance(self.assume["prior.leak"]):
            return dice.below(self.size)
        key = (m, made)
        if key not in self._known:
            if len(self._known) >= _KEPT:
                self._known.clear()
            self._known[key] = self._sums(self.runs(m, made))
        return dice.pick(self._known[key])

    def donor_week(self, dice: Dice) -> int:
        """B' of another amp."""
        return dice.pick(self.era_sums)

    def stock_age(self, dice: Dice) -> float:
        """u: one of the nodes."""
        return self.ages[dice.pick(self._age_sums)]

    def runs(self, m: int, made: Made | None) -> Weeks:
        """R_m(B), normalised; shape (size,)."""
        if made is None:
            return self._runs[m]
        known = np.zeros(self.size)
        known[made[0] : made[1]] = 1.0
        inside = self._runs[m] * known
        left = inside if inside.sum() > 0 else known
        return left / left.sum()

    def _production(self, model: Model | None) -> Weeks:
        if model is None:
            return self.era
        total = np.zeros(self.size)
        for run in model.runs:
            if run.first is not None and week_of(run.first) >= self.size:
                continue
            window = self.calendar.window(run, model.softness_weeks)
            if window.sum() > 0:
                total += run.weight * window / window.sum()
        return total / total.sum() if total.sum() > 0 else self.era

    def _by_year(self) -> dict[int, float]:
        """Roughly how many amps were made in each year."""
        models = zip(self.models, self._runs, strict=True)
        made = sum((r * (m.odds if m else 1.0) for m, r in models), np.zeros(self.size))
        years, total = np.array(self.calendar.year), made.sum()
        return {int(y): float(made[years == y].sum() / total) + 1e-4 for y in np.unique(years)}

    def _prior(self, runs: Weeks) -> Weeks:
        leak = self.assume["prior.leak"]
        return (1.0 - leak) * runs + leak / self.size

    @staticmethod
    def _sums(p: Weeks) -> list[float]:
        sums = np.cumsum(p)
        return (sums / sums[-1]).tolist()

    # -- parts ------------------------------------------------------------------------------------

    def origin_weights(self, part_class: str) -> tuple[float, float, float]:
        """P(original), P(later), P(period) of a class."""
        rho = self.assume.get(f"replaced.{part_class}.probability")
        if rho is None:
            rho = self.assume["replaced.other.probability"]
        period = self.assume["replaced.period_share"]
        return 1.0 - rho, rho * (1.0 - period), rho * period

    def married(self, assembly: str) -> float:
        """P(the assembly is another amp's)."""
        if assembly == "chassis":
            return 0.0
        return self.assume.get(f"married.{assembly}.probability", 0.05)

    def unexpected(self, m: int, recorded: set[str]) -> float:
        """What the recorded classes of part say of model m, as a probability to go on."""
        if not self.expected[m]:
            return 1.0
        odd = len((recorded & self._expected_at_all) - self.expected[m])
        return self.assume["part.unexpected"] ** odd

    def wait(self, part_class: str) -> Wait:
        """The lag of originals of a class."""
        if part_class not in self._waits:
            own = f"lag.{part_class}.median_weeks" in self.assume
            name = f"lag.{part_class if own else 'other'}"
            self._waits[part_class] = self._wait(name, self.assume[f"{name}.early_weight"])
        return self._waits[part_class]

    def _wait(self, name: str, early: float) -> Wait:
        a = self.assume
        return Wait(
            a[f"{name}.median_weeks"],
            a[f"{name}.sigma"],
            a[f"{name}.old_stock_weight"],
            a[f"{name}.old_stock_mean_weeks"],
            early,
        )

    def service_week(self, dice: Dice, built: int) -> int:
        """R, uniform on the weeks after B."""
        last = self.size - 1
        return last if built >= last else dice.between(built + 1, last)

    def period_week(self, dice: Dice, built: int) -> int:
        """The week in which a period replacement was made."""
        half = int(self.assume["period.half_width_weeks"])
        return dice.between(max(built - half, 0), min(built + half, self.size - 1))

    def on_grid(self, week: int) -> int:
        """The week itself; raises ``Again`` off the grid, where nothing has a likelihood."""
        if not 0 <= week < self.size:
            raise Again
        return week

    def buying(self, part_class: str, m: int) -> Buying:
        """Where a class's parts are bought, by the factory for model m and by repairers."""
        key = (part_class, m)
        if key not in self._buying:
            rows = [s for s in self.supplies if s.part_class == part_class]
            model = self.models[m]
            open_to = [s for s in rows if not s.models or (model and model.id in s.models)]
            self._buying[key] = Buying(open_to, rows, self.calendar, self.assume)
        return self._buying[key]

    def in_use(self, week: int) -> float:
        """How far the source-and-date code was in use, against its best week on the grid."""
        first = int(self.assume["scheme.first_year"])
        if self.calendar.year[week] >= first or self.calendar.year[-1] < first:
            return 1.0
        return self.assume["scheme.before_weight"]

    def code_week(self, dice: Dice, week: int) -> tuple[int, int]:
        """Year and week number as stamped on a part made in a week."""
        v = week + dice.pick(self._shifts) - 1
        year, number = self.calendar.code(v)
        if self.calendar.follows_52(v) and dice.chance(self.assume["week_code.week_53_of_52"]):
            return year - 1, 53
        return year, number

    def scheme_weeks(self, kind: str) -> tuple[int, int]:
        """First and one-past-last week that marks of a kind of final assembly can say."""
        return self._scheme_weeks if kind == "chart-letters" else (0, self.size)

    def _chart_weeks(self) -> tuple[int, int]:
        charts = self.reference.tables.charts
        if not charts:
            return 0, self.size
        last = max(c.first_year + len(c.years) - 1 for c in charts)
        first = min(c.first_year for c in charts)
        low, high = self.calendar.interval(date(first, 1, 1), date(last, 12, 31))
        return (low, high) if high > low else (0, self.size)

    @cached_property
    def serials(self) -> Serials:
        """The serial numbers of the packs in force; there must be ranges."""
        names = [m.id if m else None for m in self.models]
        tables = self.reference.tables
        separators = tables.grammar.separators
        return Serials(tables.serials, names, self.calendar, self.assume, separators)

    def scale(self, quantity: str) -> Scale:
        """A measured quantity."""
        if quantity not in self._scales:
            found = self.reference.quantities[quantity]
            factors = self.reference.tables.quantities[quantity].factors
            self._scales[quantity] = Scale(found, factors, self.assume["feature.leak"])
        return self._scales[quantity]

    # -- features ---------------------------------------------------------------------------------

    def choices(self, sort: str, name: str) -> Choices:
        """The values of a feature ('feature') or a measured quantity ('quantity')."""
        key = (sort, name)
        if key not in self._choices:
            names: Sequence[str | None] = [m.id if m else None for m in self.models]
            leak = self.assume["feature.leak"]
            if sort == "feature":
                f = self.reference.features[name]
                made = Choices(f.values, f, leak, names, self._runs, self.calendar, absent=True)
            else:
                q = self.reference.quantities[name]
                rows = q.alternatives
                made = Choices(rows, q, leak, names, self._runs, self.calendar, absent=False)
            self._choices[key] = made
        return self._choices[key]
