"""Lines of resistors: the reading against marking and tolerance, and what a drift means."""

from __future__ import annotations

from ..circuit import Resistor
from ..facts import fact
from ..lines import Bound, Judgement, Line, judged
from ..readings import Bench
from ..telling import against, cannot_be, named, percent, shown, tell
from .codes import ohm_code
from .limits_of_parts import drift


def rule(name: str) -> float:
    """A number of ``data/components/rules.csv``."""
    return float(fact("components", "rules", name)["value"])


def rule_bound(name: str, low: float | None, high: float | None, title: str = "") -> Bound:
    """A bound that follows from a rule, with its source and confidence."""
    row = fact("components", "rules", name)
    return Bound(low, high, title or row["words"], row["source"], row["confidence"])


def is_pot(resistor: Resistor) -> bool:
    """Whether a resistor of the drawing is a pot: its use says so."""
    return resistor.use.split()[:1] == ["pot"]


def resistor_lines(bench: Bench) -> tuple[Line, ...]:
    """Every fixed resistor that is drawn, and every other that was measured."""
    drawn = {r.id: r for r in bench.circuit.resistors if not is_pot(r)}
    extra = [at for at in bench.places("resistor-ohm") if at not in drawn]
    return (
        *(_resistor(bench, at, resistor) for at, resistor in drawn.items()),
        *(_resistor(bench, at, None) for at in extra),
    )


def _resistor(bench: Bench, at: str, resistor: Resistor | None) -> Line:
    line = "resistor-ohm"
    value = bench.value(line, at)
    if resistor is None or resistor.ohm <= 0:
        says = f"{named(at)} is not drawn: {shown(value or 0.0, 'ohm')} is held against nothing."
        return tell(bench, line, at=at, value=value, says=says, readings=(bench.reading(line, at),))
    nominal, tolerance = resistor.ohm, resistor.tolerance
    title = f"{ohm_code(nominal)}, {tolerance * 100:g} %"
    bounds = (
        Bound(
            nominal * (1 - tolerance),
            nominal * (1 + tolerance),
            title,
            bench.circuit.source,
            bench.circuit.confidence,
        ),
    )
    if value is None:
        says = f"Measure {named(at)}: {shown(nominal, 'ohm')}."
    elif cannot_be(bench.kinds[line], value):
        says = ""
    else:
        says = f"{named(at)} is {shown(value, 'ohm')}, {against(value, bounds, 'ohm')}; "
        says += f"{percent(drift(value, nominal))} off its marking."
        says += _meaning(judged(value, bounds), drift(value, nominal), tolerance)
    return tell(
        bench,
        line,
        at=at,
        value=value,
        bounds=bounds,
        expected=nominal,
        spread=nominal * tolerance / 2,
        says=says,
        works="reading / marking - 1; tolerance taken as two standard deviations",
        readings=(bench.reading(line, at),),
    )


def _meaning(found: Judgement, off: float, tolerance: float) -> str:
    if found is Judgement.HIGH:
        words = " Carbon composition drifts upwards with age and heat (common practice)."
        if off > rule("drift-high") * tolerance:
            words += " More than twice its tolerance: replace it, and keep the old one."
        return words
    if found is Judgement.LOW:
        return (
            " A resistor seldom falls: is something in parallel, a leg not lifted, or is it "
            "scorched?"
        )
    return ""
