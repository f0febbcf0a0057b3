"""Rows about one maker: models, runs, parts, suppliers, features, serials."""

from __future__ import annotations

from pydantic import Field

from .fields import (
    Amount,
    Count,
    Day,
    Factors,
    Flag,
    Id,
    Ids,
    Kinds,
    Level,
    MaybeAmount,
    MaybeId,
    Minutes,
    Months,
    Number,
    Order,
    Pairs,
    Pattern,
    Positive,
    Share,
    SourceNumber,
    Text,
    Weeks,
    Year,
)
from .row_form import RowForm, WindowForm


class ChartForm(RowForm):
    """A maker's chart letters: year and month, one letter each."""

    id: Id
    first_year: Year
    years: Text
    months: Months
    order: Order = "year-month"


class SerialForm(RowForm):
    """A range of serials and the days between which it was issued."""

    id: Id
    prefix: str = ""
    first_number: Count
    last_number: Count
    first: Day
    last: Day
    spread_weeks: Positive
    models: Ids = Field(default=[])


class DesignationForm(RowForm):
    """How a loudspeaker maker names its models: groups magnet, size, power of a pattern."""

    id: Id
    pattern: Pattern
    magnets: Pairs = Field(default={})
    sizes: Pairs = Field(default={})
    powers: Text
    rising: Flag


class ModelForm(RowForm):
    """A model of a maker."""

    id: Id
    maker: Id
    title: Text
    odds: MaybeAmount = None
    softness_weeks: Weeks


class RunForm(WindowForm):
    """A production run of a model and its volume."""

    model: Id
    volume: Positive


class ExpectedForm(RowForm):
    """A part that models left the factory with."""

    id: Id
    part_class: Id = Field(alias="class")
    assembly: Id
    kinds: Kinds = Field(default=[])
    place: str = ""
    models: Ids = Field(default=[])


class SupplyForm(WindowForm):
    """A supplier's share of a class of part in a window."""

    number: SourceNumber
    name: Text
    part_class: Id = Field(alias="class")
    share: Share
    softness_weeks: Weeks
    models: Ids = Field(default=[])


class SourceNumberForm(RowForm):
    """The name behind a source number."""

    number: SourceNumber
    name: Text


class FeatureForm(RowForm):
    """A thing that can be looked at."""

    id: Id
    title: Text
    part: Id
    group: MaybeId = None
    cost_to_fake: Share
    softness_weeks: Weeks
    level: Level = "outside"
    minutes: Minutes = 1.0


class FeatureValueForm(WindowForm):
    """A value of a feature, when and on which models it was fitted."""

    feature: Id
    value: Id
    share: Amount = 1.0
    models: Ids = Field(default=[])


class QuantityForm(RowForm):
    """A measured quantity on a part."""

    id: Id
    title: Text
    part: Id
    unit: Text
    factors: Factors = Field(default={})
    cost_to_fake: Share
    softness_weeks: Weeks
    level: Level = "outside"
    minutes: Minutes = 3.0


class AlternativeForm(WindowForm):
    """A catalogued alternative of a quantity: mean and standard deviation in its unit."""

    quantity: Id
    value: Id
    mean: Number
    sd: Positive
    share: Amount = 1.0
    models: Ids = Field(default=[])
