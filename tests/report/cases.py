"""Verdicts made by hand, so that reports are judged on cases that real dossiers seldom show."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from endbell.chronology.verdict import (
    AssemblyVerdict,
    ClaimVerdict,
    Clause,
    ConflictSet,
    DeliveryVerdict,
    MarkVerdict,
    NextCheck,
    Sentence,
    Unstable,
    WeighedReading,
)
from endbell.dossier.types import Claim, Mark, Problem
from endbell.marks import Span

from .making import Case, build_date, bumps, case, code, part, verdict, week


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
