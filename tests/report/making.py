"""The pieces that hand-made verdicts are put together from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from endbell.chronology.verdict import (
    AssemblyVerdict,
    BuildDate,
    ClaimVerdict,
    DeliveryVerdict,
    MarkVerdict,
    ModelOdds,
    PartVerdict,
    Run,
    Sentence,
    Verdict,
    WeighedReading,
)
from endbell.chronology.weeks import thursday, week_label, week_of
from endbell.dossier.types import Claim, Dossier, Mark, Part
from endbell.marks import Span, Tables
from endbell.marks.tables import CodeGrammar, LetterDates
from endbell.reference.types import (
    Assumption,
    Feature,
    FeatureValue,
    Model,
    PackStamp,
    PartClass,
    PartWord,
    Reference,
    Window,
)

AS_OF = date(2026, 3, 2)
WEEKS = week_of(AS_OF) + 1
SOURCES = {"993": "Halden Coil", "992": "Ninefold Controls", "995": "Ostrander"}
WORDS = (
    PartWord("original", 0.95, 1.0),
    PartWord("probably original", 0.75, 1.0),
    PartWord("replaced", 0.0, 0.05),
    PartWord("probably replaced", 0.0, 0.25),
    PartWord("cannot tell", 0.0, 1.0),
)


@dataclass(frozen=True)
class Case:
    """What a report is made from."""

    verdict: Verdict
    reference: Reference
    dossier: Dossier


def bumps(*peaks: tuple[int, int, float, float]) -> np.ndarray:
    """Normal bumps (year, week, spread in weeks, mass) on the grid, with a thin floor; sums to one."""
    t = np.arange(WEEKS)
    p = np.full(WEEKS, 1e-7)
    for year, week, spread, mass in peaks:
        middle = week_of(date.fromisocalendar(year, week, 4))
        bump = np.exp(-0.5 * ((t - middle) / spread) ** 2)
        p += mass * bump / bump.sum()
    return p / p.sum()


def runs(p: np.ndarray, mass: float) -> tuple[Run, ...]:
    """Highest-density runs of weeks that hold ``mass``."""
    order = np.argsort(-p, kind="stable")
    kept = np.sort(order[: int(np.searchsorted(np.cumsum(p[order]), mass)) + 1])
    cuts = np.split(kept, np.flatnonzero(np.diff(kept) > 1) + 1)
    return tuple((week_label(int(c[0])), week_label(int(c[-1])), float(p[c].sum())) for c in cuts)


def build_date(p: np.ndarray) -> BuildDate:
    """The verdict's summary of a distribution."""
    years: dict[int, float] = {}
    for week, mass in enumerate(p):
        years[thursday(week).year] = years.get(thursday(week).year, 0.0) + float(mass)
    decades: dict[int, float] = {}
    for year, mass in years.items():
        decades[year // 10 * 10] = decades.get(year // 10 * 10, 0.0) + mass
    mode_year = max(years, key=lambda y: years[y])
    sets = {level: runs(p, float(level)) for level in ("0.50", "0.80", "0.95")}
    months = [f"{thursday(a):%Y-%m}..{thursday(b):%Y-%m}" for a, b in _weeks(sets["0.95"])]
    return BuildDate(
        edtf=f"[{','.join(months)}]",
        mode=week_label(int(p.argmax())),
        mode_year=mode_year,
        p_mode_year=years[mode_year],
        years={y: m for y, m in years.items() if m >= 0.0005},
        decades={d: m for d, m in decades.items() if m >= 0.0005},
        sets=sets,
        start="1930-W01",
        weeks=p,
    )


def _weeks(found: Sequence[Run]) -> list[tuple[int, int]]:
    def index(week: str) -> int:
        return week_of(date.fromisocalendar(int(week[:4]), int(week[6:]), 4))

    return [(index(a), index(b)) for a, b, _ in found]


def week(
    label: str, p: float, source: str | None = None, spans: tuple[Span, ...] = ()
) -> WeighedReading:
    """A reading of one week."""
    monday = date.fromisocalendar(int(label[:4]), int(label[6:]), 1)
    sunday = date.fromisocalendar(int(label[:4]), int(label[6:]), 7)
    name = SOURCES.get(source or "")
    return WeighedReading(label, p, source, name, monday, sunday, spans)


def code(
    n: int,
    part: str,
    text: str,
    *readings: WeighedReading,
    legibility: str = "clear",
    bits: float = 0.8,
    conflict: float | None = 0.6,
) -> MarkVerdict:
    """A source-and-date code with its readings."""
    mark = Mark(
        n,
        part,
        "source-date-code",
        text,
        legibility,
        place="bell, lower edge",
        by="RT",
        line=10 * n,
    )
    return MarkVerdict(mark, readings, bits, conflict)


def part(name: str, part_class: str, assembly: str, original: float) -> PartVerdict:
    """A part with the word of the table for its P(original)."""
    word = next(row.word for row in WORDS if row.low <= original <= row.high)
    return PartVerdict(
        name, part_class, assembly, original, (1 - original) * 0.15, (1 - original) * 0.85, word
    )


def covering_colour() -> Feature:
    """A feature with two values, one after the other."""
    values = (
        FeatureValue("grey-tweed", Window(date(1959, 1, 1), date(1964, 12, 31))),
        FeatureValue("black-pebble", Window(date(1965, 1, 1), None)),
    )
    return Feature(
        "covering-colour", "colour of the covering", "covering", "dress", 0.3, 8.0, values
    )


def reference() -> Reference:
    """A reference just large enough for a report."""
    titles = {
        "output-transformer": "output transformer",
        "power-transformer": "power transformer",
        "potentiometer": "potentiometer",
        "loudspeaker": "loudspeaker",
        "covering": "covering",
    }
    return Reference(
        packs=(
            PackStamp("brackwater", "1", "a1" * 32),
            PackStamp("common-practice", "1", "b2" * 32),
        ),
        tables=Tables({}, {}, CodeGrammar((), 0.02, 0.5, 0.05, "- ."), LetterDates({}, {})),
        assumptions={
            "lag.potentiometer.median_weeks": Assumption(
                "lag.potentiometer.median_weeks",
                14.0,
                "weeks",
                "invented for the tests",
                "invented world",
            ),
        },
        classes={k: PartClass(k, t, f"{t}s", (t,), k != "covering") for k, t in titles.items()},
        usual_ids={},
        assemblies=("chassis", "cabinet", "speakers"),
        models=(
            Model("lantern-20", "brackwater", "Lantern 20", (Window(None, None),), 1.0, 8.0, ()),
        ),
        part_words=WORDS,
        features={"covering-colour": covering_colour()},
        cautions={"chassis-out": "Lethal voltages stay in a chassis after the plug is out."},
    )


def verdict(
    p: np.ndarray,
    marks: Sequence[MarkVerdict],
    parts: Sequence[PartVerdict],
    words: Sequence[Sentence],
    claim: ClaimVerdict | None = None,
    years: Mapping[int, float] | None = None,
) -> Verdict:
    """A verdict round a distribution, marks and parts."""
    married = AssemblyVerdict("cabinet", 0.02, years or {}, {})
    return Verdict(
        dossier="TRV-2026-0147",
        file="lantern.toml",
        endbell="0.1.0",
        as_of="2026-W10",
        packs=reference().packs,
        assumptions={"lag.potentiometer.median_weeks": 14.0},
        build=build_date(p),
        log_evidence=-41.2,
        models=(ModelOdds("lantern-20", 0.93),),
        parts=tuple(parts),
        deliveries=(DeliveryVerdict(("pot-1", "pot-2"), 0.97, 0.99),),
        assemblies=(married,),
        claimed=Claim(maker="brackwater", model="lantern-20", built="1964", by="seller"),
        claim=claim,
        marks=tuple(marks),
        conflicts=(),
        stable=True,
        unstable=(),
        next=(),
        next_says="Nothing left to look at is worth its minutes.",
        words=tuple(words),
        cautions=(),
        not_weighed=(),
    )


def case(v: Verdict) -> Case:
    """The verdict with its reference and the dossier it would come from."""
    parts = tuple(Part(p.part, p.part_class, p.assembly) for p in v.parts)
    marks = tuple(m.mark for m in v.marks)
    return Case(
        v,
        reference(),
        Dossier(
            v.dossier,
            AS_OF,
            v.file,
            "buy",
            ("brackwater",),
            claim=v.claimed,
            parts=parts,
            marks=marks,
        ),
    )
