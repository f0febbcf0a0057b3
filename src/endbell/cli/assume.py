"""``--assume NAME=VALUE``: names checked against the packs in force, figures against their unit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from .errors import CommandError, nearest_sentence

if TYPE_CHECKING:
    from ..reference import Reference


def assumed(
    pairs: Sequence[str] | None, reference: Reference, option: str = "--assume"
) -> dict[str, float]:
    """The assumptions to change, by name; raises :class:`CommandError` for an unknown name."""
    from ..dossier.values import nearest_words

    out: dict[str, float] = {}
    for pair in pairs or ():
        name, equals, value = (piece.strip() for piece in pair.partition("="))
        if not equals or not name:
            raise CommandError(
                f"{option} '{pair}'; accepted: NAME=VALUE, such as delivery.concentration=0.4"
            )
        known = reference.assumptions.get(name)
        if known is None:
            near = nearest_sentence(nearest_words(name, reference.assumptions))
            raise CommandError(f"{option} {name}: no assumption of that name{near}")
        now = f"now {known.value:g} {known.unit}".rstrip()
        try:
            number = float(value)
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            raise CommandError(f"{option} {name} is '{value}'; accepted: a number ({now})")
        if known.unit == "probability" and not 0 <= number <= 1:
            raise CommandError(
                f"{option} {name} is {value}; accepted: a probability from 0 to 1 ({now})"
            )
        if number < 0:
            raise CommandError(
                f"{option} {name} is {value}; accepted: a number not below 0 ({now})"
            )
        out[name] = number
    if out:
        from ..chronology import AssumptionError, assumptions_in_force

        try:
            assumptions_in_force(reference, out)
        except AssumptionError as error:
            raise CommandError(f"{option} {error}") from error
    return out
