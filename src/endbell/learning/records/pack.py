"""A shop's own pack of what its records taught: plain tables to be read, changed, thrown away."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from ...reference.types import FeatureValue, Reference, Supply, Window
from .intervals import Learned
from .serial import Knot, rows_of
from .subjects import FeaturesOf, Subjects, SupplyOf, digits_name, slots_name

SHOP = "shop records"
MADE_BY = "# Made by `endbell learn`"
FILES = (
    "pack.toml",
    "assumption.csv",
    "supply.csv",
    "feature_value.csv",
    "digit_confusion.csv",
    "serial.csv",
)
"""Every file that may be written; others in the folder are not its own."""

A_RECORD = 1.0
"""Values with less than this behind them are not written: the records say nothing of them."""

DIGITS = 6


@dataclass(frozen=True, slots=True)
class Written:
    """What goes into a pack: ``serials`` by the id of the range they replace."""

    id: str
    packs: tuple[str, ...]
    dossiers: int
    patterns: int
    first: date
    last: date
    learned: Sequence[Learned]
    serials: Mapping[str, tuple[Knot, ...]]


def pack_files(subjects: Subjects, w: Written) -> dict[str, str]:
    """The text of every file, by its name; tables without a row are not there."""
    by_name = {v.name: v for v in w.learned}
    tables = {
        "assumption.csv": _assumptions(subjects, by_name),
        "supply.csv": _supplies(subjects, by_name),
        "feature_value.csv": _feature_values(subjects, by_name),
        "digit_confusion.csv": _digits(subjects, by_name),
        "serial.csv": _serials(subjects.reference, w.serials),
    }
    return {"pack.toml": _head(w)} | {name: text for name, text in tables.items() if text}


def _head(w: Written) -> str:
    below = ", ".join(f'"{p}"' for p in w.packs)
    said = f"{w.dossiers} dossiers ({w.patterns} different), as of {w.first} to {w.last}"
    return (
        f"{MADE_BY} from {said}.\n"
        "# Read it, change it, or throw the folder away: nothing else depends on it. Each row\n"
        "# says in its note what the value was, its 90% interval, and the records behind it.\n"
        'format = "endbell-pack/1"\n'
        f'id = "{w.id}"\n'
        f'version = "{w.last.isoformat()}"\n'
        f'title = "What the shop\'s own records taught: {w.dossiers} dossiers"\n'
        f"builds_on = [{below}]\n"
        f'source = "{SHOP}"\n'
        f'confidence = "{SHOP}"\n'
        f'note = "{said}"\n'
    )


def _csv(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    listed = list(rows)
    if not listed:
        return ""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*columns, "source", "confidence", "note"])
    for *cells, confidence, note in listed:
        writer.writerow([*cells, SHOP, confidence, note])
    return out.getvalue()


def number(x: float) -> str:
    """A value to four significant digits."""
    return f"{x:.4g}"


def note_of(v: Learned) -> str:
    """What stands beside a value."""
    return (
        f"was {number(v.pack)}; 90%: {number(v.low)} to {number(v.high)}; {records_of(v.records)}"
    )


def records_of(n: float) -> str:
    """'1 record', '37 records'."""
    whole = round(n)
    return f"{whole} record{'' if whole == 1 else 's'}"


def confidence_of(n: float) -> str:
    """How sure a value is, in words."""
    return f"{SHOP}, {records_of(n)}" + (": few, stays near the pack's" if n < FEW else "")


FEW = 20
"""Fewer records than this are said to be few."""


def _assumptions(subjects: Subjects, by_name: Mapping[str, Learned]) -> str:
    rows: list[list[str]] = []
    for s in subjects.space.scalars:
        v = by_name.get(s.name)
        if s.scale != "weeks" and v is not None and v.records >= A_RECORD:
            known = subjects.reference.assumptions[s.name]
            said = (confidence_of(v.records), note_of(v))
            rows.append([s.name, number(v.value), known.unit, known.words, *said])
    return _csv(("name", "value", "unit", "words"), rows)


def _moved(of: SupplyOf | FeaturesOf, by_name: Mapping[str, Learned]) -> dict[str, Learned]:
    return {
        e.name: v
        for e in of.edges
        if (v := by_name.get(e.name)) is not None and v.records >= A_RECORD
    }


def _edge_note(v: Learned) -> str:
    return (
        f"{v.name.rpartition('.')[2]} moved {v.value:+.1f} weeks, 90%: {v.low:+.1f} to "
        f"{v.high:+.1f}, {records_of(v.records)}"
    )


def _supplies(subjects: Subjects, by_name: Mapping[str, Learned]) -> str:
    """All rows of a class of which anything was learned: a key's rows replace each other whole."""
    rows: list[list[str]] = []
    for of in subjects.supplies:
        moved = _moved(of, by_name)
        shares = {
            i: [
                by_name.get(f"{slots_name(of.part_class, i)}.{m}")
                for m in _members(subjects, of, i)
            ]
            for i in range(len(of.slots))
        }
        shares = {i: v for i, v in shares.items() if v[0] and v[0].records >= A_RECORD}
        if not moved and not shares:
            continue
        old = [subjects.reference.supplies[i] for i in of.rows]
        reference = subjects.moved(
            {name: round(7 * v.value) for name, v in moved.items()},
            {},
        )
        new = [reference.supplies[i] for i in of.rows]
        for r, (before, after) in enumerate(zip(old, new, strict=True)):
            notes = [_edge_note(moved[e.name]) for e in of.edges if e.name in moved and _ends(e, r)]
            share = before.window.weight
            records = [moved[e.name].records for e in of.edges if e.name in moved and _ends(e, r)]
            for i, found in shares.items():
                for turn, v in zip(of.slots[i].rows, found, strict=True):
                    if r in turn and v is not None:
                        share = v.value
                        notes.append(f"share {note_of(v)}")
                        records.append(v.records)
            rows.append(_supply_row(before, after, share, notes, max(records, default=0.0)))
    columns = ("number", "name", "class", "first", "last", "share", "softness_weeks", "models")
    return _csv(columns, rows)


def _members(subjects: Subjects, of: SupplyOf, i: int) -> tuple[str, ...]:
    name = slots_name(of.part_class, i)
    return next(s.members for s in subjects.space.simplices if s.name == name)


def _ends(edge: object, row: int) -> bool:
    return any(end.row == row for end in edge.ends)  # type: ignore[attr-defined]


def _supply_row(
    before: Supply, after: Supply, share: float, notes: Sequence[str], records: float
) -> list[str]:
    confidence = confidence_of(records) if notes else f"as in the pack: {before.confidence}"
    return [
        before.number,
        before.name,
        before.part_class,
        *_window(after.window),
        number(share),
        number(before.softness_weeks),
        ";".join(before.models),
        confidence,
        "; ".join(notes) or "nothing learned of this row",
    ]


def _window(w: Window) -> tuple[str, str]:
    return (
        "" if w.first is None else w.first.isoformat(),
        "" if w.last is None else w.last.isoformat(),
    )


def _feature_values(subjects: Subjects, by_name: Mapping[str, Learned]) -> str:
    """All values of a feature of which anything was learned: their order counts."""
    rows: list[list[str]] = []
    for of in subjects.features:
        moved = _moved(of, by_name)
        if not moved:
            continue
        reference = subjects.moved({name: round(7 * v.value) for name, v in moved.items()}, {})
        for r, (name, at) in enumerate(of.rows):
            v: FeatureValue = reference.features[name].values[at]
            ends = [moved[e.name] for e in of.edges if e.name in moved and _ends(e, r)]
            confidence = (
                confidence_of(max(e.records for e in ends))
                if ends
                else f"as in the pack: {reference.features[name].confidence}"
            )
            note = "; ".join(_edge_note(e) for e in ends) or "nothing learned of this row"
            cells = [name, v.value, *_window(v.window), number(v.window.weight), ";".join(v.models)]
            rows.append([*cells, confidence, note])
    return _csv(("feature", "value", "first", "last", "share", "models"), rows)


def _digits(subjects: Subjects, by_name: Mapping[str, Learned]) -> str:
    """A table is replaced as a whole; its rows sum to one to the last digit written."""
    rows: list[list[str]] = []
    for legibility, table in subjects.reference.tables.digits.items():
        found = [_digit_row(legibility, true, table.alphabet, by_name) for true in range(10)]
        if not any(v and v[0].records >= A_RECORD for v in found):
            continue
        for true, values in enumerate(found):
            shares = [v.value for v in values] if values else list(table.rows[true])
            n = values[0].records if values else 0.0
            largest = max(range(10), key=lambda j, s=shares: s[j])
            cells = [round(x, DIGITS) for x in shares]
            cells[largest] = round(
                1.0 - sum(c for j, c in enumerate(cells) if j != largest), DIGITS
            )
            note = "nothing learned of this row"
            if values:
                own = values[largest]
                note = f"seen as {table.alphabet[largest]}: {note_of(own)}"
            said = [f"{c:.{DIGITS}f}".rstrip("0").rstrip(".") for c in cells]
            rows.append([legibility, table.alphabet[true], *said, confidence_of(n), note])
    return _csv(("legibility", "true", *"0123456789"), rows)


def _digit_row(
    legibility: str, true: int, alphabet: str, by_name: Mapping[str, Learned]
) -> list[Learned]:
    name = digits_name(legibility, true)
    found = [by_name.get(f"{name}.{c}") for c in alphabet]
    return [v for v in found if v is not None] if all(found) else []


def _serials(reference: Reference, serials: Mapping[str, tuple[Knot, ...]]) -> str:
    rows: list[list[str]] = []
    for row in reference.tables.serials:
        knots = serials.get(row.id)
        if not knots:
            continue
        for made, a, b in rows_of(row, knots):
            records = sum(k.records for k in (a, b))
            note = "; ".join(
                f"{k.number}: 90% within {(k.low - k.week):+.0f} and {(k.high - k.week):+.0f} "
                f"weeks, {records_of(k.records)}"
                for k in (a, b)
            )
            cells = [made.id, made.prefix, str(made.first_number), str(made.last_number)]
            cells += [made.first.isoformat(), made.last.isoformat(), number(made.spread_weeks)]
            rows.append([*cells, ";".join(made.models), confidence_of(records), note])
    columns = ("id", "prefix", "first_number", "last_number", "first", "last", "spread_weeks")
    return _csv((*columns, "models"), rows)
