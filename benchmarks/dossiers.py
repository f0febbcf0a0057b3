"""The amps that are weighed for the clock: one with forty marks, and rows of ever larger ones.

Each is written as the text of a dossier file and read as such. All of them are invented.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from endbell.dossier import Dossier, parse_dossier
from endbell.reference import Reference, load_reference

AS_OF = date(2026, 3, 2)
MAKER = "brackwater"

Row = dict[str, str]

SWAPPED = ("pot-6", "ot", "sp-2", "elco-3")
"""The parts of the forty-mark amp that did not leave the factory with it (built in June 1963)."""

_SOURCE_CODES = {
    "pot-1": "992-308", "pot-2": "992-308", "pot-3": "992-308", "pot-4": "991-310",
    "pot-5": "991-310", "pot-6": "991-712", "pt": "993-313", "ot": "994-641",
    "choke": "993-311", "rt": "994-314", "sp-1": "995-315", "sp-2": "997-635",
}  # fmt: skip
_DATE_CODES = {
    "cap-1": "306", "cap-2": "306", "cap-3": "306", "cap-4": "304", "cap-5": "304",
    "cap-6": "309", "cap-7": "309", "cap-8": "306", "elco-1": "307", "elco-2": "307",
    "elco-3": "421", "valve-1": "310", "valve-2": "310", "valve-3": "312", "valve-4": "309",
}  # fmt: skip
_FEATURES = {
    "covering-colour": ("covering", "grey-tweed"),
    "cloth-pattern": ("cloth", "silver-thread"),
    "handle-form": ("handle", "moulded-bar"),
    "badge-form": ("badge", "brass-script"),
    "faceplate-lettering": ("faceplate", "printed-block"),
    "faceplate-finish": ("faceplate", "brushed-steel"),
    "knob-shape": ("knobs", "skirted"),
    "knob-colour": ("knobs", "ivory"),
    "faceplate-legend": ("faceplate", "lantern-reverb"),
    "reverb-controls": ("faceplate", "one-knob"),
    "chassis-punch": ("chassis", "double-slot"),
}
_CONDITIONS = {
    "pt": "joint-untouched", "ot": "joint-reflowed", "choke": "joint-untouched",
    "rt": "joint-untouched", "sp-1": "screws-undisturbed", "sp-2": "screws-turned",
    "pot-6": "joint-new-solder", "elco-3": "joint-new-solder",
}  # fmt: skip


def reference_with(packs: Sequence[str]) -> Reference:
    """The packs that always apply and ``packs``, merged."""
    reference, problems = load_reference(tuple(packs))
    assert not problems, problems
    return reference


def one_digit_rows() -> list[Row]:
    """The twenty-seven codes with one year digit."""
    return [
        *({"part": p, "kind": "source-date-code", "text": t} for p, t in _SOURCE_CODES.items()),
        *({"part": p, "kind": "date-code", "text": t} for p, t in _DATE_CODES.items()),
    ]


def forty_rows(maker: bool) -> list[Row]:
    """Forty marks: twenty-seven one-digit years, and thirteen that a bench finds beside them.

    ``maker``: eleven features, chart letters and a stamp, which only a maker's pack can say
    anything about; else papers, stamps, two-digit years and the state of joints and screws.
    """
    stamp: Row = {"part": "chassis", "kind": "year-stamp", "text": "5 0663"}
    if maker:
        others: list[Row] = [
            {"part": p, "kind": "feature", "feature": f, "value": v}
            for f, (p, v) in _FEATURES.items()
        ]
        others += [stamp, {"part": "chart", "kind": "chart-letters", "text": "VM"}]
    else:
        others = [{"part": p, "kind": "condition", "text": w} for p, w in _CONDITIONS.items()]
        others += [
            stamp,
            {"part": "cab", "kind": "hand-date", "text": "3 June 1963"},
            {"part": "paper", "kind": "document", "text": "receipt", "date": "1965-02-14"},
            {"part": "cap-9", "kind": "date-code", "text": "6306"},
            {"part": "elco-4", "kind": "date-code", "text": "6311"},
        ]
    return [*one_digit_rows(), *others]


def forty_marks(maker: bool) -> str:
    """The text of the forty-mark dossier."""
    return text_of(forty_rows(maker), packs=(MAKER,) if maker else (), claim=True)


def text_of(
    rows: Sequence[Row],
    *,
    as_of: date = AS_OF,
    packs: Sequence[str] = (),
    claim: bool = False,
) -> str:
    """A dossier file with these marks."""
    lines = [
        'format = "endbell-dossier/1"',
        f'id = "speed-{len(rows)}"',
        f"as_of = {as_of.isoformat()}",
        f"packs = [{', '.join(map(_quoted, packs))}]",
    ]
    if claim:
        lines += ["[claim]", 'built = "1963"', 'original = ["everything"]', 'except = ["valves"]']
        if packs:
            lines += [f'maker = "{packs[0]}"', 'model = "lantern-20-reverb"']
    for row in rows:
        lines += ["[[mark]]", *(f"{k} = {_quoted(v)}" for k, v in row.items())]
    return "\n".join(lines) + "\n"


def parsed(text: str, reference: Reference) -> Dossier:
    """The dossier; every row has to be one that is weighed."""
    dossier = parse_dossier(text, lambda _: reference, today=AS_OF)
    assert not dossier.problems, dossier.problems
    return dossier


def one_mark_fewer(dossier: Dossier) -> Dossier:
    """The same before its last mark was typed."""
    return replace(dossier, marks=dossier.marks[:-1])


# ---- rows of ever larger ones


def with_marks(n: int) -> list[Row]:
    """``n`` codes with one year digit, dealt out over six classes, three deliveries in each."""
    classes = ("pot", "cap", "elco", "sp", "valve", "choke")
    made = ("308", "311", "305")
    rows: list[Row] = []
    for i in range(n):
        part, turn = classes[i % len(classes)], i // len(classes)
        rows.append(
            {"part": f"{part}-{turn + 1}", "kind": "date-code", "text": made[turn % len(made)]}
        )
    return rows


def of_1948() -> list[Row]:
    """Twelve codes with one year digit, of an amp built in 1948: they fit any grid from 1950 on."""
    codes = {
        "pt": "993-822", "ot": "993-823", "choke": "993-820", "sp-1": "995-824",
        "pot-1": "992-818", "pot-2": "992-818", "pot-3": "992-818", "pot-4": "992-820",
        "pot-5": "991-815", "pot-6": "991-815",
    }  # fmt: skip
    rows = [{"part": p, "kind": "source-date-code", "text": t} for p, t in codes.items()]
    return rows + [{"part": f"elco-{i}", "kind": "date-code", "text": "819"} for i in (1, 2)]


def pots(n: int, how: str) -> list[Row]:
    """``n`` potentiometers and one output transformer.

    ``how``: 'equal' (one delivery), 'far apart' (no two could have come together), 'weeks apart'
    (all different, two weeks from one to the next).
    """
    texts = {
        "equal": ["992-308"] * n,
        "far apart": [f"992-{i % 10}{10 + 26 * (i // 10):02d}" for i in range(n)],
        "weeks apart": [f"992-3{5 + 2 * i:02d}" for i in range(n)],
    }[how]
    rows = [
        {"part": f"pot-{i + 1}", "kind": "source-date-code", "text": t} for i, t in enumerate(texts)
    ]
    return [*rows, {"part": "ot", "kind": "source-date-code", "text": "993-330"}]


def _quoted(word: str) -> str:
    return f'"{word}"'
