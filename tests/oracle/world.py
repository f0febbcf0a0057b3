"""A small random world and dossier as a plain dict, drawn from a seed.

The oracle reads the dict itself; ``product.py`` turns the same dict into the product's records.
Everything in it is invented and exists only in the tests.
"""

from __future__ import annotations

import random
from datetime import date, timedelta
from typing import Any

from . import time
from .tables import (
    ASSEMBLY,
    CHART,
    DATED,
    LETTERS,
    MATRICES,
    MODELS,
    NUMBERS,
    PATENTS,
    SHORT,
    UNDATED,
)

World = dict[str, Any]


class Draw:
    """Draws the parts of a world one after another."""

    def __init__(self, seed: int) -> None:
        self.r = random.Random(seed)

    def some_day(self, low: int, high: int) -> date:
        return date(low, 1, 1) + timedelta(days=self.r.randrange((high - low + 1) * 365))

    def models(self, end: int) -> list[dict[str, Any]]:
        out = []
        for name in MODELS[: self.r.choice((0, 1, 1, 2, 2, 3))]:
            start = self.r.choice((self.r.randint(1930, end - 1),) * 9 + (end + 1,))
            runs = [
                {
                    "first": self.r.choice((None, date(start, 2, 3))),
                    "last": self.r.choice((None, date(max(end, start), 3, 9))),
                    "volume": 1.0,
                }
            ]
            if self.r.random() < 0.4:
                runs.append(
                    {
                        "first": date(1931, 1, 1),
                        "last": date(start + 1, 6, 30),
                        "volume": self.r.choice((0.5, 3.0)),
                    }
                )
            expected = self.r.sample((*DATED, *UNDATED), self.r.randint(6, 12))
            out.append(
                {
                    "id": name,
                    "runs": runs,
                    "odds": self.r.choice((1.0, 2.0, 0.3)),
                    "softness": self.r.choice((0.0, 4.0, 13.0)),
                    "expected": expected if self.r.random() < 0.7 else [],
                }
            )
        return out

    def for_models(self) -> tuple[str, ...]:
        return () if self.r.random() < 0.6 else tuple(self.r.sample(MODELS, self.r.randint(1, 2)))

    def supplies(self, end: int) -> list[dict[str, Any]]:
        out = []
        for part_class in DATED:
            numbers = self.r.sample(
                ["990", "991", "992", "993", "995", "996", "9921"], self.r.randint(0, 3)
            )
            for n in [*numbers, *numbers[: self.r.randint(0, 1)]]:
                out.append(
                    {
                        "number": n,
                        "class": part_class,
                        "share": self.r.choice((0.2, 0.5, 0.9)),
                        "first": self.r.choice((None, self.some_day(1930, end))),
                        "last": self.r.choice((None, self.some_day(1934, end + 1))),
                        "softness": self.r.choice((0.0, 8.0)),
                        "models": self.for_models(),
                    }
                )
        return [r for r in out if r["first"] is None or r["last"] is None or r["first"] < r["last"]]

    def rows(self, values: list[str], end: int) -> list[dict[str, Any]]:
        out = []
        for v in values:
            for _ in range(self.r.choice((1, 1, 2))):
                cut = self.some_day(1931, end)
                out.append(
                    {
                        "value": v,
                        "share": self.r.choice((1.0, 0.4)),
                        "models": self.for_models(),
                        "first": self.r.choice((None, cut)),
                        "last": self.r.choice((None, cut + timedelta(days=900))),
                    }
                )
        return out

    def features(self, end: int) -> dict[str, Any]:
        out = {}
        for name, part, groups, values in (
            ("knob-style", "knobs", ("face", ""), ["cream", "black", "grey"]),
            ("plate-colour", "faceplate", ("face", ""), ["brown", "blue"]),
            ("plate-print", "faceplate", ("face", "print"), ["script", "block"]),
            ("grain", "covering", ("cab", ""), ["fine", "coarse", "absent"]),
            ("covering-colour", "covering", ("cab",), ["sand", "grey-tweed", "black"]),
            ("handle-type", "handle", ("cab", "face"), ["strap", "dog-bone"]),
            ("shaft", "potentiometer", ("face", ""), ["solid", "split"]),
        ):
            out[name] = {
                "part": part,
                "group": self.r.choice(groups),
                "cost": self.r.choice((0.0, 0.4, 1.0)),
                "softness": self.r.choice((0.0, 6.0)),
                "values": self.rows(values, end),
            }
        return out

    def quantities(self, end: int) -> dict[str, Any]:
        rows = [
            {**self.rows([v], end)[0], "mean": mean, "sd": 0.1}
            for v, mean in (("open", 2.0), ("close", 2.4), ("fine", 3.0))
        ]
        return {
            "weave-pitch": {
                "part": "cloth",
                "cost": self.r.choice((0.0, 0.5)),
                "softness": 5.0,
                "values": rows,
            }
        }

    # --- the amp --------------------------------------------------------------------------------------

    def blur(self, text: str, part: str = "0123456789") -> str:
        """Make one or two characters of a text unreadable or doubtful."""
        for _ in range(self.r.choice((0, 0, 1, 1, 2))):
            i = self.r.randrange(len(text))
            if text[i] in part and "[" not in text:
                other = self.r.choice([c for c in part if c != text[i]])
                text = text[:i] + self.r.choice(("?", "?", f"[{text[i]}{other}]")) + text[i + 1 :]
        return text

    def week_code(self, week: int, source: str) -> str:
        v = max(week, 0)
        year, number = str(time.year_of(v)), f"{time.number_in_year(v):02d}"
        y = year[-1:] if self.r.random() < 0.7 else year[-2:]
        s1, s2 = self.r.choice((("", ""), ("-", ""), ("", ""), ("-", "-"), (" ", "")))
        text = self.blur(f"{source}{s1}{y}{s2}{number}")
        if self.r.random() < 0.12:
            text = "..." + text[self.r.randint(1, 3) :].lstrip("-] ") if "[" not in text else text
        elif self.r.random() < 0.08 and "[" not in text and text[-1] != "?":
            text = text[:-1] + "..."
        return text

    def legibility(self) -> str:
        return self.r.choice(("clear",) * 5 + ("worn", "poor"))

    def dated_marks(
        self, w: World, part: str, part_class: str, week: int, source: str
    ) -> list[dict[str, Any]]:
        kind = self.r.random()
        out: list[dict[str, Any]] = []
        if kind < 0.72:
            out.append(
                {
                    "kind": "source-date-code",
                    "text": self.week_code(week, source),
                    "legibility": self.legibility(),
                }
            )
        elif kind < 0.82:
            year, number = time.year_of(week), time.number_in_year(week)
            out.append(
                {
                    "kind": "date-code",
                    "text": self.blur(
                        f"{year % 100:02d}{number:02d}"[self.r.choice((0, 0, 0, 1)) :]
                    ),
                    "legibility": self.legibility(),
                }
            )
        elif kind < 0.88:
            year, month = time.month_of(week)
            letter = next(c for c, ys in LETTERS["years"].items() if year in ys)
            char = next(c for c, m in LETTERS["months"].items() if m == month)
            out.append({"kind": "date-code", "text": self.r.choice((letter + char, letter + "?"))})
        if kind >= 0.88 or self.r.random() < 0.12:
            out.append(self.stamp(self.r.choice((week,) * 9 + (week + 150,))))
        if self.r.random() < 0.06:
            out.append({"kind": "label-text", "text": "ZONE 5"})
        if part_class == "potentiometer" and self.r.random() < 0.2:
            out.append(
                {"kind": "feature", "feature": "shaft", "value": self.r.choice(("solid", "split"))}
            )
        if self.r.random() < 0.2:
            out.append({"kind": "condition", "text": self.r.choice(list(w["conditions"]))})
        if self.r.random() < 0.05:
            out.append({"kind": "chart-letters", "text": self.chart(week)})
        return [{**m, "part": part} for m in out]

    def stamp(self, week: int) -> dict[str, Any]:
        day = time.thursday(week)
        if self.r.random() < 0.6 or day.year < 1932:  # 3-4-31 could also have the year in front
            text = self.r.choice(("", "", "5 03")) + f"{day.year % 100:02d}"
            legibility = self.legibility()
            if len(text) == 2:
                text = self.blur(text)
            return {"kind": "year-stamp", "text": text, "legibility": legibility}
        return {"kind": "hand-date", "text": f"{day.day}-{day.month}-{day.year % 100:02d}"}

    def chart(self, week: int) -> str:
        year, month = time.month_of(max(week, time.week_of(date(1932, 2, 1))))
        y = CHART["years"][min(year - CHART["first_year"], len(CHART["years"]) - 1)]
        return self.r.choice(
            (y + CHART["months"][month - 1], y + "?", "?" + CHART["months"][month - 1])
        )

    def undated_marks(self, w: World, built: int, end: int) -> list[dict[str, Any]]:
        r, out = self.r, []

        def add(chance: float, part: str, **mark: Any) -> None:
            if r.random() < chance:
                out.append({"part": part, **mark})

        for name, f in w["features"].items():
            if f["part"] in UNDATED:
                values = sorted({v["value"] for v in f["values"]})
                if r.random() < 0.3:
                    if r.random() < 0.15:
                        add(1, f["part"], kind="feature", feature=name, result="absent")
                    else:
                        value = r.choice(values)
                        add(1, f["part"], kind="feature", feature=name, value=value)
        add(
            0.35,
            "chassis",
            kind="chart-letters",
            text=self.chart(built),
            legibility=self.legibility(),
        )
        add(0.2, "chassis", **self.stamp(built))
        add(0.2, "faceplate", **self.stamp(built))
        add(
            0.25,
            "label",
            kind="label-text",
            text=r.choice(("ZONE 5", "REGD OFFICE", "ZONE 7 INFO")),
        )
        add(
            0.15,
            "label",
            kind="patent-number",
            text=f"{1_500_000 + 40_000 * (time.year_of(built) - 1926) + 7_777:,}",
        )
        add(0.25, "chassis", kind="serial", text=f"L{r.randint(1, 1001):04d}")
        add(0.2, "label", kind="document", text="receipt", date=self.some_day(1931, end))
        add(
            0.25,
            "cloth",
            kind="measured",
            quantity="weave-pitch",
            unit="mm",
            value=r.choice((2.03, 2.31, 2.7, 9.0)),
            uncertainty=r.choice((0.0, 0.05)),
        )
        for part in ("knobs", "covering", "cloth", "tank"):
            add(0.12, part, kind="condition", text=r.choice(list(w["conditions"])))
        add(0.1, "chassis", kind="chart-letters", result="nothing-found", text="")
        add(0.1, "faceplate", kind="year-stamp", result="illegible", text="")
        add(0.06, "handle", kind="source-date-code", text=self.week_code(built - 9, "991"))
        add(0.06, "tank", kind="source-date-code", result="nothing-found", text="")
        return out


def random_world(seed: int, most_dated: int = 4, last_year: int = 1944) -> World:
    """A world and a dossier in it. Years up to ``last_year`` keep the grid, and so the sums, short."""
    d = Draw(seed)
    r = d.r
    end = r.randint(1936, last_year)
    w: World = {
        "as_of": date(end, r.randint(1, 12), r.randint(1, 28)),
        "defaults": dict(NUMBERS),
        "assume": {},
        "classes": {c: {"dated": c in DATED} for c in (*DATED, *UNDATED)},
        "models": d.models(end),
        "rivals": None,
        "supplies": d.supplies(end),
        "features": d.features(end),
        "quantities": d.quantities(end),
        "conditions": {"untouched": (0.7, 0.1, 0.2), "reflowed": (0.05, 0.6, 0.3)},
        "checks": [
            {
                "class": "chassis",
                "kind": "chart-letters",
                "found_original": 0.8,
                "found_replaced": 0.1,
            },
            {
                "class": "tank",
                "kind": "source-date-code",
                "found_original": 0.9,
                "found_replaced": None,
            },
        ],
        "terms": [
            {
                "pattern": "ZONE 5",
                "not_before": date(1934, 5, 1),
                "not_after": date(1936, 2, 1),
                "strictness": "soft",
            },
            {
                "pattern": "ZONE 7",
                "not_before": date(1935, 1, 1),
                "not_after": None,
                "strictness": "hard",
            },
            {
                "pattern": "REGD",
                "not_before": None,
                "not_after": date(1937, 7, 1),
                "strictness": "soft",
            },
            {
                "pattern": "INFO",
                "not_before": date(1939, 1, 1),
                "not_after": None,
                "strictness": "info",
            },
        ],
        "patents": PATENTS,
        "chart": CHART,
        "letters": LETTERS,
        "matrices": MATRICES,
        "serials": [
            {
                "prefix": "L",
                "first_number": 1,
                "last_number": 1001,
                "first": date(1932, 1, 4),
                "last": date(1932, 1, 4) + timedelta(days=2000),
                "spread": 13.0,
                "models": (),
            },
            {
                "prefix": "L",
                "first_number": 501,
                "last_number": 1501,
                "first": date(1930, 6, 2),
                "last": date(1930, 6, 2) + timedelta(days=1000),
                "spread": 8.0,
                "models": ("beacon-45",),
            },
        ],
        "era": [(1931, 0.2), (1934, 1.0), (1937, 2.0), (1940, 0.5)],
        "made": None,
        "repairs": [],
        "claim": None,
    }
    begun = all(
        any(x["first"] is None or x["first"] < w["as_of"] for x in m["runs"]) for m in w["models"]
    )
    if begun and r.random() < 0.15:
        w["made"] = r.choice(((date(1933, 1, 1), date(1935, 12, 31)), (None, date(1935, 6, 30))))
    built = r.randrange(60, time.week_of(w["as_of"]) - 20)
    parts: list[tuple[str, str, str]] = []
    marks: list[dict[str, Any]] = []
    count: dict[str, int] = {}
    for _ in range(r.randint(1, most_dated)):
        c = r.choice(DATED[:3] if count else DATED)
        count[c] = count.get(c, 0) + 1
        part = f"{SHORT[c]}-{count[c]}"
        assembly = "cabinet" if c == "potentiometer" and r.random() < 0.08 else ASSEMBLY[c]
        week = r.choice(
            (built - r.randint(3, 20), built - 11, built - 11, r.randrange(0, built + 20))
        )
        week = min(max(week, 1), time.week_of(w["as_of"]) - 1)
        parts.append((part, c, assembly))
        source = r.choice(("992", "992", "991", "993", "994", "99", "9921"))
        marks.extend(d.dated_marks(w, part, c, week, source))
    for m in d.undated_marks(w, built, end):
        if m["part"] not in [p for p, _, _ in parts]:
            parts.append((m["part"], m["part"], ASSEMBLY[m["part"]]))
        marks.append(m)
    w["parts"] = [{"id": p, "class": c, "assembly": a} for p, c, a in parts]
    blank = {
        "text": "",
        "legibility": "clear",
        "result": "seen",
        "feature": None,
        "value": None,
        "quantity": None,
        "unit": None,
        "uncertainty": None,
        "date": None,
    }
    w["marks"] = [{**blank, **m, "n": n} for n, m in enumerate(marks, 1)]
    _more(d, w, end)
    w["numbers"] = {**w["defaults"], **w["assume"]}
    return w


def _more(d: Draw, w: World, end: int) -> None:
    """Repairs, the claim, assumptions taken otherwise, the rivals named."""
    r = d.r
    names = [x for p in w["parts"] for x in (p["id"], p["class"], p["class"] + "s", p["assembly"])]
    for part in r.sample(
        [p["id"] for p in w["parts"]], min(len(w["parts"]), r.choice((0, 0, 0, 0, 1, 1, 2)))
    ):
        done = r.choice(
            (
                (date(1934, 3, 1), date(1934, 3, 31)),
                (date(1935, 1, 1), date(1935, 12, 31)),
                (date(1934, 6, 13), date(1934, 6, 13)),
                (None, date(1935, 8, 31)),
            )
        )
        w["repairs"].append(
            {"part": part, "first": done[0], "last": done[1], "replaced": r.random() < 0.8}
        )
    if r.random() < 0.7:
        year = r.randint(1931, end)
        w["claim"] = {
            "built": r.choice((None, str(year))),
            "built_from": date(year, 1, 1),
            "built_to": date(year, 12, 31),
            "model": r.choice((None, *MODELS)),
            "original": r.choice(
                ((), ("everything",), (r.choice(names),), ("potentiometers", "covering"))
            ),
            "except": r.choice(((), ("potentiometer",), (r.choice(names),))),
        }
    if w["models"] and r.random() < 0.2:
        w["rivals"] = [w["models"][0]["id"]]
    if r.random() < 0.6:
        w["assume"]["scheme.first_year"] = r.choice((1930.0, 1934.0))
    for name in r.sample(sorted(NUMBERS), 4):
        if r.random() < 0.4 and not name.startswith(
            (
                "conflict",
                "next",
                "stable",
                "level",
                "scheme",
                "source.length",
                "week_code.same",
                "assembly_mark",
                "delivery.spread",
            )
        ):
            w["assume"][name] = round(NUMBERS[name] * r.choice((0.5, 0.8, 1.6)), 6)
