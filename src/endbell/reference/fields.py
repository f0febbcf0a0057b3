"""What a cell of a pack accepts, as annotated types; each says so in the words of a report."""

from __future__ import annotations

import re
from datetime import date
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from .cells import DAY_FORMS, day, split_list, split_mapping


def _listed(value: object) -> object:
    return list(split_list(value)) if isinstance(value, str) else value


def _mapped(value: object) -> object:
    return split_mapping(value) if isinstance(value, str) else value


def _a_day(value: str | date | None) -> str | date | None:
    if isinstance(value, str):
        day(value, end=False)
    return value


def _a_pattern(value: str) -> str:
    try:
        re.compile(value)
    except re.error as error:
        raise ValueError(str(error)) from None
    return value


Id = Annotated[
    str,
    Field(
        pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]*$",
        description="an id: letters, digits, '-', '.' and '_', no spaces",
    ),
]
Text = Annotated[str, Field(min_length=1, description="a text")]
Ids = Annotated[list[Id], BeforeValidator(_listed), Field(description="a list of ids")]
Texts = Annotated[list[Text], BeforeValidator(_listed), Field(description="a list of texts")]
Day = Annotated[str | date, AfterValidator(_a_day), Field(description=DAY_FORMS)]
Share = Annotated[float, Field(ge=0, le=1, description="a number from 0 to 1")]
Amount = Annotated[float, Field(ge=0, allow_inf_nan=False, description="a number from 0 up")]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False, description="a number above 0")]
Number = Annotated[float, Field(allow_inf_nan=False, description="a number")]
Weeks = Annotated[float, Field(ge=0, le=1000, description="a number of weeks from 0 to 1000")]
Minutes = Annotated[
    float, Field(ge=0.01, le=1000, description="a number of minutes from 0.01 to 1000")
]
Year = Annotated[int, Field(ge=1000, le=9999, description="a year of four digits")]
Count = Annotated[int, Field(ge=0, le=10**9, description="a whole number from 0 up")]
SourceNumber = Annotated[
    str, Field(pattern=r"^[0-9]{2,4}$", description="a source number: two to four digits as text")
]
Pattern = Annotated[str, AfterValidator(_a_pattern), Field(description="a regular expression")]
Patterns = Annotated[
    list[Pattern], BeforeValidator(_listed), Field(description="regular expressions, no ';'")
]
Level = Annotated[
    Literal["outside", "back-off", "chassis-out", "loosened"],
    Field(description="outside, back-off, chassis-out or loosened"),
]
Kind = Annotated[
    Literal[
        "source-date-code",
        "date-code",
        "chart-letters",
        "year-stamp",
        "hand-date",
        "serial",
        "label-text",
        "patent-number",
        "model-designation",
        "feature",
        "measured",
        "condition",
        "document",
    ],
    Field(description="a kind of mark such as source-date-code, chart-letters, condition"),
]
Kinds = Annotated[list[Kind], BeforeValidator(_listed), Field(description="a list of kinds")]
Pairs = Annotated[
    dict[str, str],
    BeforeValidator(_mapped),
    Field(description="pairs such as { W = 'alnico' }, in CSV 'W=alnico;Z=ceramic'"),
]
Factors = Annotated[
    dict[str, Positive],
    BeforeValidator(_mapped),
    Field(description="numbers above 0 such as { cm = 10.0 }, in CSV 'cm=10;in=25.4'"),
]
Letter = Annotated[str, Field(min_length=1, max_length=1, description="one character")]
Years = Annotated[list[Year], BeforeValidator(_listed), Field(description="a list of years")]
Week = Annotated[int, Field(ge=0, le=99, description="a week number")]
Month = Annotated[int, Field(ge=1, le=12, description="a month from 1 to 12")]
Months = Annotated[
    str, Field(min_length=12, max_length=12, description="twelve letters, January first")
]
Flag = Annotated[bool, Field(description="true or false")]
Digits = Annotated[int, Field(ge=0, le=9, description="a number of digits, 0 to 9")]
Legibility = Annotated[Literal["clear", "worn", "poor"], Field(description="clear, worn or poor")]
Strictness = Annotated[Literal["hard", "soft", "info"], Field(description="hard, soft or info")]
Order = Annotated[
    Literal["year-month", "month-year"], Field(description="year-month or month-year")
]
PartWordText = Annotated[
    Literal["original", "probably original", "cannot tell", "probably replaced", "replaced"],
    Field(description="original, probably original, cannot tell, probably replaced or replaced"),
]
Origin = Annotated[str, Field(min_length=1, description="where this is from, as a text")]
Confidence = Annotated[str, Field(min_length=1, description="how sure this is, as a text")]
MaybeDay = Annotated[str | date | None, AfterValidator(_a_day), Field(description=DAY_FORMS)]
MaybeShare = Annotated[Share | None, Field(description="a number from 0 to 1")]
MaybeAmount = Annotated[Amount | None, Field(description="a number from 0 up")]
MaybeId = Annotated[Id | None, Field(description="an id: no spaces")]
