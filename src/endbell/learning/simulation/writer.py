"""What is written for each look, given origin, model and week (docs/model.md, sections 4, 8).

Functions raise ``Again`` with the probability that the truth does not fit what the design says.
"""

from __future__ import annotations

from ...reference.types import ConditionWord
from .calendar import Weeks
from .choices import ABSENT
from .dates import Written, chart_letters, hand_date, letter_code, week_code, year_stamp
from .deliveries import LATER, ORIGINAL, Fitted, Made
from .design import ASSEMBLY, Design, Look, PartDesign
from .dice import Again, Dice
from .labels import OLDEST
from .names import DESIGNATION
from .texts import Eye
from .world import World
from .writing import Value
from .wrong import unrelated

Marked = tuple[dict[str, Value], str]
"""The keys of a mark beside its part and kind, and the year a reader takes from it."""


class Writer:
    """Writes the marks of one truth."""

    def __init__(self, dice: Dice, world: World, eye: Eye, design: Design) -> None:
        self.dice, self.world, self.eye, self.design = dice, world, eye, design
        self._common: dict[tuple[str, str], float | None] = {}
        self._wrong = self._simply_wrong() if world.twist.wrong_marks > 0.0 else set()

    def _simply_wrong(self) -> set[int]:
        """The looks whose marks are unrelated to the amp: only where the world is twisted so."""
        looks = [look for part in self.design.parts for look in part.looks]
        share = self.world.twist.wrong_marks
        return {id(x) for x in looks if x.result == "seen" and self.dice.chance(share)}

    # -- what the amp has to go with: papers, printing, serials -----------------------------------

    def papers(self, built: int) -> None:
        """Go on with the probability of the papers: the amp was there, or they are another's."""
        other = self.world.assume["document.other_amp"]
        for part in self.design.parts:
            for look in part.looks:
                if (
                    look.kind == "document"
                    and look.result == "seen"
                    and id(look) not in self._wrong
                ):
                    leak = 1.0 if built <= look.week else self.world.assume["document.leak"]
                    self.dice.keep((1.0 - other) * leak + other)

    def beforehand(self, part: PartDesign, origin: str, amp: Fitted) -> None:
        """Go on with the probability of a serial, and of what is printed on an undated part."""
        for look in part.looks:
            if look.kind == "serial" and look.result == "seen":
                self.world.serials.keep(self.dice, origin == ORIGINAL, amp.model, amp.week)
        printings = [
            x.printing
            for x in part.looks
            if x.printing is not None and not x.dates and id(x) not in self._wrong
        ]
        if printings:
            week = (
                self._printed(amp.week) if origin == ORIGINAL else self.dice.below(self.world.size)
            )
            labels = self.world.labels
            self.dice.keep(labels.fit(printings, week) / labels.best(printings))

    def _printed(self, built: int) -> int:
        """The week in which an original label was printed; it may lie before the grid."""
        a, heavy = self.world.assume, self.world.twist.heavy_tails
        while True:
            wait = self.dice.log_normal_weeks(
                a["label.lag_median_weeks"], a["label.lag_sigma"], heavy
            )
            if wait <= OLDEST:
                return built - wait

    # -- marks that date their part ---------------------------------------------------------------

    def dating(self, part: PartDesign, look: Look, made: Made) -> Marked:
        """A mark that dates its part."""
        if look.kind == "source-date-code":
            self.dice.keep(self.world.in_use(made.week))
        if id(look) in self._wrong:
            made = unrelated(self.dice, self.world, look)
        elif look.printing is not None:
            best = self.world.labels.best([look.printing])
            self.dice.keep(self.world.labels.fit([look.printing], made.week) / best)
        if look.printing is not None:
            return self._text(look, Written(look.text))
        return self._text(look, self._date(look, made.week, made.source))

    def _date(self, look: Look, week: int, source: str = "") -> Written:
        dice, world, eye = self.dice, self.world, self.eye
        if look.layout is not None:
            source = source if look.kind == "source-date-code" else ""
            return week_code(dice, world, eye, week, source, look.layout, look.legibility)
        if look.kind == "date-code":
            return letter_code(dice, world, eye, week, look.pair, look.legibility)
        if look.kind == "chart-letters":
            scheme = next(c for c in world.reference.tables.charts if c.id == look.what)
            return chart_letters(dice, world, eye, week, scheme, look.pair, look.legibility)
        if look.kind == "year-stamp":
            front = look.what == "front"
            return year_stamp(dice, world, eye, week, front, look.pair, look.legibility)
        unread = look.unread[0] if look.unread else None
        return hand_date(dice, world, eye, week, look.what, unread, look.legibility)

    # -- the others -------------------------------------------------------------------------------

    def look(self, part: PartDesign, look: Look, origin: str, amp: Fitted) -> Marked:
        """Any other mark of a part of that origin."""
        if look.result != "seen":
            named = {look.kind: look.what} if look.kind in ("feature", "quantity") else {}
            return {**named, "result": look.result}, ""
        wrong = id(look) in self._wrong
        if look.kind in ASSEMBLY:
            week = self._assembly_week(look, origin, amp)
            if wrong:
                week = unrelated(self.dice, self.world, look).week
            return self._text(look, self._date(look, week))
        if look.kind in ("feature", "model-designation"):
            return self._feature(part, look, origin, amp, wrong), ""
        if look.kind == "condition":
            words = self.world.conditions[look.what]
            rates = [1.0 if wrong else word_rate(w, origin) for w in words]
            return {"text": words[self.dice.weighted(rates)].word}, ""
        if look.kind == "serial":
            original = origin == ORIGINAL and not wrong
            drawn = self.world.serials.number(self.dice, original, amp.model, amp.week)
            text = self.world.serials.text(self.dice, self.eye, drawn, look.unread, look.legibility)
            return self._text(look, Written(text))
        if look.kind == "measured":
            return self._measured(look, origin, amp, wrong), ""
        if look.kind == "document":
            return {"text": look.text, "date": look.day}, ""
        return self._text(look, Written(look.text))

    def _text(self, look: Look, written: Written) -> Marked:
        out: dict[str, Value] = {"text": written.text}
        if look.legibility != "clear":
            out["legibility"] = look.legibility
        return out, written.year

    def _assembly_week(self, look: Look, origin: str, amp: Fitted) -> int:
        """The week a mark of final assembly says."""
        dice, a = self.dice, self.world.assume
        name = f"assembly_mark.{look.kind}"
        if origin == ORIGINAL and not dice.chance(a[f"{name}.misread"]):
            early, late = int(a[f"{name}.before_weeks"]), int(a[f"{name}.after_weeks"])
            return self.world.on_grid(amp.week + dice.between(-early, late))
        low, high = self.world.scheme_weeks(look.kind)
        return dice.between(low, high - 1)

    def _feature(
        self, part: PartDesign, look: Look, origin: str, amp: Fitted, wrong: bool
    ) -> dict[str, Value]:
        named = look.kind == "model-designation"
        name = DESIGNATION if named else look.what
        choices = self.world.choices("feature", name)
        if wrong:
            at = self.dice.below(len(choices.values))
        elif origin == ORIGINAL:
            group = "" if named else self.world.reference.features[name].group
            at = choices.original(amp.model, amp.week, self._u(part, group, choices.leak))
        else:
            at = choices.replaced(self.dice, amp.model, self._known_runs(amp.model))
        value = choices.values[at]
        if named:
            if value not in self.world.designations:
                raise Again
            return {"text": value}
        if value == ABSENT and look.text == ABSENT:
            return {"feature": name, "result": ABSENT}
        return {"feature": name, "value": value}

    def _u(self, part: PartDesign, group: str, leak: float) -> float:
        """Where an original's feature stands in its distribution: one place for a whole group.

        Features on dated parts, and on parts of a known repair, don't join the others.
        """
        if not group or part.dated:
            return self.dice.u()
        key = (group, f"part {part.id}" if part.repair else part.assembly)
        if key not in self._common:
            apart = self.dice.chance(leak)
            self._common[key] = None if apart else self.dice.u()
        common = self._common[key]
        return self.dice.u() if common is None else common

    def _known_runs(self, m: int) -> Weeks | None:
        return None if self.design.made is None else self.world.runs(m, self.design.made)

    def _measured(self, look: Look, origin: str, amp: Fitted, wrong: bool) -> dict[str, Value]:
        """A measured value: about its alternative's mean, or anywhere."""
        dice = self.dice
        scale = self.world.scale(look.what)
        choices = self.world.choices("quantity", look.what)
        if origin == ORIGINAL and not wrong:
            at = choices.original(amp.model, amp.week, dice.u())
        elif wrong:
            at = dice.below(len(choices.values))
        else:
            at = choices.replaced(dice, amp.model, self._known_runs(amp.model))
        factor = scale.factors[look.unit]
        x = scale.value(dice, choices.values[at], look.number * factor)
        out: dict[str, Value] = {"quantity": look.what, "value": scale.rounded(x / factor, factor)}
        if look.unit != scale.unit or look.text:
            out["unit"] = look.unit
        if look.number:
            out["uncertainty"] = look.number
        return out


def word_rate(word: ConditionWord, origin: str) -> float:
    """P(word | origin)."""
    if origin == ORIGINAL:
        return word.if_original
    return word.if_later if origin == LATER else word.if_period
