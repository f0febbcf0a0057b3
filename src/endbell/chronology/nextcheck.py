"""Which look is worth its minutes: expected information, one look and two looks ahead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..dossier.types import Dossier
from .candidates import Around, candidates, setup_minutes
from .factors import PartEvidence
from .joint import Joint
from .looking import Candidate, View, after, information, settles, view_of
from .verdict import MarkVerdict, NextCheck

BEST = 5


def next_checks(
    joint: Joint,
    evidence: Sequence[PartEvidence],
    dossier: Dossier,
    marks: Sequence[MarkVerdict],
    looks: int,
) -> tuple[tuple[NextCheck, ...], str]:
    """Looks worth their minutes, by level (outside first), best first within a level, and a
    sentence.

    Raises nothing; with ``looks`` 0 nothing is worked out.
    """
    if looks < 1:
        return (), ""
    setting = joint.setting
    view, inside = view_of(joint, dossier)
    around = Around(joint, evidence, dossier, marks, view.weeks, inside)
    stop = setting.assume["next.stop_bits_per_minute"]
    gains: list[tuple[Candidate, float]] = []
    for c in candidates(around):
        gain = c.legible * float(information(view, view.holds[None], view.fails[None], c)[0])
        if gain / c.minutes >= stop:
            gains.append((c, gain))
    if not gains:
        return (), "Nothing left is worth its minutes."
    order = {level: i for i, level in enumerate(setting.reference.levels)}
    gains.sort(
        key=lambda g: (order.get(g[0].level, 9), -g[1] / g[0].minutes, g[0].check, g[0].part)
    )
    cautions = setting.reference.cautions
    out = [
        NextCheck(
            check=c.check,
            title=c.title,
            part=c.part,
            level=c.level,
            minutes=c.minutes,
            gain_bits=gain,
            bits_per_minute=gain / c.minutes,
            settles=settles(view, c),
            caution=cautions.get(c.level, ""),
            setup_minutes=setup_minutes(c.level, around),
        )
        for c, gain in gains
    ]
    if looks > 1:
        out = _second_looks(view, gains, out)
    best = best_of(out)
    setup = f" after {best.setup_minutes:g} to get there" if best.setup_minutes else ""
    return tuple(out), (
        f"Best for its minutes: {best.title} ({best.part}), "
        f"{best.minutes:g} min{setup}, {best.level}."
    )


def best_of(checks: Sequence[NextCheck]) -> NextCheck:
    """The look that tells most a minute, the minutes to get to its level counted in."""
    return max(checks, key=lambda n: n.gain_bits / (n.minutes + n.setup_minutes))


def _second_looks(
    view: View, gains: Sequence[tuple[Candidate, float]], out: Sequence[NextCheck]
) -> list[NextCheck]:
    """For the best five by minutes: what the best look after it would add, outcome by outcome."""
    best = sorted(range(len(gains)), key=lambda i: -gains[i][1] / gains[i][0].minutes)[:BEST]
    done = list(out)
    for i in best:
        first, gain = gains[i]
        others = [gains[j][0] for j in best if j != i]
        if not others:
            continue
        holds, fails = after(view, first)
        mass = holds.sum(axis=(1, 2, 3)) + fails.sum(axis=(1, 2, 3))
        each = np.stack([c.legible * information(view, holds, fails, c) for c in others])
        adds = each @ mass
        best_after = float(each.max(axis=0) @ mass)
        unread = np.array([gains[j][1] for j in best if j != i])
        adds = first.legible * adds + (1 - first.legible) * unread
        best_after = first.legible * best_after + (1 - first.legible) * float(unread.max())
        then = others[int(np.argmax(adds))]
        done[i] = replace(done[i], then_bits=gain + best_after, then=f"{then.title} ({then.part})")
    return done
