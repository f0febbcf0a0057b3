"""The form of a pack, ``endbell-pack/1``, as pydantic models: the edge where input is untrusted.

Imported only to check packs that are not shipped and to write the JSON Schema.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from .fields import Ids, MaybeId, Text
from .maker_forms import (
    AlternativeForm,
    ChartForm,
    DesignationForm,
    ExpectedForm,
    FeatureForm,
    FeatureValueForm,
    ModelForm,
    QuantityForm,
    RunForm,
    SerialForm,
    SourceNumberForm,
    SupplyForm,
)
from .trade_forms import (
    AssemblyForm,
    AssumptionForm,
    CautionForm,
    CheckForm,
    ClassForm,
    CodeShapeForm,
    ConditionForm,
    DigitConfusionForm,
    EraForm,
    GrammarForm,
    LetterConfusionForm,
    LetterMonthForm,
    LetterYearForm,
    PartWordForm,
    PatentYearForm,
    TermForm,
    UsualIdForm,
)


class PackFile(BaseModel):
    """A ``.toml`` file of a reference pack: the head in ``pack.toml``, tables in any file.

    A ``.csv`` file holds the rows of the table it is named after.
    """

    model_config = ConfigDict(extra="forbid", title="endbell-pack/1")

    format: Literal["endbell-pack/1"] | None = None
    id: MaybeId = None
    version: Text | None = None
    title: Text | None = None
    builds_on: Ids = Field(default=[])
    source: str = ""
    confidence: str = ""
    note: str = ""
    assumption: list[AssumptionForm] = []
    class_: list[ClassForm] = Field(default=[], alias="class")
    usual_id: list[UsualIdForm] = []
    assembly: list[AssemblyForm] = []
    caution: list[CautionForm] = []
    part_word: list[PartWordForm] = []
    era: list[EraForm] = []
    condition: list[ConditionForm] = []
    check: list[CheckForm] = []
    digit_confusion: list[DigitConfusionForm] = []
    letter_confusion: list[LetterConfusionForm] = []
    grammar: list[GrammarForm] = []
    code_shape: list[CodeShapeForm] = []
    letter_year: list[LetterYearForm] = []
    letter_month: list[LetterMonthForm] = []
    chart: list[ChartForm] = []
    serial: list[SerialForm] = []
    term: list[TermForm] = []
    patent_year: list[PatentYearForm] = []
    designation: list[DesignationForm] = []
    model: list[ModelForm] = []
    run: list[RunForm] = []
    expected: list[ExpectedForm] = []
    supply: list[SupplyForm] = []
    source_number: list[SourceNumberForm] = []
    feature: list[FeatureForm] = []
    feature_value: list[FeatureValueForm] = []
    quantity: list[QuantityForm] = []
    alternative: list[AlternativeForm] = []
