"""One look, designed: how legible it is, which characters can be read, what a paper says."""

from __future__ import annotations

from datetime import date, timedelta

from .calendar import week_of
from .choices import ABSENT
from .dates import HAND_FORMS
from .design import CODES, DATING, Look
from .dice import Dice
from .layout import PLAIN, UNREAD, Grammar, Shape, layout
from .texts import Eye
from .world import World

_FAILED = 0.04  # looks that say nothing
_WORN, _POOR = 0.14, 0.06
_UNCLEAR = 0.12  # texts with characters that can't be read
_PAPERS = (
    "shop receipt, no. {}",
    "repair ticket {}",
    "photograph, dated on its back",
    "bill of sale, no. {}",
    "letter from the first owner",
)


class Looker:
    """Draws looks for one world."""

    def __init__(self, world: World, eye: Eye) -> None:
        self.world = world
        grammar = world.reference.tables.grammar
        shapes = tuple((s.source_digits, s.year_digits) for s in grammar.shapes)
        self._source = Grammar(shapes, grammar.stray_end, grammar.lost_ratio)
        self._plain = Grammar(((0, 2), (0, 1)), grammar.stray_end, grammar.lost_ratio)
        # a full stop beside lost characters would be one more of their dots
        self._separators = [c for c in grammar.separators if c not in ".…"]
        self._unclean = [k for k in eye.legibilities if k != "clear"]

    def look(
        self,
        dice: Dice,
        kind: str,
        what: str,
        result: str,
        part_class: str,
        week: int,
        styles: dict[str, int],
    ) -> Look:
        """A look of a kind; ``week``: the phantom's, ``styles``: source digits by class so far."""
        look = Look(kind, what=what, result=result)
        if result != "seen":
            return look
        if dice.chance(_FAILED):
            look.result = "illegible" if dice.chance(0.7) else "not-possible"
            return look
        if kind == "source-date-code":
            self._source_code(dice, look, styles.setdefault(part_class, self._digits(dice)))
        elif kind == "date-code":
            self._date_code(dice, look)
        elif kind == "hand-date":
            self._hand_date(dice, look)
        elif kind in ("chart-letters", "year-stamp"):
            self._wear(dice, look)
            look.pair = _pair(dice)
            if kind == "year-stamp" and UNREAD not in look.pair and dice.chance(0.45):
                look.what = "front"
        elif kind == "serial":
            self._serial(dice, look)
        elif kind == "measured":
            scale = self.world.scale(what)
            look.unit = dice.one_of(tuple(scale.factors)) if dice.chance(0.3) else scale.unit
            look.number = scale.uncertainty(dice, look.unit)
            look.text = "unit" if dice.chance(0.6) else ""
        elif kind == "label-text":
            look.text = self.world.labels.wording(dice, week)
            look.printing = self.world.labels.printing(look.text)
        elif kind == "patent-number":
            look.text, look.printing = self.world.labels.patent(dice, week)
        elif kind == "document":
            self._document(dice, look, week)
        elif kind == "feature":
            look.text = ABSENT if dice.chance(0.5) else ""
        return look

    def _wear(self, dice: Dice, look: Look) -> None:
        at = dice.u()
        if self._unclean and at < _WORN + _POOR:
            look.legibility = self._unclean[0] if at < _WORN else self._unclean[-1]

    def _digits(self, dice: Dice) -> int:
        """How many source digits a class's codes seem to have in this amp."""
        lengths = {source for source, _ in self._source.shapes}
        at = dice.u()
        wished = 3 if at < 0.95 else 4 if at < 0.985 else 2
        return wished if wished in lengths else min(lengths)

    def _source_code(self, dice: Dice, look: Look, digits: int) -> None:
        self._wear(dice, look)
        shapes: list[Shape] = [s for s in self._source.shapes if s[0] == digits]
        base = dice.one_of(shapes)  # one or two digits of the year, half and half
        look.layout = layout(dice, base, self._source, self._separators, _UNCLEAR)

    def _date_code(self, dice: Dice, look: Look) -> None:
        self._wear(dice, look)
        table = self.world.reference.tables.letter_dates
        if table.years and table.months and dice.chance(0.15):
            look.pair = _pair(dice)
            look.pair = (min(look.pair[0], UNREAD), min(look.pair[1], UNREAD))
        else:
            base = (0, 2) if dice.chance(0.5) else (0, 1)
            look.layout = layout(dice, base, self._plain, (), _UNCLEAR)

    def _hand_date(self, dice: Dice, look: Look) -> None:
        look.what = HAND_FORMS[0] if dice.chance(0.4) else dice.one_of(HAND_FORMS)
        if look.what == HAND_FORMS[0]:
            self._wear(dice, look)
            if dice.chance(0.1):
                look.unread = (dice.below(6),)

    def _serial(self, dice: Dice, look: Look) -> None:
        serials = self.world.serials
        if serials.can_wear:
            self._wear(dice, look)
        if len(serials.inner) > 1 and dice.chance(_UNCLEAR):
            look.unread = (dice.one_of(serials.inner),)

    def _document(self, dice: Dice, look: Look, week: int) -> None:
        """A paper some years after the phantom's week, dated by day, month or year."""
        look.text = dice.one_of(_PAPERS).format(1000 + dice.below(9000))
        latest = self.world.calendar.as_of
        after = week + dice.exponential_weeks(300.0) - 8
        day = min(self.world.calendar.day(after, dice.below(7)), latest)
        at = dice.u()
        if at < 0.6:
            look.day, last = day.isoformat(), day
        elif at < 0.8:
            look.day = f"{day.year}-{day.month:02d}"
            last = date(day.year + day.month // 12, day.month % 12 + 1, 1) - timedelta(days=1)
        else:
            look.day, last = str(day.year), date(day.year, 12, 31)
        look.week = week_of(last)


def dates(world: World, part_class: str, look: Look) -> bool:
    """Whether such a look dates a part of the class (docs/model.md, section 6)."""
    if look.result != "seen" or look.kind not in DATING:
        return False
    if look.kind in CODES:
        return True
    known = world.reference.classes.get(part_class)
    return known is not None and known.dated


def _pair(dice: Dice) -> tuple[int, int]:
    """Two characters: mostly both read, else one unread, or one of two."""
    at = dice.u()
    if at < 0.85:
        return PLAIN, PLAIN
    sort = UNREAD if at < 0.92 else 2
    return (sort, PLAIN) if dice.chance(0.5) else (PLAIN, sort)
