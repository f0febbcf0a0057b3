"""The vocabulary of a dossier file: every table, every key, what may stand there.

One table for three uses: the row checks read it, the shipped JSON Schema is generated from it, and
``docs/formats/dossier.md`` is tested against it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..marks.outcome import LEGIBILITIES, RESULTS

FORMAT_NAME = "endbell-dossier"
FORMAT_NUMBER = 1

PURPOSES = ("buy", "sell", "service", "insurance")


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a table.

    ``form``: 'text', 'texts' (a list), 'number', 'text-or-number', 'yes-no', 'day' (one calendar
    day) or 'edtf' (a date as ISO 8601-2 writes it; a bare year or a TOML day will do).
    ``weighs``: whether the row is worthless when this key can't be read; other keys only bring a
    remark, because a mark is not thrown away for a slip in its note.
    """

    name: str
    form: str
    words: str
    required: bool = False
    choices: tuple[str, ...] = ()
    weighs: bool = False


TOP = (
    Key("format", "text", f"the form of this file: '{FORMAT_NAME}/{FORMAT_NUMBER}'"),
    Key("id", "text", "the shop's own number for this amp; default: the name of the file"),
    Key(
        "as_of",
        "day",
        "the day up to which the amp may have been built or repaired; default: the newest day "
        "among its marks, else the day of the command",
    ),
    Key("purpose", "text", "why it is vetted", choices=PURPOSES),
    Key(
        "packs",
        "texts",
        "reference packs besides 'standards' and 'common-practice', which always apply",
    ),
)

KNOWN = (
    Key(
        "made",
        "edtf",
        "years in which this form was made at all, from reference works, never from the seller",
        weighs=True,
    ),
)

CLAIM = (
    Key("maker", "text", "maker, as its pack names it"),
    Key("model", "text", "model, as its pack names it"),
    Key("built", "edtf", "when it is said to be built", weighs=True),
    Key("original", "texts", "part ids, classes or 'everything'"),
    Key("except", "texts", "part ids or classes that 'everything' leaves out"),
    Key("by", "text", "who says so"),
)

PART = (
    Key("id", "text", "the name marks call it by", required=True, weighs=True),
    Key("class", "text", "what sort of part it is; may be left out for a usual id", weighs=True),
    Key(
        "assembly",
        "text",
        "chassis, cabinet, speakers, reverb, papers, or one of the pack's own",
        weighs=True,
    ),
)

REPAIR = (
    Key("part", "text", "the part worked on", required=True, weighs=True),
    Key("done", "edtf", "when", weighs=True),
    Key("replaced", "yes-no", "whether the part was replaced; default false", weighs=True),
    Key("note", "text", "a ticket number, what was done"),
)

MARK = (
    Key(
        "part",
        "text",
        "the part it sits on: a usual id (ot, pot-3) or the id of a [[part]]",
        required=True,
        weighs=True,
    ),
    Key("kind", "text", "the kind of mark", required=True, weighs=True),
    Key(
        "text",
        "text",
        "exactly as seen; ? = a character that can't be read, [38] = one of these, ... = more "
        "was there",
        weighs=True,
    ),
    Key(
        "legibility",
        "text",
        "how well it can be read; default clear",
        choices=LEGIBILITIES,
        weighs=True,
    ),
    Key("result", "text", "what the look came to; default seen", choices=RESULTS, weighs=True),
    Key("place", "text", "where on the part"),
    Key("by", "text", "who saw it"),
    Key("on", "day", "when it was seen"),
    Key("photos", "texts", "paths of photos, relative to this file"),
    Key("note", "text", "anything else"),
    Key("feature", "text", "which feature (kind feature)", weighs=True),
    Key(
        "value",
        "text-or-number",
        "the feature's value, the condition word, or the measured figure",
        weighs=True,
    ),
    Key("quantity", "text", "which quantity (kind measured)", weighs=True),
    Key("unit", "text", "unit of the figure (kind measured)", weighs=True),
    Key("uncertainty", "number", "standard uncertainty of the figure (kind measured)", weighs=True),
    Key("date", "edtf", "the date on the paper (kind document)", weighs=True),
)

TABLES: Mapping[str, tuple[Key, ...]] = {
    "": TOP,
    "known": KNOWN,
    "claim": CLAIM,
    "part": PART,
    "repair": REPAIR,
    "mark": MARK,
}

KEYS: Mapping[str, Mapping[str, Key]] = {
    name: {key.name: key for key in keys} for name, keys in TABLES.items()
}
"""The keys of each table by name."""

REQUIRED: Mapping[str, frozenset[str]] = {
    name: frozenset(key.name for key in keys if key.required) for name, keys in TABLES.items()
}
"""The keys without which a table can't be used."""

ROWS = ("part", "repair", "mark")
"""The tables that may stand many times (``[[mark]]``)."""


def key_of(table: str, name: str) -> Key | None:
    """The key ``name`` of ``table``, or None."""
    return next((key for key in TABLES[table] if key.name == name), None)
