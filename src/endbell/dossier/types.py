"""The record of one amp, as typed. Nothing here interprets anything."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date


@dataclass(frozen=True, slots=True)
class Mark:
    """One thing observed. ``n``: its number, from 1, in the order of the file. ``line``: where."""

    n: int
    part: str
    kind: str
    text: str = ""
    legibility: str = "clear"
    result: str = "seen"
    place: str = ""
    by: str = ""
    on: date | None = None
    photos: tuple[str, ...] = ()
    note: str = ""
    feature: str | None = None
    value: str | float | None = None
    quantity: str | None = None
    unit: str | None = None
    uncertainty: float | None = None
    date: str | None = None
    line: int = 0


@dataclass(frozen=True, slots=True)
class Part:
    """A thing fitted to the amp that marks sit on."""

    id: str
    part_class: str
    assembly: str


@dataclass(frozen=True, slots=True)
class Repair:
    """Work that is known of. ``first``/``last``: the days ``done`` covers (None: open)."""

    part: str
    done: str
    replaced: bool
    note: str = ""
    first: date | None = None
    last: date | None = None
    line: int = 0


@dataclass(frozen=True, slots=True)
class Claim:
    """What the amp is said to be. ``built_from``/``built_to``: the days ``built`` covers."""

    maker: str | None = None
    model: str | None = None
    built: str | None = None
    built_from: date | None = None
    built_to: date | None = None
    original: tuple[str, ...] = ()
    excluded: tuple[str, ...] = ()
    by: str = ""


@dataclass(frozen=True, slots=True)
class Problem:
    """A row that is not weighed, or weighed with a remark: place, found, accepted."""

    file: str
    table: int | None
    line: int | None
    found: str
    accepted: str
    header: str = "mark"
    nearest: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SetAside:
    """A row that could not be used, kept as typed: ``row`` is the table as the file has it."""

    header: str
    table: int
    line: int | None
    row: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class Dossier:
    """Everything recorded about one amp. ``parts`` holds every part a mark or repair names.

    ``problems``: rows left out of the weighing, each with its row in ``set_aside``; ``remarks``:
    slips that cost nothing (an unknown key, a note that is no text) and are only said.
    """

    id: str
    as_of: date
    file: str = ""
    purpose: str = ""
    packs: tuple[str, ...] = ()
    made: tuple[date | None, date | None] | None = None
    claim: Claim = Claim()
    parts: tuple[Part, ...] = ()
    repairs: tuple[Repair, ...] = ()
    marks: tuple[Mark, ...] = ()
    problems: tuple[Problem, ...] = ()
    as_of_from: str = "file"  # 'file' | 'newest mark' | 'command day'
    unknown_keys: tuple[str, ...] = ()
    extra: Mapping[str, str] = field(default_factory=dict[str, str])
    remarks: tuple[Problem, ...] = ()
    set_aside: tuple[SetAside, ...] = ()
