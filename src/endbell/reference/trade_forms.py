"""Rows about the trade at large: classes, assumptions, checks, codes, labels."""

from __future__ import annotations

from pydantic import Field

from .fields import (
    Amount,
    Count,
    Digits,
    Flag,
    Id,
    Kind,
    Legibility,
    Letter,
    Level,
    MaybeDay,
    MaybeShare,
    Minutes,
    Month,
    Number,
    PartWordText,
    Patterns,
    Share,
    Strictness,
    Text,
    Texts,
    Week,
    Year,
    Years,
)
from .row_form import RowForm


class AssumptionForm(RowForm):
    """A number with a name that the model takes for granted."""

    name: Id
    value: Number
    unit: str = ""
    words: str = ""


class ClassForm(RowForm):
    """A class of part."""

    id: Id
    title: Text
    plural: Text
    words: Texts = Field(default=[])
    dated: Flag


class UsualIdForm(RowForm):
    """A usual part id, its class and its assembly."""

    id: Id
    part_class: Id = Field(alias="class")
    assembly: Id


class AssemblyForm(RowForm):
    """An assembly of parts."""

    id: Id
    title: Text


class CautionForm(RowForm):
    """What has to be said before work at a level."""

    level: Level
    text: Text


class PartWordForm(RowForm):
    """The word for a part whose P(original) lies between two numbers; the first row that fits."""

    word: PartWordText
    low: Share
    high: Share


class EraForm(RowForm):
    """A point of the broad era prior."""

    year: Year
    weight: Amount


class ConditionForm(RowForm):
    """A condition word and how often it is seen, by the origin of the part."""

    word: Id
    title: Text
    group: Id
    if_original: Share
    if_later: Share
    if_period: Share


class CheckForm(RowForm):
    """A look that can be made at a class of part."""

    id: Id
    title: Text
    part_class: Id = Field(alias="class")
    kind: Kind
    level: Level
    minutes: Minutes
    legible: Share
    found_original: MaybeShare = None
    found_replaced: MaybeShare = None


class ConfusionForm(RowForm):
    """P(seen | true) for one true character; the columns sum to one."""

    legibility: Legibility
    true: Letter


class DigitConfusionForm(ConfusionForm):
    """P(digit seen | true digit)."""

    seen_0: Share = Field(alias="0")
    seen_1: Share = Field(alias="1")
    seen_2: Share = Field(alias="2")
    seen_3: Share = Field(alias="3")
    seen_4: Share = Field(alias="4")
    seen_5: Share = Field(alias="5")
    seen_6: Share = Field(alias="6")
    seen_7: Share = Field(alias="7")
    seen_8: Share = Field(alias="8")
    seen_9: Share = Field(alias="9")


class LetterConfusionForm(ConfusionForm):
    """P(letter seen | true letter)."""

    seen_A: Share = Field(alias="A")
    seen_B: Share = Field(alias="B")
    seen_C: Share = Field(alias="C")
    seen_D: Share = Field(alias="D")
    seen_E: Share = Field(alias="E")
    seen_F: Share = Field(alias="F")
    seen_G: Share = Field(alias="G")
    seen_H: Share = Field(alias="H")
    seen_I: Share = Field(alias="I")
    seen_J: Share = Field(alias="J")
    seen_K: Share = Field(alias="K")
    seen_L: Share = Field(alias="L")
    seen_M: Share = Field(alias="M")
    seen_N: Share = Field(alias="N")
    seen_O: Share = Field(alias="O")
    seen_P: Share = Field(alias="P")
    seen_Q: Share = Field(alias="Q")
    seen_R: Share = Field(alias="R")
    seen_S: Share = Field(alias="S")
    seen_T: Share = Field(alias="T")
    seen_U: Share = Field(alias="U")
    seen_V: Share = Field(alias="V")
    seen_W: Share = Field(alias="W")
    seen_X: Share = Field(alias="X")
    seen_Y: Share = Field(alias="Y")
    seen_Z: Share = Field(alias="Z")


class GrammarForm(RowForm):
    """The grammar of digit codes."""

    choice_slack: Share
    lost_ratio: Share
    stray_end: Share
    separators: Text
    first_week: Week
    last_week: Week


class CodeShapeForm(RowForm):
    """How many digits of source, year and week a code has."""

    source_digits: Digits
    year_digits: Digits
    week_digits: Digits


class LetterYearForm(RowForm):
    """A year letter of the two-character date code and the years it stands for."""

    letter: Letter
    years: Years


class LetterMonthForm(RowForm):
    """A month character of the two-character date code."""

    letter: Letter
    month: Month


class TermForm(RowForm):
    """A term on a label that dates its printing."""

    id: Id
    patterns: Patterns = Field(default=[])
    not_before: MaybeDay = None
    not_after: MaybeDay = None
    strictness: Strictness
    words: Text


class PatentYearForm(RowForm):
    """First utility and design patent numbers of a year."""

    year: Year
    first_utility: Count
    first_design: Count
