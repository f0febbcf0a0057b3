"""What the weighing gives the screens: plain values that travel between processes."""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from ..store.events import canonical
from .shop_packs import SHIPPED_ONLY, PacksNow


@dataclass(frozen=True, slots=True)
class Ask:
    """A dossier to be weighed.

    ``form``: the tables of a dossier file; ``day``: ISO, used where the form gives none;
    ``without``: numbers of marks to leave out, as if they had not been made; ``answered``: looks
    (check, part) that were said not to be possible; ``what``: 'strip', 'glance' (a strip whose
    conflicts nobody counts: while something is typed), 'verdict' or 'report'.
    """

    what: str
    form: Mapping[str, Any]
    day: str
    packs: PacksNow = SHIPPED_ONLY
    without: tuple[int, ...] = ()
    answered: tuple[tuple[str, str], ...] = ()

    @property
    def key(self) -> str:
        """The same for whatever gives the same result."""
        said = [
            self.what,
            self.form,
            self.day,
            self.packs.stamp,
            sorted(self.without),
            sorted(map(list, self.answered)),
        ]
        return hashlib.sha256(canonical(said).encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Strip:
    """The verdict in brief, ready to be shown.

    ``says``: the build date in words; ``sure``: 'settled', 'probable' or 'open' (all set alike);
    ``beside``: the number that stands with it; ``sets``: level -> [first week, last week, mass];
    ``claim``: what becomes of the claim, in words, '' where nothing is claimed; ``parts``: part ->
    [word, P(original)]; ``conflicts``: sets of marks that can't all be right (None: not counted,
    as while something is typed); ``svg``: the little curve; ``trouble``: why nothing could be
    weighed.
    """

    says: str
    sure: str
    beside: str = ""
    mode: str = ""
    mode_year: int | None = None
    p_mode_year: float | None = None
    first_year: int | None = None
    last_year: int | None = None
    years: tuple[tuple[int, float], ...] = ()
    sets: Mapping[str, Any] = field(default_factory=dict[str, Any])
    model: str = ""
    model_p: float | None = None
    claim: str = ""
    claim_p: float | None = None
    weakest: str = ""
    parts: Mapping[str, tuple[str, float]] = field(default_factory=dict[str, tuple[str, float]])
    weighed: int = 0
    not_weighed: int = 0
    conflicts: int | None = None
    svg: str = ""
    trouble: str = ""
    made_by: str = ""

    def signed(self, packs: PacksNow) -> Strip:
        """The strip with what made it."""
        return replace(self, made_by=signed(self.made_by, packs))

    def as_json(self) -> dict[str, Any]:
        """The strip as JSON values; :func:`strip_from_json` reads it back."""
        return asdict(self)


def signed(made_by: str, packs: PacksNow) -> str:
    """What a strip says of its making: the code that weighed, and the packs that were in force."""
    return f"{made_by} {packs.stamp}"[:80]


def strip_from_json(value: Mapping[str, Any]) -> Strip:
    """The strip that :meth:`Strip.as_json` wrote, through JSON or not."""
    read: dict[str, Any] = dict(value)
    read["years"] = tuple((int(year), float(p)) for year, p in value["years"])
    read["parts"] = {part: (word, float(p)) for part, (word, p) in value["parts"].items()}
    return Strip(**read)


@dataclass(frozen=True, slots=True)
class PartLine:
    """A part for the table of parts."""

    part: str
    title: str
    assembly: str
    word: str
    says: str
    original: float
    period: float
    later: float
    stable: bool


@dataclass(frozen=True, slots=True)
class MarkLine:
    """A mark, what it can mean, what it did.  ``n``: its number in the form."""

    n: int
    part: str
    title: str
    typed: str
    kind: str
    legibility: str
    result: str
    readings: tuple[str, ...]
    influence_bits: float
    influence: str
    conflict: float | None
    fit: str
    odd: bool
    weighed: bool
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Would:
    """What the verdict would be if a mark had not been made.

    ``says``: the build date, '' where it stays; ``claim``: what becomes of the claim, likewise.
    """

    n: int
    typed: str
    part: str
    says: str
    claim: str


@dataclass(frozen=True, slots=True)
class CheckLine:
    """A look worth making.  ``best``: tells most a minute of all; ``chance``: of finding it."""

    check: str
    part: str
    title: str
    part_title: str
    level: str
    level_words: str
    minutes: str
    setup: str
    gain: str
    settles: str
    then: str
    chance: str
    worth: float
    best: bool


@dataclass(frozen=True, slots=True)
class Weighed:
    """The full verdict, ready to be shown.  ``packed``: all of it, see :attr:`values`.

    Some hundred are held at a time, and few are ever asked for their values: those lie packed.

    ``wide`` and ``narrow``: the time line; ``years_said``: its description; ``words``: sentences
    with the numbers of their marks; ``unstable``: assumption, factor, what changes.
    """

    strip: Strip
    packed: bytes = b""
    wide: str = ""
    narrow: str = ""
    words: tuple[tuple[str, tuple[int, ...]], ...] = ()
    conflicts: tuple[tuple[str, tuple[int, ...], str], ...] = ()
    marks: tuple[MarkLine, ...] = ()
    parts: tuple[PartLine, ...] = ()
    clauses: tuple[tuple[str, str, bool], ...] = ()
    not_looked_at: tuple[str, ...] = ()
    stable: bool = True
    unstable: tuple[tuple[str, str, str], ...] = ()
    would: tuple[Would, ...] = ()
    next: tuple[CheckLine, ...] = ()
    next_says: str = ""
    cautions: Mapping[str, str] = field(default_factory=dict[str, str])
    levels: tuple[tuple[str, str], ...] = ()
    not_weighed: tuple[tuple[int | None, str, str], ...] = ()
    notes: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()

    @property
    def values(self) -> dict[str, Any]:
        """The verdict as ``as_json`` writes it; empty in trouble."""
        return json.loads(zlib.decompress(self.packed)) if self.packed else {}

    @property
    def trouble(self) -> str:
        """Why there is no verdict; '' where there is one."""
        return self.strip.trouble

    def mark(self, n: int) -> MarkLine | None:
        """The line of mark ``n``."""
        return next((mark for mark in self.marks if mark.n == n), None)


def packed(values: Mapping[str, Any]) -> bytes:
    """What :attr:`Weighed.values` reads."""
    return zlib.compress(canonical(values).encode(), 6)
