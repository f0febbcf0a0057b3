"""P(text | code), one character at a time, over every code of a scheme (docs/model.md, section 4)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from . import time

DIGITS = "0123456789"
SLACK, LOST_RATIO, STRAY = 0.02, 0.5, 0.05
SOURCE_LENGTHS = (2, 3, 4)
NUMBERS = [f"{n:0{length}d}" for length in SOURCE_LENGTHS for n in range(10**length)]
"""Every source number there can be."""

Matrix = Mapping[str, Mapping[str, float]]
"""matrix[true character][seen character]."""


def symbols(text: str) -> list[str]:
    """Cut a text into '?', '[38]', '...', '|' (a separator) and plain characters."""
    out: list[str] = []
    i = 0
    while i < len(text):
        if text.startswith("...", i):
            out.append("...")
            i += 3
        elif text[i] == "[":
            end = text.index("]", i)
            out.append(text[i : end + 1])
            i = end + 1
        elif text[i] in " -./":
            out.append("|")
            i += 1
        else:
            out.append(text[i])
            i += 1
    return out


def p_character(symbol: str, true: str, matrix: Matrix | None, alphabet: str = DIGITS) -> float:
    """P(this symbol is what one sees | the true character); matrix None: a clear text."""
    if symbol == "?":
        return 1.0
    if symbol.startswith("["):
        named = symbol[1:-1]
        if true in named:
            return (1 - SLACK) / len(named)
        return SLACK / (len(alphabet) - len(named))
    if matrix is None:
        return 1.0 if symbol == true else 0.0
    return matrix.get(true, {}).get(symbol, 0.0)


def layouts(text: str, length: int) -> Iterator[tuple[float, list[str], set[int]]]:
    """Every way the text can stand for a code of ``length`` characters.

    Yields (weight, one symbol a character, the places before which a separator stands).
    """
    whole = symbols(text)
    for head in (False, True):
        for tail in (False, True):
            part = whole
            weight = 1.0
            if whole[0] == "?":
                weight *= STRAY if head else 1 - STRAY
            elif head:
                continue
            if whole[-1] == "?":
                weight *= STRAY if tail else 1 - STRAY
            elif tail:
                continue
            if head and tail and len(whole) == 1:
                continue
            part = whole[1 if head else 0 : len(whole) - (1 if tail else 0)]
            yield from _stretch(part, length, weight)


def _stretch(
    part: list[str], length: int, weight: float
) -> Iterator[tuple[float, list[str], set[int]]]:
    holes = [i for i, s in enumerate(part) if s == "..."]
    seen = sum(1 for s in part if s not in ("...", "|"))
    missing = length - seen
    if not holes:
        fills: list[tuple[int, ...]] = [()] if missing == 0 else []
    elif len(holes) == 1:
        fills = [(missing,)] if missing >= 1 else []
    else:
        fills = [(n, missing - n) for n in range(1, missing)]
    for fill in fills:
        out: list[str] = []
        cuts: set[int] = set()
        w = weight
        counts = list(fill)
        for s in part:
            if s == "|":
                cuts.add(len(out))
            elif s == "...":
                n = counts.pop(0)
                w *= (1 - LOST_RATIO) * LOST_RATIO ** (n - 1)
                out.extend("?" * n)
            else:
                out.append(s)
        yield w, out, cuts


@dataclass(frozen=True)
class Piece:
    """One term of t(sigma, w): weight of a source number times weight of a week."""

    source: np.ndarray  # (len(NUMBERS),)
    week: np.ndarray  # (T,)


def _codes_of_week(v: int, p53: float) -> list[tuple[float, int, int]]:
    """(probability, year, week number) of what is stamped for ISO week v."""
    year, number = time.year_of(v), time.number_in_year(v)
    if number == 1 and time.weeks_in_year(year - 1) == 52:
        return [(1 - p53, year, 1), (p53, year - 1, 53)]
    return [(1.0, year, number)]


def _week_factor(
    symbols_seen: list[str],
    year_digits: int,
    total: int,
    matrix: Matrix | None,
    numbers: Mapping[str, float],
) -> np.ndarray:
    """sum_d P(d) Y(year of v) Z(week of v) for every week w of the grid."""
    p_of_code: dict[int, float] = {}
    for v in range(-1, total + 1):
        p_of_code[v] = 0.0
        for p, year, number in _codes_of_week(v, numbers["week_code.week_53_of_52"]):
            code = str(year)[-year_digits:] + f"{number:02d}"
            for symbol, true in zip(symbols_seen, code, strict=True):
                p *= p_character(symbol, true, matrix)
                if p == 0.0:
                    break
            p_of_code[v] += p
    same, before, after = (numbers[f"week_code.{k}"] for k in ("same", "before", "after"))
    return np.array(
        [
            same * p_of_code[w] + before * p_of_code[w - 1] + after * p_of_code[w + 1]
            for w in range(total)
        ]
    )


def week_code(
    text: str, total: int, matrix: Matrix | None, numbers: Mapping[str, float], with_source: bool
) -> list[Piece]:
    """t(sigma, w) of a week code as a sum of pieces."""
    pieces: list[Piece] = []
    for length in SOURCE_LENGTHS if with_source else (0,):
        for year_digits in (1, 2):
            for weight, seen, cuts in layouts(text, length + year_digits + 2):
                if not cuts <= {0, length, length + year_digits, length + year_digits + 2}:
                    continue
                week = weight * _week_factor(seen[length:], year_digits, total, matrix, numbers)
                if with_source:
                    source = np.array(
                        [
                            _p_number(n, seen[:length], matrix) if len(n) == length else 0.0
                            for n in NUMBERS
                        ]
                    )
                else:
                    source = np.ones(len(NUMBERS))
                if source.any() and week.any():
                    pieces.append(Piece(source, week))
    if with_source:
        old = [time.year_of(w) < numbers["scheme.first_year"] for w in range(total)]
        fade = np.where(old, numbers["scheme.before_weight"], 1.0)
        pieces = [Piece(p.source, p.week * fade) for p in pieces]
    return pieces


def _p_number(number: str, seen: list[str], matrix: Matrix | None) -> float:
    p = 1.0
    for symbol, true in zip(seen, number, strict=True):
        p *= p_character(symbol, true, matrix)
        if p == 0.0:
            return 0.0
    return p


# --- dated readings: every code of the scheme is equally likely beforehand, weights sum to one ----

Interval = tuple[date, date]


def p_text(text: str, code: str, matrices: list[tuple[Matrix | None, str]]) -> float:
    """P(text | code) for a code without groups; matrices: one (matrix, alphabet) a character."""
    total = 0.0
    for weight, seen, _ in layouts(text, len(code)):
        p = weight
        for symbol, true, (matrix, alphabet) in zip(seen, code, matrices, strict=True):
            p *= p_character(symbol, true, matrix, alphabet)
        total += p
    return total


def _normalised(pairs: list[tuple[float, Interval]]) -> list[tuple[float, Interval]]:
    total = sum(p for p, _ in pairs)
    return [(p / total, interval) for p, interval in pairs if p > 0]


def _month(year: int, month: int) -> Interval:
    after = date(year + 1, 1, 1) if month == 12 else date(year, month + 1, 1)
    return date(year, month, 1), after - timedelta(days=1)


LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def chart_letters(text: str, chart: Mapping, matrix: Matrix | None) -> list[tuple[float, Interval]]:
    """Year letter and month letter of a maker's chart."""
    out = []
    for i, y in enumerate(chart["years"]):
        for j, m in enumerate(chart["months"]):
            code = y + m if chart["order"] == "year-month" else m + y
            p = p_text(text, code, [(matrix, LETTERS)] * 2)
            out.append((p, _month(chart["first_year"] + i, j + 1)))
    return _normalised(out)


def year_stamp(text: str, matrix: Matrix | None) -> list[tuple[float, Interval]]:
    """The last two digits are the year's, 1930 to 2029."""
    kept = symbols(text.replace(" ", ""))[-2:]
    out = []
    for year in range(1930, 2030):
        p = p_text("".join(kept), f"{year % 100:02d}", [(matrix, DIGITS)] * 2)
        out.append((p, (date(year, 1, 1), date(year, 12, 31))))
    return _normalised(out)


def hand_date(text: str, matrix: Matrix | None) -> list[tuple[float, Interval]]:
    """Day and month in either order, then the year by its last two digits."""
    fields = text.split("-")
    out = []
    for n in range((date(2029, 12, 31) - date(1930, 1, 1)).days + 1):
        day = date(1930, 1, 1) + timedelta(days=n)
        for a, b in {"dm": (day.day, day.month), "md": (day.month, day.day)}.values():
            p = 1.0
            for field, value in zip(fields, (str(a), str(b), f"{day.year % 100:02d}"), strict=True):
                cells = symbols(field)
                padded = value if len(value) == len(cells) else value.zfill(len(cells))
                if len(padded) != len(cells):
                    p = 0.0
                    break
                for symbol, true in zip(cells, padded, strict=True):
                    p *= p_character(symbol, true, matrix)
                if p == 0.0:
                    break
            if p > 0:
                out.append((p, (day, day)))
    return _normalised(out)


def letter_date(text: str, letters: Mapping) -> list[tuple[float, Interval]]:
    """A year letter (several years each) and a month character; clear or '?' only."""
    out = []
    for letter, years in letters["years"].items():
        for char, month in letters["months"].items():
            p = p_text(text, letter + char, [(None, LETTERS), (None, LETTERS)])
            out.extend((p, _month(year, month)) for year in years)
    return _normalised(out)


def spread(readings: list[tuple[float, Interval]], total: int) -> np.ndarray:
    """t(w) = sum of p over the readings whose weeks hold w."""
    t = np.zeros(total)
    for p, (first, last) in readings:
        low = max(0, time.week_of(first) - 1)
        for w in range(low, min(total, time.week_of(last) + 2)):
            if time.holds(w, first, last):
                t[w] += p
    return t
