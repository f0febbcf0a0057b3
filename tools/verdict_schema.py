"""Writes docs/formats/verdict.schema.json, the form of ``endbell weigh FILE --json``.

The models below say what ``endbell.chronology.contract_form`` puts out; tests hold the two together
from both sides (a real verdict fits, and has no key that is not described here).
``python tools/verdict_schema.py`` writes the file.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

SCHEMA = Path(__file__).parents[1] / "docs" / "formats" / "verdict.schema.json"

P = Annotated[float, Field(ge=0, le=1, description="a probability")]
Week = Annotated[str, Field(pattern=r"^[0-9]{4}-W[0-9]{2}$", description="an ISO week")]
Run = Annotated[
    tuple[Week, Week, P], Field(description="first week, last week, the mass between them")
]
Runs = list[Run]
Years = Annotated[
    dict[Annotated[str, Field(pattern=r"^[0-9]{4}$")], P],
    Field(description="year of the week's Thursday; what has next to no mass is left out"),
]


class Form(BaseModel):
    """Unknown keys are allowed: a later version may say more under the same number."""

    model_config = ConfigDict(extra="allow")


class Pack(Form):
    version: str
    sha256: str = Field(pattern="^[0-9a-f]{64}$", description="over all files of the pack")


class Weeks(Form):
    start: Week
    p: list[P] = Field(description="one for each week from `start`; empty without --full")


class Sets(Form):
    """Smallest sets of weeks that hold at least so much."""

    half: Runs = Field(alias="0.50")
    most: Runs = Field(alias="0.80")
    nearly_all: Runs = Field(alias="0.95")


class Build(Form):
    edtf: str = Field(description="the 95% set by month, as an EDTF one-of-a-set")
    mode: Week = Field(description="the likeliest week")
    mode_year: int = Field(description="the likeliest year")
    p_mode_year: P
    years: Years
    decades: Years
    sets: Sets
    weeks: Weeks


class Model(Form):
    model: str = Field(description="a model of the packs in force; empty where no pack has one")
    p: P


class Part(Form):
    part_class: str = Field(alias="class")
    assembly: str
    original: P = Field(description="fitted to this amp when it left the factory")
    period_replacement: P
    later_replacement: P
    word: str = Field(description="by the pack's table of thresholds")
    stable: bool = Field(description="the word stands when an assumption is halved or doubled")


class Delivery(Form):
    parts: list[str]
    together: P = Field(description="all of them came in one delivery")
    all_original: P


class Assembly(Form):
    married: P = Field(description="it is another amp's")
    years: Years = Field(description="if it is another amp's: when that one was built")
    sets: dict[str, Runs] = Field(description="as for the amp, or empty")


class Clause(Form):
    clause: str
    p: P | None = Field(description="null where it can't be judged")


class Claim(Form):
    p: P | None = Field(description="all clauses hold together")
    clauses: list[Clause]
    weakest: str | None
    not_looked_at: list[str] = Field(description="claimed parts for which no mark was recorded")
    unjudged: list[str]


class Span(Form):
    start: int = Field(ge=0, description="of the text as typed")
    end: int
    group: str
    doubtful: bool


class Reading(Form):
    date: str = Field(description="as a person says it: 1963-W48, 1954-03, 1964")
    p: P = Field(description="after everything else has been weighed too")
    source: str | None = None
    source_name: str | None = None
    first: str | None = Field(None, description="first day, ISO 8601")
    last: str | None = None
    spans: list[Span] = []
    flags: list[str] = []


class Mark(Form):
    n: int = Field(ge=1, description="its number, in the order of the file")
    part: str
    kind: str
    text: str = Field(description="exactly as typed")
    feature: str | None = None
    quantity: str | None = None
    unit: str | None = None
    date: str | None = None
    value: str | float | None = None
    legibility: str
    result: str
    place: str
    photos: list[str]
    weighed: bool
    readings: list[Reading]
    influence_bits: float | None = Field(
        description="how far this mark alone moved the build date: the verdict with it against "
        "the verdict without it"
    )
    conflict: P | None = Field(description="tail probability given all other marks: small is odd")


class Conflict(Form):
    marks: list[int]
    p_all_right: P
    says: str


class Unstable(Form):
    assumption: str
    factor: float
    what: str


class Next(Form):
    check: str
    title: str
    part: str
    level: str
    minutes: float
    setup_minutes: float = Field(description="to get to this level for the first time, on top")
    gain_bits: float = Field(description="expected, its chance of a legible mark counted in")
    bits_per_minute: float
    settles: str
    caution: str = Field(description="what has to be said before this step; may be empty")
    then_bits: float | None = Field(description="with the best second look after it")
    then: str | None


class Sentence(Form):
    text: str
    marks: list[int] = Field(description="numbers of the marks it rests on")
    numbers: dict[str, float] = Field(description="every figure it says, by its path here")


class Problem(Form):
    file: str
    header: str
    table: int | None = Field(description="number of the table in the file, from 1")
    line: int | None
    found: str
    accepted: str
    nearest: list[str]


class Verdict(Form):
    format: Literal["endbell-verdict/1"]
    dossier: str
    file: str
    endbell: str = Field(description="version of the program")
    as_of: Week
    packs: dict[str, Pack]
    assumptions: dict[str, float] = Field(description="every one in force, by name")
    build: Build
    log_evidence: float = Field(description="natural logarithm")
    models: list[Model]
    parts: dict[str, Part]
    deliveries: list[Delivery]
    assemblies: dict[str, Assembly]
    claim: Claim | None = Field(description="null where nothing is claimed")
    marks: list[Mark]
    conflicts: list[Conflict]
    stable: bool
    unstable: list[Unstable]
    next: list[Next]
    next_says: str
    words: list[Sentence]
    cautions: list[str]
    not_weighed: list[Problem]
    notes: list[str]


def schema() -> dict[str, Any]:
    """The JSON Schema, draft 2020-12."""
    made = Verdict.model_json_schema(by_alias=True)
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema"}
    return head | made | {"title": "endbell-verdict/1"}


def text() -> str:
    """The schema file as it should be now."""
    return json.dumps(schema(), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    SCHEMA.write_text(text(), encoding="utf-8")
    print("written: docs/formats/verdict.schema.json")
