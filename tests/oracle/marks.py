"""What one mark says about the origin of its part and the week of the amp (sections 4, 6, 8).

Dates of dated parts come back as pieces (source factor, week factor); everything else as a factor
for each origin over B.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np

from . import lags, text, time
from .setting import ORIGINS, Setting, World
from .text import NUMBERS, Piece

Mark = dict[str, Any]
Factor = dict[str, np.ndarray]
CODES = ("source-date-code", "date-code")
STAMPS = ("year-stamp", "hand-date")
LABELS = ("label-text", "patent-number")


def seen_on(world: World, part: str) -> list[Mark]:
    return [m for m in world["marks"] if m["part"] == part and m["result"] == "seen"]


def classes_there(world: World) -> set[str]:
    """Classes of the parts seen to be there: with a mark that was seen, or a known repair."""
    if "there" in world:
        return world["there"]
    there = {m["part"] for m in world["marks"] if m["result"] == "seen"}
    there |= {r["part"] for r in world["repairs"] if r["replaced"]}
    return {class_of(world, p) for p in there}


def is_dated(world: World, part: str) -> bool:
    kinds = {m["kind"] for m in seen_on(world, part)}
    if kinds & set(CODES):
        return True
    dated_class = world["classes"][class_of(world, part)]["dated"]
    return dated_class and bool(kinds & {*STAMPS, *LABELS})


def class_of(world: World, part: str) -> str:
    return next(p["class"] for p in world["parts"] if p["id"] == part)


def assembly_of(world: World, part: str) -> str:
    return next(p["assembly"] for p in world["parts"] if p["id"] == part)


def dates_its_part(world: World, mark: Mark) -> bool:
    """Does this mark enter t_i(sigma, w)?"""
    if mark["result"] != "seen" or not is_dated(world, mark["part"]):
        return False
    if mark["kind"] in CODES or mark["kind"] in LABELS:
        return True
    return mark["kind"] in STAMPS and world["classes"][class_of(world, mark["part"])]["dated"]


# --- dated parts --------------------------------------------------------------------------------------


def matrix(world: World, alphabet: str, mark: Mark) -> Any:
    return world["matrices"][alphabet][mark["legibility"]]


@lru_cache(maxsize=400)
def _week_code(
    txt: str, total: int, legibility: str, numbers: tuple, matrix_key: Any, with_source: bool
):
    return text.week_code(txt, total, _MATRICES[matrix_key], dict(numbers), with_source)


_MATRICES: dict[Any, Any] = {}


def _remember(m: Any) -> Any:
    key = None if m is None else tuple((t, tuple(row.items())) for t, row in m.items())
    _MATRICES[key] = m
    return key


def week_pieces(s: Setting, mark: Mark) -> list[Piece]:
    used = tuple((k, v) for k, v in s.numbers.items() if k.startswith(("week_code.", "scheme.")))
    key = _remember(matrix(s.world, "digits", mark))
    with_source = mark["kind"] == "source-date-code"
    return _week_code(mark["text"], s.total, mark["legibility"], used, key, with_source)


def is_letters(mark: Mark) -> bool:
    return mark["kind"] == "date-code" and len(text.symbols(mark["text"])) == 2


@lru_cache(maxsize=2000)
def _hand_date(txt: str, key: Any) -> list:
    return text.hand_date(txt, _MATRICES[key])


def readings(world: World, mark: Mark) -> list[tuple[float, text.Interval]]:
    if mark["kind"] == "chart-letters":
        return text.chart_letters(mark["text"], world["chart"], matrix(world, "letters", mark))
    if mark["kind"] == "year-stamp":
        return text.year_stamp(mark["text"], matrix(world, "digits", mark))
    if mark["kind"] == "hand-date":
        return _hand_date(mark["text"], _remember(matrix(world, "digits", mark)))
    return text.letter_date(mark["text"], world["letters"])


def pieces_of_mark(s: Setting, mark: Mark) -> list[Piece]:
    """t(sigma, w) of one dating mark."""
    if mark["kind"] in CODES and not is_letters(mark):
        return week_pieces(s, mark)
    if mark["kind"] in LABELS:
        week = np.array([printed(s, mark, w) for w in range(s.total)])
    else:
        week = text.spread(readings(s.world, mark), s.total)
    return [Piece(np.ones(len(NUMBERS)), week)]


def pieces_of_part(s: Setting, part: str) -> list[Piece]:
    """t_i(sigma, w): the product over all marks that date this part."""
    pieces = [Piece(np.ones(len(NUMBERS)), np.ones(s.total))]
    for mark in s.world["marks"]:
        if mark["part"] == part and dates_its_part(s.world, mark):
            pieces = [
                Piece(a.source * b.source, a.week * b.week)
                for a in pieces
                for b in pieces_of_mark(s, mark)
            ]
    return pieces


def spread(numbers: dict[str, float]) -> list[float]:
    """P(e): a part is made e = 0..4 weeks before its delivery's date."""
    return [numbers[f"delivery.spread.{e}"] for e in range(5)]


def shipped(week: np.ndarray, p_of_e: list[float]) -> np.ndarray:
    """h(D) = sum_e P(e) t(D - e)."""
    out = np.zeros_like(week)
    for e, p in enumerate(p_of_e):
        for d in range(e, len(week)):
            out[d] += p * week[d - e]
    return out


# --- terms and patents --------------------------------------------------------------------------------


def _outside(s: Setting, week: int, first: Any, last: Any, strictness: str) -> float:
    hard = s.numbers["terminus.hard_leak"]
    x = 0
    if first is not None:
        x = max(x, time.week_of(first) - week)
    if last is not None:
        x = max(x, week - time.week_of(last))
    if strictness == "info" or x == 0:
        return 1.0
    if strictness == "hard":
        return hard
    return max(hard, float(np.exp(-x / s.numbers["terminus.soft_weeks"])))


@lru_cache(maxsize=2000)
def _patent_years(number: str, patents: tuple) -> list[tuple[float, int]]:
    digits = text.symbols(number.replace(",", ""))
    count: dict[int, float] = {}
    open_places = [i for i, c in enumerate(digits) if c == "?"]
    for n in range(10 ** len(open_places)):
        filled = list(digits)
        for place, c in zip(
            open_places, f"{n:0{len(open_places)}d}" if open_places else "", strict=True
        ):
            filled[place] = c
        value = int("".join(filled))
        year = max((y for y, first in patents if first <= value), default=None)
        if year is not None and filled[0] != "0":
            count[year] = count.get(year, 0.0) + 1
    total = sum(count.values())
    return [(c / total, y) for y, c in count.items()]


def printed(s: Setting, mark: Mark, week: int) -> float:
    """g(D) of one label text or patent number."""
    if mark["kind"] == "label-text":
        g = 1.0
        for term in s.world["terms"]:
            if term["pattern"] in mark["text"]:
                g *= _outside(s, week, term["not_before"], term["not_after"], term["strictness"])
        return g
    g = 0.0
    for p, year in _patent_years(mark["text"], tuple(s.world["patents"])):
        g += p * _outside(s, week, time.date(year, 1, 1), None, "hard")
    return g


# --- all other marks: a factor for each origin over B -------------------------------------------------


def flat(s: Setting, original: Any, replaced: Any, period: Any = None) -> Factor:
    one = np.ones(s.total)
    return {
        "original": original * one,
        "later": replaced * one,
        "period": (replaced if period is None else period) * one,
    }


def labels_factor(s: Setting, labels: list[Mark]) -> Factor:
    """All terms and patent numbers of one undated part: they were printed in one week."""
    longest = 520
    lag = lags.label_lag(s.numbers["label.lag_median_weeks"], s.numbers["label.lag_sigma"], longest)
    line = np.array([np.prod([printed(s, m, w) for m in labels]) for w in range(-longest, s.total)])
    original = np.array([(lag * line[b : b + longest + 1][::-1]).sum() for b in range(s.total)])
    return flat(s, original, line[longest:].mean())


def assembly_factor(s: Setting, mark: Mark) -> Factor:
    kind = mark["kind"]
    k = {
        x: s.numbers[f"assembly_mark.{kind}.{x}"]
        for x in ("misread", "before_weeks", "after_weeks")
    }
    before, after = int(k["before_weeks"]), int(k["after_weeks"])
    t = text.spread(readings(s.world, mark), s.total)
    scheme = np.ones(s.total, dtype=bool)
    if kind == "chart-letters":
        chart = s.world["chart"]
        last = chart["first_year"] + len(chart["years"]) - 1
        scheme = np.array([chart["first_year"] <= time.year_of(w) <= last for w in range(s.total)])
    tbar = t[scheme].mean() if scheme.any() else 0.0
    near = np.zeros(s.total)
    for b in range(s.total):
        weeks = [b + d for d in range(-before, after + 1)]
        near[b] = sum(t[w] for w in weeks if 0 <= w < s.total) / len(weeks)
    return flat(s, (1 - k["misread"]) * near + k["misread"] * tbar, tbar)


def feature_value(mark: Mark) -> str:
    return "absent" if mark["result"] == "absent" else str(mark["value"])


def feature_p(s: Setting, mark: Mark) -> tuple[np.ndarray, float, int]:
    """(P(v | original, m, B) over B, match_m(v), n) of the value seen."""
    feature = s.world["features"][mark["feature"]]
    p = s.values(feature["values"], feature["softness"], absent=True)
    seen = p[feature_value(mark)]
    return seen, s.match(seen), len(p)


def feature_interval(s: Setting, mark: Mark) -> tuple[np.ndarray, np.ndarray]:
    """The value seen as an interval of [0, 1], over B."""
    feature = s.world["features"][mark["feature"]]
    low = np.zeros(s.total)
    for v, p in s.values(feature["values"], feature["softness"], absent=True).items():
        if v == feature_value(mark):
            return low, low + p
        low = low + p
    raise ValueError(f"{feature_value(mark)} is no value of {mark['feature']}")


def feature_factor(s: Setting, mark: Mark) -> Factor:
    seen, match, n = feature_p(s, mark)
    cost = s.world["features"][mark["feature"]]["cost"]
    return flat(s, seen, (1 - cost) * match + cost / n)


def group_factor(s: Setting, marks: list[Mark]) -> np.ndarray:
    """Joint probability over B of the features of one group whose parts are all original."""
    if len(marks) == 1:
        return feature_p(s, marks[0])[0]
    leak = s.numbers["feature.leak"]
    low, high, product = np.zeros(s.total), np.ones(s.total), np.ones(s.total)
    for mark in marks:
        a, b = feature_interval(s, mark)
        low, high = np.maximum(low, a), np.minimum(high, b)
        product = product * feature_p(s, mark)[0]
    return (1 - leak) * np.maximum(0.0, high - low) + leak * product


def measured_factor(s: Setting, mark: Mark) -> Factor:
    quantity = s.world["quantities"][mark["quantity"]]
    rows, unc = quantity["values"], mark["uncertainty"]
    sd = {r["value"]: float(np.hypot(r["sd"], unc)) for r in rows}
    means = [r["mean"] for r in rows]
    width = max(means) - min(means) + 20 * max(sd.values())
    leak, cost = s.numbers["feature.leak"], quantity["cost"]
    like = {
        r["value"]: (1 - leak)
        * float(time.normal_density(np.array(mark["value"]), r["mean"], sd[r["value"]]))
        + leak / width
        for r in rows
    }
    p = s.values(rows, quantity["softness"], absent=False)
    original = sum((p[v] * like[v] for v in p), np.zeros(s.total))
    looks_right = sum(s.match(p[v]) * like[v] for v in p)
    return flat(s, original, (1 - cost) * looks_right + cost * sum(like.values()) / len(like))


def serial_factor(s: Setting, mark: Mark) -> Factor:
    fits = []
    for row in s.world["serials"]:
        if mark["text"].startswith(row["prefix"]):
            rest = mark["text"][len(row["prefix"]) :]
            if rest.isdigit() and row["first_number"] <= int(rest) <= row["last_number"]:
                along = (int(rest) - row["first_number"]) / (
                    row["last_number"] - row["first_number"]
                )
                days = (row["last"] - row["first"]).days
                fits.append(
                    (row, time.week_of(row["first"] + time.timedelta(days=round(along * days))))
                )
    leak = s.numbers["serial.leak"]
    p = np.zeros(s.total)
    for row, week in fits:
        if s.open_to(row):
            p += time.normal_density(np.arange(s.total), week, row["spread"]) / len(fits)
    return flat(s, (1 - leak) * p + leak / s.total, 1 / s.total)


def nothing_found_factor(s: Setting, mark: Mark) -> Factor:
    for check in s.world["checks"]:
        if check["class"] == class_of(s.world, mark["part"]) and check["kind"] == mark["kind"]:
            o, r = check["found_original"], check["found_replaced"]
            if o is not None and r is not None:
                return flat(s, 1 - o, 1 - r)
    return flat(s, 1.0, 1.0)


def document_factor(s: Setting, mark: Mark) -> np.ndarray:
    other, leak = s.numbers["document.other_amp"], s.numbers["document.leak"]
    by = time.week_of(mark["date"])
    return np.array([(1 - other) * (1.0 if b <= by else leak) + other for b in range(s.total)])


def one_factor(s: Setting, mark: Mark) -> Factor:
    """x(S, B) of one mark that does not date its part (features as if they stood alone)."""
    if mark["result"] in ("illegible", "not-possible") or mark["kind"] == "document":
        return flat(s, 1.0, 1.0)
    if mark["result"] == "nothing-found":
        return nothing_found_factor(s, mark)
    if mark["kind"] in LABELS:
        return labels_factor(s, [mark])
    if mark["kind"] in ("chart-letters", *STAMPS):
        return assembly_factor(s, mark)
    if mark["kind"] == "feature":
        return feature_factor(s, mark)
    if mark["kind"] == "measured":
        return measured_factor(s, mark)
    if mark["kind"] == "serial":
        return serial_factor(s, mark)
    original, later, period = s.world["conditions"][mark["text"]]
    return flat(s, original, later, period)


def other_marks(s: Setting, part: str, but: tuple[int, ...] = ()) -> Factor:
    """x_i(S, B): every mark of this part that does not date it, except those numbered in ``but``."""
    rest = [
        m
        for m in s.world["marks"]
        if m["part"] == part and m["n"] not in but and not dates_its_part(s.world, m)
    ]
    labels = [m for m in rest if m["kind"] in LABELS and m["result"] == "seen"]
    factors = [one_factor(s, m) for m in rest if m not in labels]
    if labels:
        factors.append(labels_factor(s, labels))
    out = flat(s, 1.0, 1.0)
    for f in factors:
        out = {o: out[o] * f[o] for o in ORIGINS}
    return out


# --- what is weighed at all ---------------------------------------------------------------------------


def dates(s: Setting, mark: Mark) -> bool:
    """Is this a mark whose text names weeks (and so can name none up to ``as_of``)?"""
    return mark["result"] == "seen" and mark["kind"] in (*CODES, *STAMPS, "chart-letters")


def weighed(world: World) -> World:
    """The world without marks that no week allows, and without contradicting dates on one part."""
    s = Setting(world, None)
    impossible = {
        m["n"]
        for m in world["marks"]
        if dates(s, m) and not any((p.source.any() and p.week.any()) for p in pieces_of_mark(s, m))
    }
    world = {**world, "marks": [m for m in world["marks"] if m["n"] not in impossible]}
    s = Setting(world, None)
    at_odds = set()
    for part in (p["id"] for p in world["parts"]):
        if is_dated(world, part):
            pieces = pieces_of_part(s, part)
            if not any((p.source * 1.0).any() and p.week.any() for p in pieces):
                at_odds |= {
                    m["n"] for m in world["marks"] if m["part"] == part and dates_its_part(world, m)
                }
    return {**world, "marks": [m for m in world["marks"] if m["n"] not in at_odds]}
