"""A dossier file read: every good row used, every bad row reported with its place and kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import cast

from ..marks import KINDS
from ..reference.errors import PackError, PackNotFound
from ..reference.types import Reference
from .build import claim_of, known_of, mark_of, part_of, repair_of
from .errors import TwoPartsOneId, UnreadableFile
from .keys import ROWS
from .limits import visible
from .parts import known_ids, known_part
from .places import Headers, header_lines
from .rows import Desk, Place, Row, read_row, rows_of
from .text import Table, check_format, parse_toml, read_text
from .types import Claim, Dossier, Mark, Part, Repair, SetAside
from .values import Fault, nearest_words, say

ReferenceFor = Callable[[tuple[str, ...]], Reference]
"""Gives the merged reference for the packs a dossier names; raises ``PackError``."""


def load_dossier(path: Path | str, reference_for: ReferenceFor, *, today: date) -> Dossier:
    """Read the dossier at ``path``.

    ``today`` is used as ``as_of`` only where neither the file nor any mark gives a day; the dossier
    says so in ``as_of_from``.  A row that can't be used is reported in ``problems`` with what was
    found and what would be accepted, kept in ``set_aside``, and left out of ``marks``.  Raises
    :class:`DossierError` (one sentence) where the file can't be read, is no TOML, has a newer
    ``format``, or two parts with one id.
    """
    file = str(path)
    return parse_dossier(read_text(path), reference_for, today=today, file=file)


def parse_dossier(
    text: str, reference_for: ReferenceFor, *, today: date, file: str = ""
) -> Dossier:
    """Read the text of a dossier; see :func:`load_dossier`."""
    top = parse_toml(text, file)
    return dossier_of(top, header_lines(text), reference_for, today=today, file=file)


def dossier_of(
    top: Table, headers: Headers, reference_for: ReferenceFor, *, today: date, file: str = ""
) -> Dossier:
    """The dossier in tables that are read already, from TOML or from anything else.

    ``top``: the file as tomllib gives it.  ``headers``: the line of every table by its name, in
    order (``{"mark": (4, 9)}``).  Everything is checked as in :func:`load_dossier`.
    """
    check_format(file, top)
    desk = Desk(file)
    head = read_row(desk, Place("dossier"), top, "") or Row(Place("dossier"), {})
    tables = {name: rows_of(desk, top, headers, name, "in one dossier") for name in ROWS}
    packs, reference = _reference(desk, head.texts("packs"), reference_for)
    set_aside: list[SetAside] = []

    parts: dict[str, Part] = {}
    for place, table in tables["part"]:
        part = part_of(desk, place, table, reference)
        if part is None:
            set_aside.append(_kept(place, table))
        elif part.id in parts:
            raise TwoPartsOneId(
                file,
                f'a second part with the id "{visible(part.id)}"; each part has an id of its own',
                line=place.line,
            )
        else:
            parts[part.id] = part

    marks: list[Mark] = []
    for place, table in tables["mark"]:
        mark = mark_of(desk, place, table, tuple(KINDS))
        if mark is None or not _place_part(desk, place, mark.part, parts, reference):
            set_aside.append(_kept(place, table))
        else:
            marks.append(mark)
    repairs: list[Repair] = []
    for place, table in tables["repair"]:
        repair = repair_of(desk, place, table)
        if repair is None or not _place_part(desk, place, repair.part, parts, reference):
            set_aside.append(_kept(place, table))
        else:
            repairs.append(repair)

    claim_place = Place("claim", line=_first(headers, "claim"))
    claim = claim_of(desk, claim_place, _single(desk, claim_place, top), reference, parts)
    known_place = Place("known", line=_first(headers, "known"))
    made = known_of(desk, known_place, _single(desk, known_place, top))
    as_of, as_of_from = _as_of(desk, head, marks, today)
    return Dossier(
        id=head.text("id").strip() or Path(file).stem or "unnamed",
        as_of=as_of,
        file=file,
        purpose=head.text("purpose"),
        packs=packs,
        made=made,
        claim=claim or Claim(),
        parts=tuple(parts.values()),
        repairs=tuple(repairs),
        marks=tuple(marks),
        problems=tuple(desk.problems),
        as_of_from=as_of_from,
        unknown_keys=tuple(desk.unknown_keys),
        extra=desk.extra,
        remarks=tuple(desk.remarks),
        set_aside=tuple(set_aside),
    )


def _single(desk: Desk, place: Place, top: Table) -> Table:
    raw = top.get(place.header, {})
    if isinstance(raw, dict):
        return cast("Table", raw)
    desk.problem(
        place, Fault(f"{place.header} is {say(raw)}", f"one table headed [{place.header}]")
    )
    return {}


def _first(headers: Headers, name: str) -> int:
    lines = headers.get(name, ())
    return lines[0] if lines else 0


def _kept(place: Place, table: Mapping[str, object]) -> SetAside:
    return SetAside(place.header, place.table or 0, place.line or None, table)


def _reference(
    desk: Desk, packs: tuple[str, ...], reference_for: ReferenceFor
) -> tuple[tuple[str, ...], Reference]:
    """The reference for the packs that there are; a pack that there is not is reported."""
    usable = tuple(dict.fromkeys(packs))
    while True:
        try:
            return usable, reference_for(usable)
        except PackNotFound as error:
            if error.pack not in usable:
                raise UnreadableFile(desk.file, str(error)) from error
            desk.problem(
                Place("packs"),
                Fault(
                    f'no reference pack "{visible(error.pack)}"',
                    "one of " + ", ".join(error.known),
                    nearest_words(error.pack, error.known),
                ),
            )
            usable = tuple(pack for pack in usable if pack != error.pack)
        except PackError as error:
            raise UnreadableFile(desk.file, f"names a pack that can't be used: {error}") from error


def _place_part(
    desk: Desk, place: Place, part_id: str, parts: dict[str, Part], reference: Reference
) -> bool:
    """Whether ``part_id`` is a part; one that needs no ``[[part]]`` is added to ``parts``."""
    if part_id in parts:
        return True
    known = known_part(part_id, reference)
    if known is not None:
        parts[part_id] = known
        return True
    near = nearest_words(part_id, (*parts, *known_ids(reference)))
    accepted = "a usual id (ot, pot-3, sp-1, cab …), or a [[part]] with that id and its class"
    desk.problem(place, Fault(f'unknown part "{visible(part_id)}"', accepted, near))
    return False


def _as_of(desk: Desk, head: Row, marks: list[Mark], today: date) -> tuple[date, str]:
    newest = max((mark.on for mark in marks if mark.on is not None), default=None)
    given = head.day("as_of")
    if given is None:
        return (newest, "newest mark") if newest is not None else (today, "command day")
    if newest is not None and newest > given:
        desk.remark(
            Place("dossier"),
            Fault(
                f"a mark seen on {newest}, after as_of {given}", "as_of on or after the newest mark"
            ),
        )
    return given, "file"
