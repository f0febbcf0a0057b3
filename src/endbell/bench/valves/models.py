"""Which valve conducts how: published parameter sets by designation, and what is called what.

Sets stand in ``data/valves/models.csv`` with their sources, designations that mean the same valve
in ``aliases.csv``.  A type may have several sets: the author's own (``koren-1996``) and later fits
by other hands.  Unless a set is asked for by name, the one marked ``usual`` is taken: of the sets
of a type the one whose plate currents lie nearest to the data books by the table of
``docs/valve_models.md``, which lists how far each is and where each misses.
"""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache

from .koren import Flow, Pentode, Triode, Valve, flow
from .tables import Row, figure, plain, rows


class UnknownValve(ValueError):
    """No table holds the designation; the message says which come near."""


@dataclass(frozen=True, slots=True)
class Model:
    """A parameter set: the valve it is for, its name, and where it was published."""

    type: str
    name: str
    usual: bool
    valve: Valve
    note: str
    source: str
    how: str
    confidence: str


@dataclass(frozen=True, slots=True)
class SmallSignal:
    """What a small signal sees at a point: mu (1), gm (S), rp (ohm)."""

    mu: float
    gm: float
    rp: float


@cache
def models() -> tuple[Model, ...]:
    """Every parameter set, in the order of the table."""
    return tuple(_model(row) for row in rows("models"))


@cache
def other_names() -> dict[str, str]:
    """Designation as compared -> the type whose tables hold for it."""
    return {plain(row["name"]): row["type"] for row in rows("aliases")}


def known_as(designation: str) -> str:
    """The type whose model stands for ``designation``: 'ECC83' -> '12AX7'; itself where it has one.

    >>> known_as("ecc83"), known_as("6BQ5"), known_as("12AX7")
    ('12AX7', 'EL84', '12AX7')
    """
    found = plain(designation)
    return other_names().get(found, designation.strip())


@cache
def model(designation: str, name: str = "") -> Model:
    """The parameter set of a valve; :class:`UnknownValve` where there is none.

    ``name`` picks a set ('koren-1996', 'later fit a', …); without it the usual one of the type.
    """
    wanted = {plain(designation), plain(known_as(designation))}
    of_type = [one for one in models() if plain(one.type) in wanted]
    # a set under the designation itself comes before that of its namesake
    of_type.sort(key=lambda one: plain(one.type) != plain(designation))
    found = [one for one in of_type if one.name == name or (not name and one.usual)]
    if found:
        return found[0]
    if of_type:
        sets = ", ".join(f"'{one.name}'" for one in of_type)
        raise UnknownValve(f"'{designation}' has no set '{name}': there are {sets}")
    known = sorted({one.type for one in models()} | {row["name"] for row in rows("aliases")})
    near = get_close_matches(designation.upper(), known, n=3, cutoff=0.5)
    hint = f" Did you mean {' or '.join(near)}?" if near else ""
    raise UnknownValve(f"no model for a valve '{designation}'.{hint} Known: {', '.join(known)}")


def has_model(designation: str) -> bool:
    """Whether :func:`model` finds one."""
    try:
        model(designation)
    except UnknownValve:
        return False
    return True


def small_signal(
    designation: str,
    plate_volts: float,
    grid_volts: float,
    screen_volts: float | None = None,
    name: str = "",
) -> SmallSignal:
    """mu, gm (S) and rp (ohm) of a valve at voltages (V) against its cathode.

    Exact derivatives of the model.  :class:`UnknownValve` for an unknown designation,
    :class:`ValueError` where the valve is cut off (there is no small signal to speak of) or a
    pentode's screen voltage is missing.

    >>> point = small_signal("ECC83", 250.0, -2.0)
    >>> f"{point.mu:.1f} {1e3 * point.gm:.2f} mA/V {point.rp / 1e3:.1f} kohm"
    '96.6 1.64 mA/V 59.0 kohm'
    """
    at = flow(model(designation, name).valve, plate_volts, grid_volts, screen_volts)
    if not float(at.gp) > 0.0 or not float(at.gm) > 0.0:
        raise ValueError(
            f"{designation} does not conduct at {plate_volts:g} V on the plate and "
            f"{grid_volts:g} V on the grid: its gain cannot be said"
        )
    return SmallSignal(float(at.mu), float(at.gm), float(at.rp))


def conducts(
    designation: str, plate: float, grid: float, screen: float | None = None, name: str = ""
) -> Flow:
    """Currents and derivatives of a valve by its designation (voltages against the cathode)."""
    return flow(model(designation, name).valve, plate, grid, screen)


def _model(row: Row) -> Model:
    values = {
        key: value
        for key in ("mu", "ex", "kg1", "kg2", "kp", "kvb", "vct", "screen_ex")
        if (value := figure(row, key)) is not None
    }
    valve = Pentode(**values) if row["kind"] == "pentode" else Triode(**values)
    return Model(
        row["type"],
        row["set"],
        row["usual"] == "yes",
        valve,
        row["note"],
        row["source"],
        row["how"],
        row["confidence"],
    )
