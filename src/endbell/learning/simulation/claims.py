"""What the seller says: a function of what is written on the amp and of chance, never of the truth.

So the probability that a claim holds, given everything seen, is the one the model gives for it.
"""

from __future__ import annotations

from ...reference.types import Reference
from .choices import Choices
from .design import Design
from .dice import Dice
from .drawing import Outcome
from .world import World
from .writing import Claimed

EVERYTHING = "everything"
_NONE = 0.1  # nothing is claimed
_BUILT, _MODEL, _ORIGINAL = 0.8, 0.55, 0.75
_UNLIKE = 0.1  # how far a feature that does not go with it speaks against a model or a year
_DOUBTED = 0.5  # replaced oftener than that: left out of 'everything'


def claim(dice: Dice, world: World, design: Design, found: Outcome) -> Claimed:
    """A claim, or an empty one."""
    out = Claimed()
    if dice.chance(_NONE):
        return out
    clauses = 0
    if dice.chance(_BUILT):
        out.built = _built(dice, world, found)
        clauses += 1
    if world.models[0] is not None and dice.chance(_MODEL):
        out.maker, out.model = _model(dice, world, found)
        clauses += 1
    if dice.chance(_ORIGINAL) or not clauses:
        _original(dice, world, design, out)
    if not (out.built or out.model or claimed_parts(design, out, world.reference)):
        out.built = _built(dice, world, found)
    return out


def holds(claim: Claimed, world: World, design: Design, found: Outcome) -> bool | None:
    """Whether the claim is true; None where nothing is claimed."""
    parts = claimed_parts(design, claim, world.reference)
    if not (claim.built or claim.model or parts):
        return None
    true = all(found.origins[p] == "original" for p in parts)
    if claim.built:
        first, last = years(claim.built)
        true = true and first <= world.calendar.year[found.fitted.week] <= last
    if claim.model:
        model = world.models[found.fitted.model]
        true = true and model is not None and model.id == claim.model
    return true


def years(built: str) -> tuple[int, int]:
    """First and last year of '1964', '1964?', '1963/1965', '196X'."""
    if built.endswith("X"):
        return int(built[:-1]) * 10, int(built[:-1]) * 10 + 9
    first, _, last = built.rstrip("?").partition("/")
    return int(first), int(last or first)


def claimed_parts(design: Design, claim: Claimed, reference: Reference) -> list[str]:
    """The recorded parts that are said to be original; the chassis is the amp itself."""
    return [
        p.id
        for p in design.parts
        if p.part_class != "chassis"
        and p.assembly != "papers"
        and any(_names(word, p.id, p.part_class, p.assembly, reference) for word in claim.original)
        and not any(_names(w, p.id, p.part_class, p.assembly, reference) for w in claim.excluded)
    ]


def _names(word: str, part: str, part_class: str, assembly: str, reference: Reference) -> bool:
    if word in (EVERYTHING, part, part_class, assembly):
        return True
    known = reference.classes.get(part_class)
    if known is not None and word in (known.plural, *known.words):
        return True
    stem, _, number = part.rpartition("-")
    return number.isdecimal() and word == stem


def _built(dice: Dice, world: World, found: Outcome) -> str:
    """A year taken from a date on the amp, made a little too early or too late now and then."""
    latest = world.calendar.as_of.year
    year = _year(dice, world, found) + dice.one_of((-1, 0, 0, 0, 0, 1, 1))
    year = min(max(year, 1930), latest)
    at = dice.u()
    if at < 0.45:
        return str(year) if at < 0.4 else f"{year}?"
    if at < 0.92:
        first = max(year - dice.below(3), 1930)
        return f"{first}/{first + 1 + dice.below(4)}"
    return f"{year // 10}X"


def _year(dice: Dice, world: World, found: Outcome) -> int:
    """The year that a date on the amp may mean; whole years are trusted more than one digit.

    Which decade a digit means is guessed: by what was made when, and by the features seen.
    """
    hint = ""
    if found.hints:
        trust = [3.0 if len(h) > 1 else 1.0 for h in found.hints]
        hint = found.hints[dice.weighted(trust)]
    if len(hint) == 4:
        return int(hint)
    years = [y for y in world.yearly if str(y).endswith(hint)]
    if len(hint) == 2 and len(years) != 1:
        return (1900 if int(hint) >= 30 else 2000) + int(hint)
    weights = [world.yearly[y] for y in years]
    for choices, value in _features(world, found):
        spans = choices.years(value)
        for i, year in enumerate(years):
            if spans and not any(first <= year <= last for first, last in spans):
                weights[i] *= _UNLIKE
    return years[dice.weighted(weights)]


def _features(world: World, found: Outcome) -> list[tuple[Choices, str]]:
    """The features seen, and as what."""
    out: list[tuple[Choices, str]] = []
    for mark in found.marks:
        value = str(mark.get("value", mark.get("result")))
        if mark["kind"] == "feature" and value not in ("illegible", "not-possible"):
            out.append((world.choices("feature", str(mark["feature"])), value))
    return out


def _model(dice: Dice, world: World, found: Outcome) -> tuple[str, str]:
    """The model that most of the features seen go with; now and then another."""
    votes = [1.0] * len(world.models)
    for choices, value in _features(world, found):
        open_to = choices.open_models(value)
        votes = [v * (1.0 if m in open_to else _UNLIKE) for m, v in enumerate(votes)]
    chosen = dice.weighted(votes) if dice.chance(0.8) else dice.below(len(votes))
    model = world.models[chosen]
    assert model is not None
    return model.maker, model.id


def _original(dice: Dice, world: World, design: Design, out: Claimed) -> None:
    """Parts said to be original: everything but what wears out, or some of them."""
    classes = world.reference.classes
    at = dice.u()
    if at < 0.3:
        out.original = [EVERYTHING]
        doubted = [
            c.plural for c in classes.values() if world.origin_weights(c.id)[0] < 1.0 - _DOUBTED
        ]
        if at < 0.26:
            out.excluded = doubted
        return
    parts = [p for p in design.parts if p.part_class != "chassis" and p.assembly != "papers"]
    chosen = dice.some(parts, 1 + dice.below(4))
    words: list[str] = []
    for part in chosen:
        known = classes.get(part.part_class)
        whole = known is not None and dice.chance(0.4)
        words.append(known.plural if known and whole else part.id)
    out.original = list(dict.fromkeys(words))
