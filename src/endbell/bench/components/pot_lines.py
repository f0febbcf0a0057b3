"""Lines of pots: the whole track, the law of its turn, the jump of the wiper."""

from __future__ import annotations

from ..circuit import Resistor
from ..lines import Bound, Judgement, Line
from ..readings import Bench, Reading
from ..telling import against, cannot_be, named, percent, sentence, shown, tell
from .limits_of_parts import drift
from .pots import law_of, rises
from .resistor_lines import is_pot, rule, rule_bound


def pot_lines(bench: Bench) -> tuple[Line, ...]:
    """Every pot that is drawn, and every other that was measured."""
    drawn = {r.id: r for r in bench.circuit.resistors if is_pot(r)}
    read = [*bench.places("pot-ohm"), *_turned(bench), *bench.places("pot-noise")]
    names = dict.fromkeys((*drawn, *read))
    return (
        *(_track(bench, at, drawn.get(at)) for at in names),
        *(_law(bench, at, drawn.get(at)) for at in names),
        *(_noise(bench, at) for at in names),
    )


def _turned(bench: Bench) -> list[str]:
    return [at.partition("@")[0] for at in bench.places("pot-taper")]


def _track(bench: Bench, at: str, pot: Resistor | None) -> Line:
    line = "pot-ohm"
    value = bench.value(line, at)
    bounds: tuple[Bound, ...] = ()
    if pot is not None and pot.ohm > 0:
        off = max(pot.tolerance, rule("pot-off"))
        title = f"{shown(pot.ohm, 'ohm')}, {off * 100:g} %"
        bounds = (rule_bound("pot-off", pot.ohm * (1 - off), pot.ohm * (1 + off), title),)
    says = f"Measure {named(at)} end to end" + (f": {shown(pot.ohm, 'ohm')}." if pot else ".")
    if value is not None and not cannot_be(bench.kinds[line], value):
        says = f"{named(at)} is {shown(value, 'ohm')} end to end, {against(value, bounds, 'ohm')}"
        says += f"; {percent(drift(value, pot.ohm))} off." if pot and pot.ohm > 0 else "."
    return tell(
        bench,
        line,
        at=at,
        value=value,
        bounds=bounds,
        expected=pot.ohm if pot else None,
        says=says,
        readings=(bench.reading(line, at),),
    )


def _law(bench: Bench, at: str, pot: Resistor | None) -> Line:
    """The law of the turn; ``value`` is the share at half way where that was read."""
    line = "pot-taper"
    points, readings, wrong = _points(bench, at)
    drawn = " ".join(pot.use.split()[1:]) if pot else ""
    judgement: Judgement | None = None
    value = points.get(0.5)
    works = "nearest law by the rms distance, straight between the laws' points"
    if wrong:
        judgement, says, value = Judgement.IMPOSSIBLE, wrong, None
    elif not points:
        says = f"Read {named(at)} at 25, 50 and 75 % of its turn" + (
            f": drawn is {drawn}." if drawn else "."
        )
    else:
        try:
            law = law_of(points)
        except ValueError as error:
            judgement, says = Judgement.IMPOSSIBLE, f"{named(at)}: {sentence(error)}"
        else:
            says = f"{named(at)} is {law.title}, within {law.off:.1%} of the track."
            judgement = Judgement.NO_LIMIT
            if not rises(points):
                judgement = Judgement.ODD
                says = f"{named(at)} does not rise along its turn: the track is worn or broken."
            elif law.off > rule("taper-off"):
                judgement = Judgement.ODD
                says = f"{named(at)} follows no law; the nearest is {law.title}, {law.off:.1%} off."
            elif drawn:
                judgement = Judgement.WITHIN if law.family == drawn else Judgement.ODD
                if judgement is Judgement.ODD:
                    says += f" Drawn is {drawn}"
                    says += _turned_round(law.family, drawn)
    return tell(
        bench,
        line,
        at=at,
        value=value,
        judgement=judgement,
        says=says,
        works=works,
        readings=readings,
    )


def _turned_round(found: str, drawn: str) -> str:
    if {found, drawn} == {"log", "reverse log"}:
        return ": was it read from the right lug?"
    return ": it was replaced, or the letter on it was read by another convention."


def _points(bench: Bench, at: str) -> tuple[dict[float, float], tuple[Reading | None, ...], str]:
    """Shares by rotation of a pot, the readings, and what is wrong with one of them ('')."""
    points: dict[float, float] = {}
    readings: list[Reading | None] = []
    for place in bench.places("pot-taper"):
        name, _, turn = place.partition("@")
        reading = bench.reading("pot-taper", place)
        if name != at or reading is None or reading.value is None:
            continue
        readings.append(reading)
        wrong = cannot_be(bench.kinds["pot-taper"], reading.value)
        if wrong:
            return {}, tuple(readings), wrong
        rotation = _rotation(turn)
        if rotation is None:
            words = f"{place}: say the rotation in percent, as {name}@50."
            return {}, tuple(readings), words
        points[rotation] = reading.value
    return points, tuple(readings), ""


def _rotation(text: str) -> float | None:
    if not text:
        return 0.5
    try:
        percentage = float(text.strip().removesuffix("%"))
    except ValueError:
        return None
    return percentage / 100 if 0 <= percentage <= 100 else None


def _noise(bench: Bench, at: str) -> Line:
    line = "pot-noise"
    value = bench.value(line, at)
    bounds: tuple[Bound, ...] = (rule_bound("pot-jump", None, rule("pot-jump")),)
    says = f"Turn {named(at)} slowly and note the largest jump of the wiper."
    if value is not None:
        says = f"The wiper of {named(at)} jumps by {value:.1%} of the track: "
        says += f"{against(value, bounds, '1')}."
    return tell(
        bench,
        line,
        at=at,
        value=value,
        bounds=bounds,
        says=says,
        readings=(bench.reading(line, at),),
    )
