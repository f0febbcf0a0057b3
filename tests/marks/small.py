"""A small set of tables with its own numbers, so that these tests need no pack."""

from __future__ import annotations

from datetime import date

from endbell.marks.tables import (
    ChartScheme,
    CodeGrammar,
    CodeShape,
    Confusion,
    DesignationScheme,
    FeatureWords,
    LetterDates,
    PatentYear,
    QuantityWords,
    SerialRange,
    Tables,
    Term,
)

DIGITS = "0123456789"
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
MIXED_UP = ("38", "17", "56", "08", "EF", "CG", "OQ", "IJ")


def confusion(alphabet: str, other: float, twin: float) -> Confusion:
    """A matrix in which twins are mistaken for each other more often than strangers."""
    rows: list[tuple[float, ...]] = []
    for true in alphabet:
        row = [
            twin if any({true, seen} == set(pair) for pair in MIXED_UP) else other
            for seen in alphabet
        ]
        row[alphabet.index(true)] = 0.0
        row[alphabet.index(true)] = 1.0 - sum(row)
        rows.append(tuple(row))
    return Confusion(alphabet, tuple(rows))


GRAMMAR = CodeGrammar(
    shapes=(CodeShape(3, 1), CodeShape(3, 2), CodeShape(4, 1), CodeShape(4, 2), CodeShape(2, 1)),
    choice_slack=0.02,
    lost_ratio=0.5,
    stray_end=0.1,
    separators=" -./",
)

TABLES = Tables(
    digits={
        "worn": confusion(DIGITS, 0.004, 0.04),
        "poor": confusion(DIGITS, 0.015, 0.09),
    },
    letters={
        "worn": confusion(LETTERS, 0.002, 0.03),
        "poor": confusion(LETTERS, 0.008, 0.06),
    },
    grammar=GRAMMAR,
    letter_dates=LetterDates(
        {"A": (1970, 1990), "B": (1971, 1991), "R": (1983, 2003)},
        {**{str(month): month for month in range(1, 10)}, "O": 10, "N": 11, "D": 12},
    ),
    charts=(
        # common practice, no source: A = January, C = 1953, no letter skipped up to N = 1964
        ChartScheme("common-practice", 1951, "ABCDEFGHIJKLMN", "ABCDEFGHIJKL"),
        ChartScheme("brackwater", 1956, "KLMNPR", "ABCDEFGHJKLM", order="month-year"),
    ),
    serials=(
        SerialRange("early", "A", 1001, 2000, date(1963, 1, 1), date(1963, 12, 31), 6.0),
        SerialRange("late", "A", 2001, 4000, date(1964, 1, 1), date(1965, 12, 31), 6.0),
        SerialRange("overlap", "A", 1901, 2100, date(1966, 1, 1), date(1966, 12, 31), 4.0),
    ),
    terms=(
        Term(
            "zone",
            (r"\b[A-Z][a-z]+ \d{1,2}, [A-Z]",),
            date(1943, 5, 1),
            date(1963, 6, 30),
            "soft",
            "city with a zone",
            "demo",
        ),
        Term("zip", (r"\b\d{5}\b", r"\bZIP\b"), date(1963, 7, 1), None, "hard", "ZIP code", "demo"),
    ),
    patents=(
        PatentYear(1951, 2536016, 161404),
        PatentYear(1952, 2580379, 165568),
        PatentYear(1953, 2624046, 168527),
        PatentYear(1954, 2664562, 171241),
    ),
    designations=(
        DesignationScheme(
            "ostrander",
            r"(?P<magnet>[WZ])(?P<size>8|10|12)(?P<power>[A-F])",
            {"W": "alnico", "Z": "ceramic"},
            {"8": "8 inch", "10": "10 inch", "12": "12 inch"},
            "ABCDEF",
            rising=True,
        ),
        DesignationScheme(
            "vale-and-marsh",
            r"(?P<magnet>[VY])(?P<size>20|25|30)(?P<power>[S-W])",
            {"V": "alnico", "Y": "ceramic"},
            {"20": "20 cm", "25": "25 cm", "30": "30 cm"},
            "STUVW",
            rising=False,
        ),
    ),
    features={
        "covering-colour": FeatureWords("covering-colour", "covering", ("black", "grey-tweed")),
    },
    quantities={"weave-pitch": QuantityWords("weave-pitch", "mm", {"mm": 1.0, "in": 25.4})},
    conditions=("joint-untouched", "joint-reflowed", "dust-shadow"),
    sources={"993": "Halden Coil"},
)
