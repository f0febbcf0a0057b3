"""How far the models are from the data books, row by row: nothing is tuned, the misses are listed.

Three tables are compared: the single points that a data sheet prints, typical operation of output
stages, and the chart of resistance-coupled stages.  What a set misses on average goes into the
spread of whatever is worked out with it (:func:`misfit`), so that a valve is not called off for a
fault of its model.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

import numpy as np

from .full_signal import Driven, driven
from .koren import Valve, flow
from .models import Model, model, models
from .operating_point import Point, Wiring, settle
from .tables import Row, figure, rows

# Stated before the comparison was made: makers' own acceptance limits for plate current are wider.
CURRENT_WITHIN = 0.15
WATT_WITHIN = 0.20
GAIN_WITHIN = 0.10


@dataclass(frozen=True, slots=True)
class Miss:
    """One figure of a data book beside the model's: both in the unit of ``what``."""

    row: str
    type: str
    set: str
    what: str
    book: float
    ours: float
    within: float
    confidence: str
    valves: float = 1.0

    @property
    def ratio(self) -> float:
        """The model's figure as a multiple of the book's."""
        return self.ours / self.book

    @property
    def reproduced(self) -> bool:
        """Whether the model comes within the stated tolerance."""
        return abs(self.ratio - 1.0) <= self.within


def sets_of(designation: str) -> tuple[Model, ...]:
    """Every set of a type, the usual one first."""
    usual = model(designation)
    own = [one for one in models() if one.type == usual.type]
    return tuple(sorted(own, key=lambda one: not one.usual))


@cache
def book_points() -> tuple[Miss, ...]:
    """The data books' single points: plate current (A), gm (S), rp (ohm)."""
    out: list[Miss] = []
    for row in rows("test_points"):
        plate, grid, ohm = (figure(row, k) for k in ("plate_V", "grid_V", "cathode_ohm"))
        assert plate is not None
        for one in sets_of(row["type"]):
            bias = grid
            if bias is None:
                assert ohm is not None
                bias = -float(settle(one.valve, Wiring(plate, cathode_ohm=ohm)).cathode)
            at = flow(one.valve, plate, bias, figure(row, "screen_V"))
            label = f"{plate:g} V, {bias:.3g} V"
            for what, column, unit, ours in (
                ("plate A", "plate_mA", 1e-3, float(at.plate)),
                ("gm S", "gm_umho", 1e-6, float(at.gm)),
                ("rp ohm", "rp_ohm", 1.0, float(at.rp)),
            ):
                book = figure(row, column)
                if book is not None:
                    out.append(_miss(label, one, what, book * unit, ours, row["confidence"]))
    return tuple(out)


@cache
def typical_operation() -> tuple[Miss, ...]:
    """Typical operation: currents of all valves of the stage (A) without signal and at full drive,
    and power (W)."""
    out: list[Miss] = []
    for row in rows("typical_operation"):
        name = row["type"].split("/")[-1]
        for one in sets_of(name):
            out += _operation(row, name, one)
    return tuple(out)


@cache
def coupled_stages() -> tuple[Miss, ...]:
    """Gain of the resistance-coupled chart's stages, their cathodes bypassed."""
    out: list[Miss] = []
    for row in rows("resistance_coupled"):
        supply, cathode = figure(row, "supply_V"), figure(row, "cathode_R_ohm")
        plate, following = figure(row, "plate_R_ohm"), figure(row, "next_grid_R_ohm")
        if None in (supply, cathode, plate, following):
            continue
        assert supply and cathode and plate and following
        where = f"{supply:g} V, {plate / 1e3:g}k, {following / 1e3:g}k"
        for one in sets_of(row["type"]):
            at = settle(one.valve, Wiring(supply, plate, cathode))
            small = flow(one.valve, at.plate - at.cathode, -at.cathode)
            load = plate * following / (plate + following)
            gain = float(small.mu) * load / (float(small.rp) + load)
            out.append(
                Miss(
                    where,
                    row["type"],
                    one.name,
                    "gain",
                    float(row["voltage_gain"]),
                    gain,
                    GAIN_WITHIN,
                    row["confidence"],
                )
            )
    return tuple(out)


def still_points() -> tuple[Miss, ...]:
    """Every plate current without signal that a book gives, a point printed twice taken once."""
    found: dict[tuple[str, str, float, float], Miss] = {}
    for miss in (*book_points(), *typical_operation()):
        if miss.what == "plate A":
            found.setdefault((miss.type, miss.set, miss.book, round(miss.ours, 6)), miss)
    return tuple(found.values())


def root_mean(logs: list[float]) -> float:
    """Root mean square of logarithms: 0.1 is about 10 %."""
    return float(np.sqrt(np.mean(np.square(logs))))


@cache
def _table() -> dict[tuple[str, str], tuple[tuple[float, float], ...]]:
    """By type and set: plate current of one valve by the book, and ln(model/book)."""
    out: dict[tuple[str, str], list[tuple[float, float]]] = {}
    for row in rows("misfit"):
        book, ours = float(row["book_A"]), float(row["model_A"])
        out.setdefault((row["type"], row["set"]), []).append((book, float(np.log(ours / book))))
    return {key: tuple(points) for key, points in out.items()}


@cache
def misfit(designation: str, name: str = "", amp: float | None = None) -> float:
    """How far a set is from the data books, as a standard deviation of ln(current).

    With ``amp`` only the points within a factor of two of it count, where there are any: a set may
    be good at full current and poor far back.  Fewer than three points say too little by
    themselves: then at least the middle of all sets that have more.  The points stand in
    ``data/valves/misfit.csv``, written by ``python -m endbell.bench.valves.table --misfits``.
    """
    one = model(designation, name)
    usual = float(
        np.median([root_mean([d for _, d in p]) for p in _table().values() if len(p) > 2])
    )
    points = _table().get((one.type, one.name), ())
    near = [d for book, d in points if amp is None or 0.5 <= amp / book <= 2.0]
    found = near or [d for _, d in points]
    if len(found) >= 3:
        return root_mean(found)
    return max(root_mean(found), usual) if found else usual


def _miss(
    row: str,
    one: Model,
    what: str,
    book: float,
    ours: float,
    confidence: str,
    valves: float = 1.0,
) -> Miss:
    within = {"full-drive W": WATT_WITHIN}.get(what, CURRENT_WITHIN)
    return Miss(row, one.type, one.name, what, book, ours, within, confidence, valves)


def _operation(row: Row, name: str, one: Model) -> list[Miss]:
    count = 2.0 if "2 tubes" in row["circuit"] else 1.0
    plate, grid, screen, still = _still(row, one.valve, count)
    out: list[Miss] = []

    def add(what: str, column: str, unit: float, ours: float) -> None:
        book = figure(row, column)
        if book is not None:
            out.append(_miss(row["id"], one, what, book * unit, ours, row["confidence"], count))

    add("plate A", "plate_mA_zero", 1e-3, count * still[0])
    add("screen A", "screen_mA_zero", 1e-3, count * still[1])
    # a grid driven positive draws current, which the equations do not hold
    load = figure(row, "load_ohm")
    if "2" not in row["class"] and load is not None:
        full: Driven = driven(one.valve, plate, grid, load, screen, count > 1.0)
        add("full-drive plate A", "plate_mA_max", 1e-3, full.plate_amp)
        add("full-drive W", "output_W", 1.0, full.watt)
    return out


def _still(row: Row, valve: Valve, count: float) -> tuple[float, float, float, tuple[float, float]]:
    """Plate, grid and screen voltage against the cathode without signal, and both currents."""
    plate, screen, ohm = _first(row["plate_V"]), _first(row["screen_V"]), 0.0
    if "at plate" in row["plate_V"]:
        plate = _first(row["plate_V"].split("/")[1])
    if "through" in row["screen_V"]:
        ohm = _ohms(row["screen_V"].split("through")[1])
    grid = figure(row, "grid_V")
    cathode = _ohms(row["bias"]) if "ohm" in row["bias"] else 0.0
    if grid is not None:
        wiring = Wiring(
            plate, grid=grid, screen_supply=screen, screen_ohm=ohm, screen_sharing=count
        )
        at = settle(valve, wiring)
        return plate, grid, float(at.screen), (float(at.plate_amp), float(at.screen_amp))

    # the book's voltages are against the cathode unless it says that they are the supply's
    def lifted(by: float) -> Point:
        wiring = Wiring(
            plate + by,
            cathode_ohm=cathode,
            sharing=count,
            screen_supply=screen + by,
            screen_ohm=ohm,
            screen_sharing=count,
        )
        return settle(valve, wiring)

    at = lifted(0.0)
    for _round in range(0 if "supply" in row["note"] else 40):
        at = lifted(float(at.cathode))
    above = float(at.cathode)
    currents = (float(at.plate_amp), float(at.screen_amp))
    return float(at.plate) - above, -above, float(at.screen) - above, currents


def _first(text: str) -> float:
    found = re.search(r"\d+(?:\.\d+)?", text)
    assert found is not None
    return float(found[0])


def _ohms(text: str) -> float:
    return _first(text) * (1e3 if "kohm" in text else 1.0)
