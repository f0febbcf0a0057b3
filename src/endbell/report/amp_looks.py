"""What can be looked at on a part: the marks such a part bears, its features, its measures."""

from __future__ import annotations

from dataclasses import dataclass

from ..dossier.guess import borne_kinds
from ..dossier.parts import stem_of
from ..dossier.types import Mark
from ..reference.types import Check, ExpectedPart, Feature, Reference

CONDITION = "condition"
FEATURE = "feature"
MEASURED = "measured"
NAMED = "model-designation"
NAME_FEATURE = "loudspeaker-designation"
"""The feature that the mark of kind :data:`NAMED` speaks of: it is looked at by that mark."""


@dataclass(frozen=True, slots=True)
class Look:
    """One look at a part.

    ``id``: unique on its part ('serial', 'feature:knob-shape', 'measured:weave-pitch');
    ``title``: what is looked at; ``how``: the check's own words, where there is one;
    ``check``: the id under which the next checks name it.
    """

    id: str
    kind: str
    title: str
    level: str
    minutes: float | None = None
    how: str = ""
    check: str = ""
    feature: str | None = None
    quantity: str | None = None

    def made_by(self, mark: Mark) -> bool:
        """Whether ``mark`` (on the same part) is what this look came to."""
        if self.feature is not None:
            return mark.kind == FEATURE and mark.feature == self.feature
        if self.quantity is not None:
            return mark.kind == MEASURED and mark.quantity == self.quantity
        return mark.kind == self.kind


def looks_of(part: ExpectedPart, model: str | None, reference: Reference) -> tuple[Look, ...]:
    """Every look at ``part``: texts first, then features, measures and condition.

    ``model``: leaves out features that were never on that model; None takes all.
    """
    kinds = tuple(dict.fromkeys((*part.kinds, *borne_kinds(part.id, part.part_class, reference))))
    out = [
        _text_look(kind, part, reference)
        for kind in kinds
        if kind not in (FEATURE, MEASURED, CONDITION)
    ]
    named = NAMED in kinds
    out += [
        Look(
            f"{FEATURE}:{feature.id}",
            FEATURE,
            feature.title,
            feature.level,
            feature.minutes,
            check=feature.id,
            feature=feature.id,
        )
        for feature in reference.features.values()
        if _sits_on(feature.part, part.id)
        and _fitted(feature, model)
        and not (named and feature.id == NAME_FEATURE)
    ]
    out += [
        Look(
            f"{MEASURED}:{quantity.id}",
            MEASURED,
            quantity.title,
            quantity.level,
            quantity.minutes,
            how=f"measure the {quantity.title}",
            check=quantity.id,
            quantity=quantity.id,
        )
        for quantity in reference.quantities.values()
        if _sits_on(quantity.part, part.id)
    ]
    if CONDITION in kinds and reference.conditions:
        out.append(_text_look(CONDITION, part, reference))
    return tuple(out)


def lowest_level(looks: tuple[Look, ...], reference: Reference) -> str | None:
    """How little the amp has to be opened to see anything of the part; None: nothing is known."""
    order = {level: i for i, level in enumerate(reference.levels)}
    return min((look.level for look in looks), key=lambda level: order.get(level, 0), default=None)


def _text_look(kind: str, part: ExpectedPart, reference: Reference) -> Look:
    order = {level: i for i, level in enumerate(reference.levels)}
    check = min(
        (c for c in reference.checks if c.part_class == part.part_class and c.kind == kind),
        key=lambda c: order.get(c.level, len(order)),
        default=None,
    )
    if check is None:
        return Look(kind, kind, kind_title(kind), _usual_level(part, reference))
    return Look(
        kind, kind, kind_title(kind), check.level, check.minutes, how=check.title, check=check.id
    )


def kind_title(kind: str) -> str:
    """A kind of mark as a person says it.

    >>> kind_title("source-date-code"), kind_title("serial")
    ('date code', 'serial')
    """
    return _TITLES.get(kind, kind.replace("-", " "))


_TITLES = {
    "source-date-code": "date code",
    "model-designation": "name on it",
    "label-text": "wording",
    "hand-date": "date by hand",
    "document": "paper with a date",
    "year-stamp": "stamp",
}


def _usual_level(part: ExpectedPart, reference: Reference) -> str:
    """The level of the other checks of its class; else outside, which asks for no care."""
    found: list[Check] = [c for c in reference.checks if c.part_class == part.part_class]
    return found[0].level if found else reference.levels[0]


def _sits_on(wanted: str, part_id: str) -> bool:
    return wanted in (part_id, stem_of(part_id))


def _fitted(feature: Feature, model: str | None) -> bool:
    if model is None:
        return True
    return any(not v.models or model in v.models for v in feature.values)
