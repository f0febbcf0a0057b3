"""The line of the earth bond, with what the practice allows for the cord."""

from __future__ import annotations

from dataclasses import replace

from ..facts import Fact, facts
from ..limits import bounds_for
from ..lines import Bound, Line
from ..readings import Bench, Reading
from ..telling import against, shown, tell, usable
from .bond import by_length, cord_resistance
from .standing import practice, protection


def earth_bond(bench: Bench) -> Line | None:
    """Earth pin to chassis, held to the practice's limit with its allowance for the cord.

    None where the amp has no earth and nothing was measured.
    """
    value = bench.value("earth-bond")
    if protection(bench) != "I" and value is None:
        return None
    bounds, told, rests = _allowed(bench, bounds_for("earth-bond", practice(bench), "I"))
    if value is None:
        says = f"Measure from the earth pin to the chassis; {told}."
    else:
        says = f"{shown(value, 'ohm')} from the earth pin to the chassis, "
        says += f"{against(value, bounds, 'ohm')}; {told}."
    return tell(
        bench,
        "earth-bond",
        value=value,
        bounds=bounds,
        says=says,
        works="the practice's limit plus what it allows for the cord's own conductor",
        readings=(bench.reading("earth-bond"), *rests),
    )


def cord_lines(bench: Bench) -> tuple[Line, ...]:
    """What was noted of the cord and the discharge tool, as it stands: nothing is judged by it."""
    return tuple(
        tell(
            bench,
            line,
            at=at,
            value=bench.value(line, at),
            says=f"{bench.kinds[line].title}: used for other lines.",
            readings=(bench.reading(line, at),),
        )
        for line in ("discharge-tool", "discharge-to", "cord-length", "cord-ohm")
        for at in bench.places(line)
    )


def _allowed(
    bench: Bench, bounds: tuple[Bound, ...]
) -> tuple[tuple[Bound, ...], str, tuple[Reading | None, ...]]:
    """Bounds with the allowance in them, the words for it, and the readings it rests on."""
    row = next((r for r in facts("safety", "cord_allowance") if r["id"] == practice(bench)), None)
    metres, area, length = _length(bench)
    if row is None:
        return bounds, "nothing is allowed for the cord", ()
    if row["rule"] == "length":
        return _longer(bounds, row, metres, length)
    ohm = usable(bench, "cord-ohm")
    if ohm is not None:
        told = f"{shown(ohm, 'ohm')} of it allowed for the cord, as measured"
        return _raised(bounds, ohm), told, (bench.reading("cord-ohm"),)
    if metres is None:
        told = (
            "nothing is allowed for the cord while neither its conductor's resistance nor its "
            "length is known"
        )
        return bounds, told, ()
    chosen = _area(area)
    ohm = cord_resistance(metres, float(chosen["ohm_per_metre"]))
    told = (
        f"{shown(ohm, 'ohm')} of it allowed for {metres:g} m of {chosen['id']} mm² "
        f"({chosen['source']})"
    )
    return _raised(bounds, ohm), told, (length,)


def _length(bench: Bench) -> tuple[float | None, str, Reading | None]:
    """The cord's length in m and its area as the place of the reading says it."""
    for place in bench.places("cord-length"):
        metres = usable(bench, "cord-length", place)
        if metres is not None:
            return metres, place, bench.reading("cord-length", place)
    return None, "", None


def _area(place: str) -> Fact:
    """The row of that area; of the usual ones the thickest, which allows least, where unknown."""
    rows = facts("safety", "cord_areas")
    figure = place.removesuffix("mm²").removesuffix("mm2").strip()
    return next((row for row in rows if row["id"] == figure), rows[-1])


def _raised(bounds: tuple[Bound, ...], ohm: float) -> tuple[Bound, ...]:
    return tuple(
        bound if bound.high is None else replace(bound, high=bound.high + ohm) for bound in bounds
    )


def _longer(
    bounds: tuple[Bound, ...], row: Fact, metres: float | None, length: Reading | None
) -> tuple[tuple[Bound, ...], str, tuple[Reading | None, ...]]:
    if metres is None:
        base = row["base_metre"]
        return bounds, f"the cord taken as {base} m or less, its length was not noted", ()
    base, step, more, most = (
        float(row[key]) for key in ("base_metre", "step_metre", "step_ohm", "most_ohm")
    )
    raised = tuple(
        bound
        if bound.high is None
        else replace(bound, high=by_length(bound.high, metres, base, step, more, most))
        for bound in bounds
    )
    return raised, f"by the cord's length of {metres:g} m ({row['source']})", (length,)
