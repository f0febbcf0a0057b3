"""Writes docs/formats/calibration.schema.json, the form of ``endbell calibrate --json``.

The models below say what ``endbell.learning.calibration.form`` puts out; tests hold the two
together from both sides.  ``python tools/calibration_schema.py`` writes the file.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

SCHEMA = Path(__file__).parents[1] / "docs" / "formats" / "calibration.schema.json"

P = Annotated[float, Field(ge=0, le=1, description="a probability or a share")]
Score = Annotated[float, Field(le=0, description="mean natural logarithm of a probability")]


class Form(BaseModel):
    """Unknown keys are allowed: a later version may say more under the same number."""

    model_config = ConfigDict(extra="allow")


class Pack(Form):
    version: str
    sha256: str = Field(pattern="^[0-9a-f]{64}$", description="over all files of the pack")


class Levels(Form):
    """By level of the set."""

    half: P = Field(alias="0.50")
    most: P = Field(alias="0.80")
    nearly_all: P = Field(alias="0.95")


class Errors(Form):
    """Expected calibration error by kind of statement; null where nothing was stated."""

    original: P | None
    later: P | None
    period: P | None
    married: P | None
    claim: P | None
    model: P | None
    decade: P | None


class Scores(Form):
    engine: Score
    latest: Score = Field(description="the latest code decides")
    median: Score = Field(description="the median of the codes")


class Set(Form):
    hit: P = Field(description="share of the sets that hold the true week")
    stated: P = Field(description="mean mass of the sets")
    se: float = Field(ge=0, description="of hit - stated where every set holds what it states")
    z: float
    weeks: float = Field(description="mean width")


class Sets(Form):
    half: Set = Field(alias="0.50")
    most: Set = Field(alias="0.80")
    nearly_all: Set = Field(alias="0.95")


class RankCurve(Form):
    z: list[P]
    difference: list[float] = Field(description="empirical distribution less z")
    lower: list[float]
    upper: list[float]


class Rank(Form):
    inside: bool
    p_value: P = Field(description="exact chance that uniform ranks go at least as far out")
    level: P
    gamma: P = Field(description="what each place alone may miss")
    held: P = Field(description="exact chance of keeping the whole band")
    curve: RankCurve


class Bin(Form):
    low: P
    high: P
    n: int = Field(ge=1)
    stated: P = Field(description="mean of what was stated")
    true: P = Field(description="share that was so")


class Doubtful(Form):
    """null: nothing was stated, or nothing could differ."""

    n: int
    base_rate: P | None
    ece: P | None
    ece_if_right: P | None = Field(description="its mean for statements that are exactly right")
    brier: P | None
    skill: float | None = Field(description="of the Brier score over stating the base rate")
    skill_if_right: float | None = Field(
        description="what statements that are exactly right would be expected to reach"
    )
    z: float = Field(description="whether more came true than stated, over dossiers")


class Reliability(Doubtful):
    curve: list[Bin]


class Kinds(Form):
    original: Reliability
    later: Reliability
    period: Reliability
    married: Reliability
    claim: Reliability
    model: Reliability
    decade: Reliability


class DoubtfulKinds(Form):
    original: Doubtful
    later: Doubtful
    period: Doubtful
    married: Doubtful
    claim: Doubtful
    model: Doubtful
    decade: Doubtful


class Rule(Form):
    log_score: Score
    gain: float = Field(description="of the engine over the rule")
    gain_se: float
    told_gain: float = Field(description="over the rule that knows its errors in this world")
    told_gain_se: float
    names_year: P
    names_gain: float
    names_gain_se: float


class Rules(Form):
    latest: Rule
    median: Rule


class RunScores(Form):
    week: Score
    year: Score
    names_year: P = Field(description="the likeliest year is right")
    rules: Rules


class Run(Form):
    packs: list[str]
    scenario: str
    title: str
    words: str
    n: int
    failed: int
    marks: float
    left_out: float
    codes: float
    sets: Sets
    rank: Rank
    reliability: Kinds
    doubtful: DoubtfulKinds
    decades: dict[Annotated[str, Field(pattern="^[0-9]{3}0$")], float] = Field(
        description="whether more amps came from it than stated, in standard errors"
    )
    scores: RunScores


class Bar(Form):
    run: str
    what: str
    figure: float | None
    wanted: str
    met: bool | None
    why: str


class Mend(Form):
    run: str
    words: str
    n: int
    coverage: tuple[P, P] = Field(description="of the 95% sets, before and after")
    log_score: tuple[Score, Score]
    names_year: tuple[P, P]


class Calibration(Form):
    format: Literal["endbell-calibration/1"]
    endbell: str = Field(description="version of the program")
    command: str = Field(description="gives the same figures again")
    n: int
    seed: int
    as_of: str = Field(description="a day, ISO 8601")
    packs: dict[str, dict[str, Pack]]
    coverage: dict[str, Levels]
    rank_inside_99: dict[str, bool]
    ece: dict[str, Errors]
    log_score: dict[str, Scores]
    runs: dict[str, Run]
    bars: list[Bar]
    mends: list[Mend]


def schema() -> dict[str, Any]:
    """The JSON Schema, draft 2020-12."""
    made = Calibration.model_json_schema(by_alias=True)
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema"}
    return head | made | {"title": "endbell-calibration/1"}


def text() -> str:
    """The schema file as it should be now."""
    return json.dumps(schema(), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    SCHEMA.write_text(text(), encoding="utf-8")
    print("written: docs/formats/calibration.schema.json")
