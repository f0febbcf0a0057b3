"""The most a valve may be given, and by which of the rating systems it was said.

A figure means another thing in each system (``data/valves/rating_systems.csv``):

* *design-centre*: for an average valve in an average set at its nominal mains.  The valve's maker
  has left room for the usual swings of mains and parts: the figure is held against what the valve
  gets **at nominal mains**.
* *design-maximum*: for an average valve under the **worst** the set will meet: the highest mains,
  the least lucky parts, the widest setting.  What is measured has to be brought to the highest
  mains first.
* *absolute maximum*: for any valve, under anything.

So '12 W design-centre' and '14 W design-maximum' can be the same valve, and a set that runs at
12 W on nominal mains is at its limit by both.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from .models import known_as
from .tables import Row, figure, plain, rows


@dataclass(frozen=True, slots=True)
class RatingSystem:
    """A way to say a rating. ``mains``: times the nominal mains at which a figure is held."""

    id: str
    title: str
    mains: float
    meaning: str
    source: str
    confidence: str


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of a rating in SI units, with how far it can be trusted."""

    value: float
    source: str
    confidence: str


@dataclass(frozen=True, slots=True)
class Rating:
    """The maximum ratings of a valve by one data sheet; voltages V, W, A; None: not said.

    ``names``: designations it stands under.  ``share``: of the class 'triode', 'beam power', ….
    """

    names: tuple[str, ...]
    title: str
    kind: str
    system: RatingSystem
    plate_volts: Figure | None
    plate_watt: Figure | None
    screen_volts: Figure | None
    screen_watt: Figure | None
    cathode_amp: Figure | None
    heater_volts: tuple[float, ...]
    note: str


@cache
def rating_systems() -> dict[str, RatingSystem]:
    """The rating systems by id."""
    return {
        row["id"]: RatingSystem(
            row["id"],
            row["title"],
            float(row["mains"]),
            row["meaning"],
            row["source"],
            row["confidence"],
        )
        for row in rows("rating_systems")
    }


@cache
def ratings() -> tuple[Rating, ...]:
    """Every rating of the table, in its order."""
    return tuple(_rating(row) for row in rows("ratings"))


def ratings_of(designation: str) -> tuple[Rating, ...]:
    """Ratings that hold for a designation: its own, else those of the valve it is another name of.

    >>> [r.system.id for r in ratings_of("6V6GT")], [r.system.id for r in ratings_of("6V6GTA")]
    (['design-centre'], ['design-maximum'])
    """
    for name in (plain(designation), plain(known_as(designation))):
        found = tuple(r for r in ratings() if name in (plain(n) for n in r.names))
        if found:
            return found
    return ()


def rating(designation: str) -> Rating | None:
    """The first of :func:`ratings_of`; None where no table holds the designation."""
    return next(iter(ratings_of(designation)), None)


def allowed_now(limit: float, system: RatingSystem, mains_share: float, power: float) -> float:
    """What of ``limit`` a reading taken at ``mains_share`` times the nominal mains may show.

    A quantity that grows as mains to the ``power`` (1 for volts, 2 for watts of a stage whose
    current follows its voltage) reaches the limit at ``system.mains`` times nominal when it reads
    ``limit * (mains_share/system.mains)**power`` now.

    >>> round(allowed_now(30.0, rating_systems()["design-maximum"], 1.0, 2.0), 1)
    24.8
    """
    return limit * (mains_share / system.mains) ** power


def rated(row: Row, column: str, unit: float = 1.0) -> Figure | None:
    """One figure of a row of ratings, times ``unit``; None where the cell holds none.

    Each figure stands by itself: what was seen is named in the row's ``seen``, the rest of the row
    may be from memory.
    """
    value = figure(row, column)
    if value is None:
        return None
    known = "published" if column in row["seen"].split(";") else "from memory"
    return Figure(value * unit, row["source"], known)


def _rating(row: Row) -> Rating:
    return Rating(
        tuple(row["names"].split(";")),
        row["title"],
        row["class"],
        rating_systems()[row["rating_system"]],
        rated(row, "max_plate_V"),
        rated(row, "max_plate_diss_W"),
        rated(row, "max_screen_V"),
        rated(row, "max_screen_diss_W"),
        rated(row, "max_cathode_mA_dc", 1e-3),
        tuple(float(part) for part in row["heater_V"].split("/") if part),
        row["note"],
    )
