"""When a pack says that a feature's value was fitted: the ground a feature's row stands on."""

from __future__ import annotations

from datetime import date

from ..chronology.verdict import MarkVerdict, Verdict
from ..reference.types import Reference
from .numbers import years_words

DESIGNATION = "loudspeaker-designation"
"""The feature that loudspeaker names are weighed as (docs/model.md, section 8)."""

Window = tuple[date | None, date | None]


def windows(mark: MarkVerdict, verdict: Verdict, reference: Reference | None) -> tuple[Window, ...]:
    """First and last day (None: open) of each stretch in which the value seen was fitted.

    On the likeliest model; a value fitted to several models at overlapping times is one stretch.
    Empty where the mark is no feature or no pack knows the value.
    """
    m = mark.mark
    value = mark.readings[0].label if mark.readings else m.value
    name = DESIGNATION if m.kind == "model-designation" else m.feature
    feature = reference.features.get(name) if reference is not None and name else None
    if feature is None:
        return ()
    model = max(verdict.models, key=lambda odds: odds.p).model if verdict.models else ""
    found = [
        (v.window.first, v.window.last)
        for v in feature.values
        if v.value == value and (not v.models or model in v.models)
    ]
    return _merged(found)


def windows_words(found: tuple[Window, ...]) -> str:
    """'fitted 1959–64', 'fitted from 1993', one after the other."""
    said: list[str] = []
    for first, last in found:
        if first is not None and last is not None:
            said.append(years_words(first.year, last.year))
        elif first is not None:
            said.append(f"from {first.year}")
        elif last is not None:
            said.append(f"to {last.year}")
    if not found:
        return ""
    return f"fitted {', '.join(said)}" if said else "fitted throughout"


def _merged(found: list[Window]) -> tuple[Window, ...]:
    out: list[Window] = []
    for first, last in sorted(found, key=lambda w: w[0] or date.min):
        if out and (out[-1][1] is None or first is None or first <= out[-1][1]):
            before = out[-1][1]
            end = None if before is None or last is None else max(before, last)
            out[-1] = (out[-1][0], end)
        else:
            out.append((first, last))
    return tuple(out)
