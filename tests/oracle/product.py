"""The same world as the product's records."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from endbell.dossier.types import Claim, Dossier, Mark, Part, Repair
from endbell.marks.tables import (
    ChartScheme,
    CodeGrammar,
    CodeShape,
    Confusion,
    FeatureWords,
    LetterDates,
    PatentYear,
    QuantityWords,
    SerialRange,
    Tables,
    Term,
)
from endbell.reference.types import (
    Alternative,
    Assumption,
    Check,
    ConditionWord,
    EraKnot,
    ExpectedPart,
    Feature,
    FeatureValue,
    Model,
    PackStamp,
    PartClass,
    PartWord,
    Quantity,
    Reference,
    Supply,
    UsualId,
    Window,
)

from .tables import ASSEMBLY

World = dict[str, Any]
SEEN = {"source": "invented world", "confidence": "invented world"}


def confusion(alphabet: str, matrix: dict[str, dict[str, float]] | None) -> Confusion:
    rows = tuple(
        tuple((1.0 if t == c else 0.0) if matrix is None else matrix[t][c] for c in alphabet)
        for t in alphabet
    )
    return Confusion(alphabet, rows)


def tables(w: World) -> Tables:
    az, digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZ", "0123456789"
    shapes = tuple(CodeShape(s, y) for s in (2, 3, 4) for y in (1, 2))
    chart = w["chart"]
    return Tables(
        digits={k: confusion(digits, m) for k, m in w["matrices"]["digits"].items()},
        letters={k: confusion(az, m) for k, m in w["matrices"]["letters"].items()},
        grammar=CodeGrammar(shapes, 0.02, 0.5, 0.05, " -."),
        letter_dates=LetterDates(w["letters"]["years"], w["letters"]["months"]),
        charts=(
            ChartScheme(
                chart["id"], chart["first_year"], chart["years"], chart["months"], chart["order"]
            ),
        ),
        serials=tuple(
            SerialRange(
                f"serial-{i}",
                s["prefix"],
                s["first_number"],
                s["last_number"],
                s["first"],
                s["last"],
                s["spread"],
                s["models"],
            )
            for i, s in enumerate(w["serials"])
        ),
        terms=tuple(
            Term(
                t["pattern"].lower().replace(" ", "-"),
                (re.escape(t["pattern"]),),
                t["not_before"],
                t["not_after"],
                t["strictness"],
                t["pattern"],
                "invented world",
            )
            for t in w["terms"]
        ),
        patents=tuple(PatentYear(year, first, 90_000 + year) for year, first in w["patents"]),
        features={
            f: FeatureWords(f, x["part"], tuple(dict.fromkeys(v["value"] for v in x["values"])))
            for f, x in w["features"].items()
        },
        quantities={q: QuantityWords(q, "mm", {"mm": 1.0}) for q in w["quantities"]},
        conditions=tuple(w["conditions"]),
    )


def window(row: dict[str, Any], weight: str) -> Window:
    return Window(row["first"], row["last"], row[weight])


def reference(w: World) -> Reference:
    return Reference(
        packs=(PackStamp("brackwater", "1", "0" * 64),),
        tables=tables(w),
        assumptions={n: Assumption(n, float(v), "", **SEEN) for n, v in w["defaults"].items()},
        classes={
            **{c: PartClass(c, c, c + "s", (), x["dated"]) for c, x in w["classes"].items()},
            "other": PartClass("other", "other", "others", (), False),
        },
        usual_ids={c: UsualId(c, c, ASSEMBLY[c]) for c in w["classes"]},
        assemblies=("chassis", "cabinet", "speakers", "reverb", "papers"),
        models=tuple(
            Model(
                m["id"],
                "brackwater",
                m["id"],
                tuple(window(x, "volume") for x in m["runs"]),
                m["odds"],
                m["softness"],
                tuple(ExpectedPart(c, c, ASSEMBLY[c]) for c in m["expected"]),
                **SEEN,
            )
            for m in w["models"]
        ),
        supplies=tuple(
            Supply(
                s["number"],
                s["number"],
                s["class"],
                window(s, "share"),
                s["softness"],
                s["models"],
                **SEEN,
            )
            for s in w["supplies"]
        ),
        features={
            f: Feature(
                f,
                f,
                x["part"],
                x["group"],
                x["cost"],
                x["softness"],
                tuple(
                    FeatureValue(v["value"], window(v, "share"), v["models"]) for v in x["values"]
                ),
                **SEEN,
            )
            for f, x in w["features"].items()
        },
        quantities={
            q: Quantity(
                q,
                q,
                x["part"],
                "mm",
                x["cost"],
                x["softness"],
                tuple(
                    Alternative(v["value"], v["mean"], v["sd"], window(v, "share"), v["models"])
                    for v in x["values"]
                ),
                **SEEN,
            )
            for q, x in w["quantities"].items()
        },
        conditions={
            c: ConditionWord(c, c, "joint", *p, **SEEN) for c, p in w["conditions"].items()
        },
        checks=tuple(
            Check(
                f"{c['class']}-{c['kind']}",
                c["kind"],
                c["class"],
                c["kind"],
                "outside",
                1.0,
                0.8,
                c["found_original"],
                c["found_replaced"],
                **SEEN,
            )
            for c in w["checks"]
        ),
        part_words=(
            PartWord("original", 0.95, 1.0),
            PartWord("probably original", 0.75, 1.0),
            PartWord("replaced", 0.0, 0.05),
            PartWord("probably replaced", 0.0, 0.25),
            PartWord("cannot tell", 0.0, 1.0),
        ),
        era=tuple(EraKnot(year, weight) for year, weight in w["era"]),
    )


def _mark(m: dict[str, Any]) -> Mark:
    day: date | None = m["date"]
    return Mark(
        m["n"],
        m["part"],
        m["kind"],
        m["text"],
        m["legibility"],
        m["result"],
        feature=m["feature"],
        value=m["value"],
        quantity=m["quantity"],
        unit=m["unit"],
        uncertainty=m["uncertainty"],
        date=None if day is None else day.isoformat(),
    )


def dossier(w: World) -> Dossier:
    c = w["claim"]
    claim = (
        Claim()
        if c is None
        else Claim(
            maker="brackwater" if c["model"] else None,
            model=c["model"],
            built=c["built"],
            built_from=c["built_from"] if c["built"] else None,
            built_to=c["built_to"] if c["built"] else None,
            original=c["original"],
            excluded=c["except"],
            by="seller",
        )
    )

    def done(r: dict[str, Any]) -> str:
        return "/".join("" if d is None else d.isoformat() for d in (r["first"], r["last"]))

    return Dossier(
        id="TRV-1",
        as_of=w["as_of"],
        packs=("brackwater",),
        made=w["made"],
        claim=claim,
        parts=tuple(Part(p["id"], p["class"], p["assembly"]) for p in w["parts"]),
        repairs=tuple(
            Repair(r["part"], done(r), r["replaced"], "", r["first"], r["last"])
            for r in w["repairs"]
        ),
        marks=tuple(_mark(m) for m in w["marks"]),
    )
