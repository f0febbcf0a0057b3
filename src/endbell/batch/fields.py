"""What a column of a table of marks can be: the keys of a dossier file, and other headings."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from ..dossier.keys import CLAIM, MARK, TOP, Key


@dataclass(frozen=True, slots=True)
class Field:
    """One field: its name for ``--map``, how the preview says it, and other headings for it."""

    name: str
    words: str
    headings: tuple[str, ...] = ()


_MARK_HEADINGS: Mapping[str, tuple[str, ...]] = {
    "part": ("component", "part id", "item"),
    "kind": ("kind of mark", "mark kind", "mark type", "type of mark"),
    "text": ("code", "date code", "codes", "mark", "marking", "stamp", "as seen", "reads"),
    "legibility": ("legible", "how legible"),
    "result": ("outcome", "result of look"),
    "place": ("where", "location", "position"),
    "by": ("seen by", "who", "vetter", "initials"),
    "on": ("seen on", "date seen", "day", "day seen", "inspected", "inspected on"),
    "photos": ("photo", "picture", "pictures"),
    "note": ("notes", "remark", "remarks", "comment", "comments"),
    "uncertainty": ("plus minus", "tolerance"),
    "date": ("paper date", "document date", "date on paper"),
}


_ON_A_MARK = {key.name for key in MARK}


def _said(key: Key, table: str) -> str:
    """A key in few words: the beginning of what the dossier's form says of it."""
    if key.name in ("text", "kind"):
        return f"{key.name} of a mark"
    return f"{table}{re.split('[:;(,]', key.words)[0].strip()}"


FIELDS: tuple[Field, ...] = (
    Field(
        "dossier",
        "which dossier the mark belongs to",
        ("id", "dossier id", "dossier no", "amp", "amp id", "amp no", "ticket", "job", "job no"),
    ),
    Field("n", "the place of the mark in its dossier", ("mark no", "mark number")),
    *(Field(key.name, _said(key, ""), _MARK_HEADINGS.get(key.name, ())) for key in MARK),
    Field("class", "class of the part", ("part class", "class of part")),
    Field("assembly", "assembly of the part"),
    *(Field(key.name, _said(key, "")) for key in TOP if key.name != "id"),
    *(
        Field(
            f"claim.{key.name}",
            _said(key, "claim: "),
            (f"claimed {key.name}", *((key.name,) if key.name not in _ON_A_MARK else ())),
        )
        for key in CLAIM
    ),
    Field("known.made", "years in which this form was made at all"),
)
BY_NAME: Mapping[str, Field] = {field.name: field for field in FIELDS if field.name != "format"}

NEEDED = ("dossier", "part", "text")
"""Without these nothing can be weighed; ``feature`` and ``value`` together stand for ``text``."""

IGNORED = "ignore"


def heading_words(heading: str) -> str:
    """A heading in plain words: 'Date_Code' -> 'date code'."""
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", heading)
    return " ".join(re.findall(r"[a-z0-9]+", spaced.lower()))


def named_by(heading: str) -> str | None:
    """The field that a heading names, or None.

    >>> named_by("Code"), named_by("claim.built"), named_by("Price")
    ('text', 'claim.built', None)
    """
    plain = heading_words(heading)
    for field in BY_NAME.values():
        if plain in (heading_words(field.name), *field.headings):
            return field.name
    return None
