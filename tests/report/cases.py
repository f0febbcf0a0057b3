"""Verdicts made by hand, so that reports are judged on cases that real dossiers seldom show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from endbell.chronology.time import thursday, week_label, week_of
from endbell.chronology.verdict import (
    AssemblyVerdict,
    BuildDate,
    ClaimVerdict,
    Clause,
    ConflictSet,
    DeliveryVerdict,
    MarkVerdict,
    ModelOdds,
    NextCheck,
    PartVerdict,
    Run,
    Sentence,
    Unstable,
    Verdict,
    WeighedReading,
)
from endbell.dossier.types import Claim, Dossier, Mark, Part, Problem
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


def single_year() -> Case:
    """Everything agrees on spring 1964."""
    doubt = (Span(0, 3, "source"), Span(4, 5, "year"), Span(5, 7, "week", True))
    marks = [
        code(
            1,
            "ot",
            "993-3?8",
            week("1963-W48", 0.97, "993", doubt),
            week("1963-W38", 0.03, "993", doubt),
            legibility="worn",
            bits=1.4,
        ),
        code(2, "pot-1", "992-6405", week("1964-W05", 0.9996, "992"), bits=3.1),
        code(3, "pot-2", "992-6405", week("1964-W05", 0.9996, "992"), bits=0.004),
        code(
            4,
            "sp-1",
            "995407",
            week("1964-W07", 0.93, "995"),
            week("1954-W07", 0.05, "995"),
            week("1974-W07", 0.02, "995"),
            conflict=0.31,
        ),
        MarkVerdict(
            Mark(5, "covering", "feature", feature="covering-colour", value="grey-tweed", line=50),
            (),
            0.2,
            0.8,
        ),
    ]
    parts = [
        part("ot", "output-transformer", "chassis", 0.981),
        part("pot-1", "potentiometer", "chassis", 0.991),
        part("pot-2", "potentiometer", "chassis", 0.99),
        part("sp-1", "loudspeaker", "speakers", 0.88),
        part("covering", "covering", "cabinet", 0.6),
    ]
    words = [
        Sentence(
            "The amp was put together in 1964 (97%).", (1, 2, 3, 4), {"build.years.1964": 0.971}
        ),
        Sentence(
            "The two pots came in one delivery and agree with it.",
            (2, 3),
            {"deliveries.0.together": 0.97},
        ),
        Sentence(
            "Whether the covering is the first one can't be told.",
            (5,),
            {"parts.covering.original": 0.6},
        ),
    ]
    claim = ClaimVerdict(
        0.88,
        (Clause("built 1964", 0.971), Clause("model lantern-20", 0.93), Clause("ot original", 0.9)),
        "ot original",
        ("elco-1", "elco-2"),
        ("cosmetics as new",),
    )
    v = verdict(bumps((1964, 18, 8, 0.97), (1963, 50, 6, 0.02)), marks, parts, words, claim)
    checks = (
        NextCheck(
            "loudspeaker-code",
            "Loudspeaker code",
            "sp-2",
            "back-off",
            4,
            0.42,
            0.105,
            "the origin of sp-2",
        ),
        NextCheck(
            "pt-code",
            "Power transformer code",
            "pt",
            "chassis-out",
            12,
            0.3,
            0.025,
            "the decade",
            then_bits=0.5,
            then="Loudspeaker code on sp-2",
        ),
    )
    return case(replace(v, next=checks, next_says="", cautions=("Weigh again after a repair.",)))


def two_decades() -> Case:
    """One-digit years alone: 1957 or 1967."""
    marks = [
        code(
            1,
            "ot",
            "993738",
            week("1957-W38", 0.56, "993"),
            week("1967-W38", 0.43, "993"),
            week("1977-W38", 0.01, "993"),
        ),
        code(2, "pot-1", "992741", week("1957-W41", 0.56, "992"), week("1967-W41", 0.44, "992")),
    ]
    parts = [
        part("ot", "output-transformer", "chassis", 0.93),
        part("pot-1", "potentiometer", "chassis", 0.95),
    ]
    words = [
        Sentence(
            "Its codes fit 1957 (56%) and 1967 (43%) alike.",
            (1, 2),
            {"build.years.1957": 0.56, "build.years.1967": 0.43},
        )
    ]
    v = verdict(
        bumps((1957, 48, 7, 0.56), (1967, 48, 7, 0.435)),
        marks,
        parts,
        words,
        ClaimVerdict(0.01, (Clause("built 1964", 0.01),), "built 1964", ()),
    )
    unstable = (Unstable("replaced.odds", 2.0, "1957 leaves the 95% set"),)
    return case(replace(v, stable=False, unstable=unstable))


def swapped_loudspeaker() -> Case:
    """A loudspeaker of 1978 among parts of 1964."""
    base = single_year().verdict
    marks = [m for m in base.marks if m.mark.part != "sp-1"]
    late = code(4, "sp-1", "995 7822", week("1978-W22", 0.9999, "995"), conflict=0.0004, bits=0.01)
    parts = [p for p in base.parts if p.part != "sp-1"] + [
        part("sp-1", "loudspeaker", "speakers", 0.0002)
    ]
    conflict = ConflictSet((2, 4), 0.0002, "Marks 2 and 4 can't both be right and original.")
    v = replace(
        base,
        marks=tuple(sorted([*marks, late], key=lambda m: m.mark.n)),
        parts=tuple(parts),
        conflicts=(conflict,),
    )
    return case(v)


def married_cabinet() -> Case:
    """A chassis of 1964 in a cabinet of 1961."""
    base = single_year().verdict
    label = MarkVerdict(
        Mark(6, "label", "label-text", "POST ZONE 4, PORT ELLERY", place="inside", line=60),
        (WeighedReading("printed by 1963", 0.9, None, None, None, date(1963, 6, 30)),),
        0.3,
        0.04,
    )
    cabinet = AssemblyVerdict(
        "cabinet", 0.93, {1960: 0.2, 1961: 0.7}, {"0.95": (("1960-W05", "1962-W02", 0.95),)}
    )
    parts = [
        *(
            replace(
                p,
                original=0.06,
                later_replacement=0.9,
                period_replacement=0.04,
                word="probably replaced",
            )
            if p.assembly == "cabinet"
            else p
            for p in base.parts
        ),
        part("label", "label", "cabinet", 0.05),
    ]
    return case(
        replace(base, marks=(*base.marks, label), assemblies=(cabinet,), parts=tuple(parts))
    )


def not_weighed() -> Case:
    """Rows that no reader could take."""
    base = single_year().verdict
    bad = MarkVerdict(
        Mark(7, "ot", "source-date-code", "993-354", line=31), (), 0.0, None, weighed=False
    )
    rows = (
        Problem(
            "lantern.toml",
            6,
            31,
            "week 54 in '993-354'",
            "a week from 01 to 53",
            "mark",
            ("993-353", "993-344"),
        ),
        Problem(
            "lantern.toml", 9, 52, "kind 'sorce-date-code'", "one of the kinds of mark", "mark"
        ),
        Problem(
            "lantern.toml", None, None, "unknown key 'colour'", "the keys of the format", "claim"
        ),
    )
    return case(replace(base, marks=(*base.marks, bad), not_weighed=rows, claim=None))


def hostile() -> Case:
    """Texts that try to break a page, a drawing and a terminal."""
    base = single_year().verdict
    texts = [
        "<script>alert(1)</script>",
        "\"'><img src=x onerror=alert(1)>",
        "אבג 123 \u202e321",
        "9" * 400,
        "a\x00b\x1b[31mred\tc",
        "部品" * 40,
        "]]>&amp;</style>",
        "[bold]992[/bold]",
    ]
    marks = [
        code(i + 1, f"p<{i}>", t, week("1964-W05", 0.7), legibility="poor")
        for i, t in enumerate(texts)
    ]
    parts = [part(f"p<{i}>", "output<transformer>", "chassis&more", 0.5) for i in range(len(texts))]
    words = [Sentence(f"See {texts[0]} and {'x' * 300}.", tuple(range(1, 9)), {})]
    claim = ClaimVerdict(
        0.5, (Clause("<b>built</b>", 0.5), Clause("y" * 200, None)), "<i>", ("<u>",)
    )
    found = Problem("<f>.toml", 1, 2, "<found>" + "z" * 200, "<accepted>", "<h>", ("<near>",))
    v = replace(
        base,
        dossier="<TRV> & 'co' " + "W" * 60,
        marks=tuple(marks),
        parts=tuple(parts),
        words=tuple(words),
        claim=claim,
        not_weighed=(found,),
        cautions=("<caution>",),
        next_says="<next>",
        conflicts=(ConflictSet((1, 2), 0.001, "<conflict>"),),
        notes=("<note>",),
        deliveries=(DeliveryVerdict(("p<0>", "p<1>"), 0.9, 0.8),),
        claimed=replace(base.claimed, model="<model>", by="<by>"),
    )
    return case(v)


def many_marks() -> Case:
    """Thirty pots, so that one sheet of paper is not enough and one sentence rests on all of them."""
    base = single_year().verdict
    marks = [code(n, f"pot-{n}", "992-6405", week("1964-W05", 0.99, "992")) for n in range(1, 31)]
    parts = [part(f"pot-{n}", "potentiometer", "chassis", 0.99) for n in range(1, 31)]
    words = (Sentence("All pots came in one delivery.", tuple(range(1, 31)), {}),)
    return case(replace(base, marks=tuple(marks), parts=tuple(parts), words=words))


def nothing_known() -> Case:
    """A blank dossier: the era prior, no mark, no claim, no part."""
    base = single_year().verdict
    v = replace(
        base,
        build=build_date(bumps((1962, 1, 400, 0.97), (1995, 1, 300, 0.03))),
        models=(),
        parts=(),
        deliveries=(),
        assemblies=(),
        claimed=Claim(),
        claim=None,
        marks=(),
        words=(),
        next=(),
        next_says="",
        cautions=(),
    )
    return case(v)


CASES = {
    "single year": single_year,
    "two decades": two_decades,
    "swapped loudspeaker": swapped_loudspeaker,
    "married cabinet": married_cabinet,
    "not weighed": not_weighed,
    "hostile": hostile,
    "many marks": many_marks,
    "nothing known": nothing_known,
}
