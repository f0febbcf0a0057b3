"""Lines of the first power-up: mains limited, current and rails watched."""

from __future__ import annotations

from ..circuit import Rail
from ..lines import Bound, Judgement, Line, judged
from ..readings import Bench
from ..telling import against, shown, tell, usable
from .fusing import running_current
from .mains import scaled
from .standing import mains_of, rule, rule_bound, tap_of
from .supply_lines import supply_of


def limited_lines(bench: Bench) -> tuple[Line, ...]:
    """Voltage at the amp, current, and every rail, on limited mains."""
    supply = supply_of(bench)
    mains = mains_of(bench)
    tap = tap_of(bench, mains)
    peaks: dict[str, float] = {}
    if supply is not None and tap is not None:
        at_tap = tap.volts / mains.high
        peaks = {r: float(supply.cold[n]) * at_tap for r, n in supply.network.node.items()}
    rails = tuple(_rail(bench, rail, peaks.get(rail.id)) for rail in bench.circuit.rails)
    return (_volts(bench), _current(bench), *rails)


def _volts(bench: Bench) -> Line:
    line = "limited-mains-volts"
    value = bench.value(line)
    tap = tap_of(bench, mains_of(bench))
    bounds: tuple[Bound, ...] = ()
    if value is None:
        says = "Bring the mains up through a variable transformer or a series lamp."
    elif tap is None:
        says = f"{shown(value, 'V')} at the amp; no tap is drawn to hold it against."
    else:
        bounds = (rule_bound("tap-off", None, tap.volts * (1 + rule("tap-off"))),)
        says = f"{shown(value, 'V')} at the amp, {value / tap.volts:.0%} of {tap.told}."
    return tell(bench, line, value=value, bounds=bounds, says=says, readings=(bench.reading(line),))


def _current(bench: Bench) -> Line:
    line = "limited-current"
    value = bench.value(line)
    amps, told, reading = running_current(bench, tap_of(bench, mains_of(bench)))
    bounds: tuple[Bound, ...] = ()
    if amps is not None:
        bounds = (rule_bound("limited-most", None, rule("limited-most") * amps),)
    if value is None:
        says = f"Watch the current while the mains comes up; {told} at full mains."
    else:
        says = f"{shown(value, 'A')} while limited, {against(value, bounds, 'A')}; {told}."
        if judged(value, bounds) is Judgement.HIGH:
            says += " Switch off: a short, in the rectifier, a filter capacitor or the transformer."
    return tell(
        bench,
        line,
        value=value,
        bounds=bounds,
        expected=amps,
        says=says,
        readings=(bench.reading(line), reading),
    )


def _rail(bench: Bench, rail: Rail, peak: float | None) -> Line:
    """A rail on limited mains. ``peak``: V it can reach unloaded at the tap's own voltage.

    Cold valves draw nothing, so it may stand higher than its share; a valve rectifier at low heat
    gives little, which is no fault yet and no pass either.
    """
    line = "limited-rail"
    read = bench.value(line, rail.id)
    # a bias rail is below the chassis: it is held, and told, by its size
    value = None if read is None else abs(read)
    limited = usable(bench, "limited-mains-volts")
    tap = tap_of(bench, mains_of(bench))
    bounds: tuple[Bound, ...] = ()
    expected = None
    early = False
    if limited is not None and tap is not None:
        drawn = abs(rail.volts)
        expected = scaled(drawn, limited, tap.volts)
        off = rule("limited-rail-off")
        most = scaled(
            max(drawn * (1 + off), (peak or 0.0) * (1 + rule("limited-peak-off"))),
            limited,
            tap.volts,
        )
        bounds = (rule_bound("limited-rail-off", expected * (1 - off), most),)
        cold = bench.circuit.rectifier not in ("", "silicon") and rail.volts > 0
        early = cold and limited < rule("limited-warm") * tap.volts
    judgement: Judgement | None = None
    if value is None or read is None:
        says = f"Measure {rail.id} while the mains is limited."
    elif read * rail.volts < 0 and value > 1:
        judgement, value = Judgement.IMPOSSIBLE, read
        says = (
            f"{shown(read, 'V')} at {rail.id} cannot be: it should be "
            f"{'above' if rail.volts > 0 else 'below'} the chassis; the probes may be swapped."
        )
    elif expected is None or tap is None:
        says = f"{shown(value, 'V')} at {rail.id}; note the limited mains to hold it against."
    elif early and judged(value, bounds) is Judgement.LOW:
        judgement = Judgement.NO_LIMIT
        says = (
            f"{shown(value, 'V')} at {rail.id}, in proportion it would be {shown(expected, 'V')}, "
            f"but a valve rectifier is hardly warm yet: raise the mains to "
            f"{shown(rule('limited-warm') * tap.volts, 'V')} and measure again."
        )
    else:
        says = (
            f"{shown(value, 'V')} at {rail.id}, in proportion it would be "
            f"{shown(expected, 'V')}: {against(value, bounds, 'V')}."
        )
    return tell(
        bench,
        line,
        at=rail.id,
        value=value,
        judgement=judgement,
        bounds=bounds,
        expected=expected,
        says=says,
        works="drawn · limited mains / tap; upwards as far as the unloaded supply goes",
        readings=(bench.reading(line, rail.id), bench.reading("limited-mains-volts")),
    )
