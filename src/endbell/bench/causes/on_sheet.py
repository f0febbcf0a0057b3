"""Causes of a sheet: its lines in, ranked faults and the next measurement out."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from ..gates import cautions_of, is_powered
from ..lines import Line
from ..readings import Bench
from .checks import check_lines
from .evidence import Evidence, evidence, looks
from .explaining import named, sides, ways, weights
from .fitted import Fitted, fitted
from .looking import Gain, next_looks
from .posterior import Belief, Seen, counts, likeliest, marginals, posterior
from .settled import Settled, set_aside
from .tables import UNLISTED, symptoms
from .types import Cause, Diagnosis, NextMeasurement

LEAST_P = 0.01
MOST_CAUSES = 10
MOST_NEXT = 5
LEAST_BITS = 0.001


def lines(bench: Bench) -> tuple[Line, ...]:
    """The checks by hand and ear that tell faults apart, those not made yet included."""
    return check_lines(bench)


def diagnose(lines: Sequence[Line], bench: Bench, allowed: Collection[str]) -> Diagnosis:
    """Likely causes of what is off, and the measurements worth making next.

    ``lines``: those that may be shown, not measured ones included; ``allowed``: ids of lines, or
    stages, that are safe to measure now.  Only a line of ``lines`` that is allowed is ever named as
    the next.  Causes are told where a line is off; where none is there is nothing to explain.
    """
    found = evidence(lines, bench)
    model, seen, aside = set_aside(fitted(bench), found.seen)
    belief = posterior(model.network, seen.items())
    p = belief.probabilities()
    none, one, two = counts(model.network, p)
    held, held_p = likeliest(model.network, p)
    off = any(seen.off for seen in found.seen.values())
    causes = _causes(model, belief, found, aside) if off else ()
    steps = _next(lines, bench, allowed, model, belief, found)
    unlisted = float(
        sum(m for m, f in zip(belief.marginals(), model.faults, strict=True) if f.id == UNLISTED)
    )
    return Diagnosis(
        causes=causes,
        next=steps,
        no_fault=none,
        one_fault=one,
        two_faults=two,
        unlisted=unlisted,
        beyond=model.network.beyond,
        likeliest=(*(one.fault.id for one in aside), *(model.faults[f].id for f in held)),
        likeliest_p=held_p,
        says=_says(off, causes, unlisted, len(found.seen)),
        settled=tuple(one.fault.id for one in aside),
        unexplained=tuple(_name(line) for line in found.unexplained),
        notes=_notes(model, found),
    )


def as_json(diagnosis: Diagnosis) -> dict[str, Any]:
    """The diagnosis as JSON holds it; ``causes`` and ``next`` are lists of records.

    A cause's ``at`` is one text ('V3, V4'); its places one by one stand in ``places``.
    """
    told: dict[str, Any] = asdict(diagnosis)
    told["causes"] = [
        {**asdict(cause), "at": ", ".join(cause.at), "places": list(cause.at)}
        for cause in diagnosis.causes
    ]
    return told


def _name(line: Line) -> str:
    return f"{line.id} at {line.at}" if line.at else line.id


def _causes(
    model: Fitted, belief: Belief, found: Evidence, aside: tuple[Settled, ...]
) -> tuple[Cause, ...]:
    after = belief.marginals()
    before = marginals(model.network, np.exp(model.network.log_prior))
    told = weights(belief)
    order = [int(i) for i in np.argsort(-after, kind="stable") if after[i] >= LEAST_P]
    out = [_settled(one, found) for one in aside]
    for i in order[:MOST_CAUSES]:
        fault = model.faults[i]
        for_it, against, at = sides(i, told, found)
        says = " ".join((*for_it[:3], *against[:2], model.ages[i], fault.remedy)).strip()
        out.append(
            Cause(
                fault=fault.id,
                title=fault.title,
                p=float(after[i]),
                prior=float(before[i]),
                at=at,
                says=" ".join(says.split()),
                speaks_for=for_it,
                speaks_against=against,
                remedy=fault.remedy,
                age=model.ages[i],
                source=fault.source,
                confidence=fault.confidence,
            )
        )
    return tuple(sorted(out, key=lambda cause: -cause.p))


def _settled(one: Settled, found: Evidence) -> Cause:
    """A fault that its own symptom is."""
    lines = found.lines[one.symptom]
    said = f"{named(lines)}, {ways(lines)}: that is this fault by definition."
    return Cause(
        fault=one.fault.id,
        title=one.fault.title,
        p=one.p,
        prior=one.prior,
        at=tuple(dict.fromkeys(line.at for line in lines if line.at)),
        says=" ".join((said, one.fault.remedy)),
        speaks_for=(said,),
        remedy=one.fault.remedy,
        age=one.age,
        source=one.fault.source,
        confidence=one.fault.confidence,
    )


def _next(
    lines: Sequence[Line],
    bench: Bench,
    allowed: Collection[str],
    model: Fitted,
    belief: Belief,
    found: Evidence,
) -> tuple[NextMeasurement, ...]:
    def may(line: Line) -> bool:
        return line.id in allowed or line.stage.value in allowed

    offered = looks(lines, bench, found, may)
    by_key = {look.key: line for look, line in offered}
    gains = next_looks(belief, [look for look, _ in offered], lambda key: key in by_key)
    return tuple(
        _step(gain, by_key[gain.look.key], bench, model, belief)
        for gain in gains[:MOST_NEXT]
        if gain.bits >= LEAST_BITS
    )


def _step(gain: Gain, line: Line, bench: Bench, model: Fitted, belief: Belief) -> NextMeasurement:
    kind = bench.kinds[line.id]
    settles = _settles(gain, model, belief)
    caution = line.caution or kind.caution
    if is_powered(kind):
        caution = " ".join(dict.fromkeys((caution, *cautions_of(kind.stage)))).strip()
    return NextMeasurement(
        line=line.id,
        at=line.at,
        title=line.title,
        stage=line.stage,
        minutes=gain.look.minutes,
        gain_bits=gain.bits,
        bits_per_minute=gain.rate,
        settles=settles,
        says=f"{settles} {caution}".strip(),
        caution=caution,
    )


def _settles(gain: Gain, model: Fitted, belief: Belief) -> str:
    """What either outcome does to the fault it moves most."""
    now = belief.marginals()
    best = 0.0
    told = ""
    for symptom, read, places in gain.look.shows:
        if symptom in belief.seen and belief.seen[symptom].off:
            continue
        off = belief.told(symptom, Seen(True, read, places)).marginals()
        well = belief.told(symptom, Seen(False, read, places)).marginals()
        moved = np.abs(off - well)
        moved[[i for i, f in enumerate(model.faults) if f.id == UNLISTED]] = 0.0
        fault = int(np.argmax(moved))
        chance = float(moved[fault])
        if chance > best:
            best = chance
            told = (
                f"{symptoms()[symptom].title}: then {_lower(model.faults[fault].title)} has "
                f"{off[fault]:.0%}, else {well[fault]:.0%} (now {now[fault]:.0%})."
            )
    return told


def _lower(title: str) -> str:
    return title[:1].lower() + title[1:]


def _says(off: bool, causes: tuple[Cause, ...], unlisted: float, seen: int) -> str:
    if not seen:
        return "Nothing has been measured that a fault would show in."
    if not off:
        return "Nothing that was measured is off, so there is nothing to explain yet."
    if not causes:
        return "No fault of the list is likely."
    best = causes[0]
    if best.fault == UNLISTED:
        return (
            f"Something that is not in the list, or more than two faults at once, has {best.p:.0%}:"
            " repair what is plain, measure again, look again."
        )
    return (
        f"Likeliest: {_lower(best.title)}, {best.p:.0%}; something that is not in the list has "
        f"{unlisted:.0%}."
    )


def _notes(model: Fitted, found: Evidence) -> tuple[str, ...]:
    notes = [
        "Priors and strengths are assumptions of the trade's common practice; none is published.",
        "At most two faults at a time are reckoned with: repair, measure again, and look again. By "
        f"the same rates {model.network.beyond:.0%} of amps would have more.",
    ]
    if found.unexplained:
        names = ", ".join(_name(line) for line in found.unexplained)
        notes.append(f"Off, and no fault of the list speaks to it: {names}.")
    return tuple(notes)
