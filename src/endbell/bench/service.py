"""The service record: what was replaced by what, why, by whom, and where the old parts are.

Pure.  Rows are those of a sheet file (``[[replaced]]``) and of the custody kept beside it; whatever
is no text in them is taken as not said.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import cast

from .before_after import Change
from .lines import Judgement, Line
from .result import OVERRIDING, SheetResult
from .sheet_types import FaultFound, Override

Row = Mapping[str, object]

CUSTODY = (
    "The parts listed were removed from the amplifier named above, put into numbered bags and "
    "handed over with it. They are the owner's, and belong with the amp from now on."
)
"""What whoever takes the bags signs."""

_SAID = ("part", "by_what", "why", "by", "done", "bag", "first", "after", "note")


@dataclass(frozen=True, slots=True)
class Replacement:
    """A part that was replaced, and where the old one is.

    ``first``, ``after``: what the old one read and what the new one reads, as typed.  ``kept``: the
    old part is in bag ``bag`` for the owner.  ``to``, ``on``: who has it by now, since when; empty
    while the shop has it.
    """

    n: int
    part: str
    title: str
    by_what: str = ""
    why: str = ""
    by: str = ""
    done: str = ""
    first: str = ""
    after: str = ""
    kept: bool = False
    bag: str = ""
    note: str = ""
    to: str = ""
    on: str = ""

    @property
    def whereabouts(self) -> str:
        """Where the old part is, in words."""
        if not self.kept:
            return "not kept"
        bag = f"in bag {self.bag}" if self.bag else "kept, without a bag"
        if not self.to:
            return f"{bag}, at the shop"
        return f"{bag}, handed to {self.to}" + (f" on {self.on}" if self.on else "")


@dataclass(frozen=True, slots=True)
class Handover:
    """Bags that were handed over: to whom, by whom, when."""

    bags: tuple[str, ...]
    to: str
    by: str = ""
    on: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class ServiceRecord:
    """Everything that a service report says of one amp.

    ``lines``: what was measured or worked out and may be told; ``changes``: before and after the
    repair; ``missing``: titles of what was asked for and not measured; ``owner``: whose amp it is.
    """

    number: str
    title: str
    circuit: str
    practice: str
    on: str
    by: str
    headline: str
    lines: tuple[Line, ...]
    changes: tuple[Change, ...]
    missing: tuple[str, ...]
    replaced: tuple[Replacement, ...]
    handovers: tuple[Handover, ...]
    faults: tuple[FaultFound, ...]
    overrides: tuple[Override, ...]
    remarks: tuple[str, ...]
    cautions: tuple[str, ...]
    owner: str = ""
    says: str = OVERRIDING
    custody: str = CUSTODY

    @property
    def bagged(self) -> tuple[Replacement, ...]:
        """The removed parts that were kept for the owner."""
        return tuple(one for one in self.replaced if one.kept)


def repair_row(row: Row) -> dict[str, object] | None:
    """A ``[[replaced]]`` row as the ``[[repair]]`` of the dossier, from which the verdict follows.

    None where it names no part.

    >>> repair_row({"part": "ot", "by_what": "a rewound one", "done": "2026-03"})
    {'part': 'ot', 'replaced': True, 'done': '2026-03', 'note': 'by a rewound one'}
    """
    said = {key: _text(row, key) for key in _SAID}
    if not said["part"]:
        return None
    repair: dict[str, object] = {"part": said["part"], "replaced": True}
    if said["done"]:
        repair["done"] = said["done"]
    note = [f"by {said['by_what']}"] if said["by_what"] else []
    note += [said["why"]] if said["why"] else []
    note += [f"done by {said['by']}"] if said["by"] else []
    if row.get("kept") is True:
        note.append(f"old part in bag {said['bag']}" if said["bag"] else "old part kept")
    if note:
        repair["note"] = "; ".join(note)
    return repair


def next_bag(rows: Iterable[Row]) -> str:
    """The number of the next bag of an amp: one more than the highest that has been used.

    >>> next_bag([{"bag": "1"}, {"bag": "3"}, {"bag": "shelf"}])
    '4'
    """
    used = [_text(row, "bag") for row in rows]
    numbers = [int(bag) for bag in used if bag.isascii() and bag.isdigit() and len(bag) < 7]
    return str(max(numbers, default=0) + 1)


def handover_of(row: Row) -> Handover:
    """A handing-over as it was recorded."""
    bags = row.get("bags")
    listed = cast("Sequence[object]", bags) if isinstance(bags, list | tuple) else ()
    return Handover(
        tuple(bag for bag in listed if isinstance(bag, str)),
        *(_text(row, key) for key in ("to", "by", "on", "note")),
    )


def replacements(
    rows: Iterable[Row], handovers: Iterable[Handover], titles: Mapping[str, str] | None = None
) -> tuple[Replacement, ...]:
    """What was replaced, each with where its old part is.  ``titles``: of parts, by id.

    A bag that was handed over twice is with whoever took it last.
    """
    names = titles or {}
    gone = {bag: handover for handover in handovers for bag in handover.bags}
    out: list[Replacement] = []
    for n, row in enumerate(rows, start=1):
        said = {key: _text(row, key) for key in _SAID}
        if not said["part"]:
            continue
        kept = row.get("kept") is True
        with_whom = gone.get(said["bag"]) if kept and said["bag"] else None
        out.append(
            Replacement(
                n=n,
                title=names.get(said["part"], said["part"]),
                kept=kept,
                to=with_whom.to if with_whom else "",
                on=with_whom.on if with_whom else "",
                **said,
            )
        )
    return tuple(out)


def service_record(
    result: SheetResult,
    rows: Iterable[Row] = (),
    handovers: Iterable[Row] = (),
    *,
    title: str = "",
    titles: Mapping[str, str] | None = None,
    owner: str = "",
) -> ServiceRecord:
    """The record of a computed sheet.

    ``rows``: its ``[[replaced]]`` tables as typed (left out: those of the sheet); ``handovers``:
    tables of bags handed over.  ``title``: what the amp is, else its circuit says it; ``owner``:
    whose it is.
    """
    sheet = result.sheet
    given = tuple(rows) or tuple(_row_of(one) for one in sheet.replaced)
    handed = tuple(handover_of(row) for row in handovers)
    told = tuple(x for x in result.lines if x.judgement is not Judgement.NOT_MEASURED)
    blank = [x for x in result.lines if x.judgement is Judgement.NOT_MEASURED]
    return ServiceRecord(
        number=sheet.id,
        title=title or result.circuit.title,
        circuit=result.circuit.title,
        practice=sheet.practice,
        on=sheet.on.isoformat() if sheet.on else "",
        by=sheet.by,
        headline=_headline(result),
        lines=told,
        changes=result.changes,
        missing=_titles(blank),
        replaced=replacements(given, handed, titles),
        handovers=handed,
        faults=sheet.faults,
        overrides=sheet.overrides,
        remarks=result.remarks,
        # the first of them is the sentence that stands by itself
        cautions=tuple(c for c in result.cautions if c != OVERRIDING),
        owner=owner,
    )


def _row_of(one: object) -> Row:
    return {key: getattr(one, key) for key in (*_SAID, "kept")}


def _titles(lines: Iterable[Line]) -> tuple[str, ...]:
    """Titles with their places, those of one kind together."""
    places: dict[str, list[str]] = {}
    for line in lines:
        places.setdefault(line.title, []).append(line.at)
    return tuple(
        f"{title} ({', '.join(filter(None, at))})" if any(at) else title
        for title, at in places.items()
    )


def _headline(result: SheetResult) -> str:
    """The record in a sentence; it never says more than was measured."""
    off, flagged = result.off, result.flagged
    waiting = [state for state in result.stages if state.state == "waits"]
    parts: list[str] = []
    if off:
        names = [f"{_named(line)} ({line.judgement.value})" for line in off[:3]]
        rest = f" and {len(off) - 3} more" if len(off) > 3 else ""
        parts.append(f"Not right: {', '.join(names)}{rest}.")
    if flagged:
        parts.append(f"To know: {', '.join(map(_named, flagged))}.")
    passed = sum(1 for line in result.lines if line.judgement is Judgement.WITHIN)
    check = sum(1 for line in result.lines if line.judgement is Judgement.CHECK)
    parts.append(f"{passed} line{'' if passed == 1 else 's'} within limits.")
    if check:
        parts.append(
            f"{check} held only against a limit from memory: check the standard before relying on "
            "it."
        )
    if waiting:
        parts.append("Not everything was measured: the amp was not taken through every step.")
    return " ".join(parts)


def _named(line: Line) -> str:
    return f"{line.title} at {line.at}" if line.at else line.title


def _text(row: Row, key: str) -> str:
    value = row.get(key)
    return value.strip() if isinstance(value, str) else ""
