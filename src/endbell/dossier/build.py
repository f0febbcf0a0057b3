"""From a checked table to a record: mark, part, repair, claim, what is known."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date

from ..marks.edtf_dates import edtf_bounds
from ..marks.errors import EdtfError
from ..reference.types import Reference
from .limits import visible
from .parts import known_part
from .rows import Desk, Place, read_row
from .types import Claim, Mark, Part, Repair
from .values import Fault, nearest_words

Table = Mapping[str, object]
Bounds = tuple[date | None, date | None]


def mark_of(desk: Desk, place: Place, table: Table, kinds: Collection[str]) -> Mark | None:
    """The mark in ``table``; None, and a problem on ``desk``, where it can't be used."""
    row = read_row(desk, place, table, "mark")
    if row is None:
        return None
    kind = row.text("kind")
    if kind not in kinds:
        accepted = "one of " + ", ".join(sorted(kinds))
        desk.problem(
            place, Fault(f'unknown kind "{visible(kind)}"', accepted, nearest_words(kind, kinds))
        )
        return None
    return Mark(
        n=place.table or 0,
        part=row.text("part"),
        kind=kind,
        text=row.text("text"),
        legibility=row.text("legibility", "clear"),
        result=row.text("result", "seen"),
        place=row.text("place"),
        by=row.text("by"),
        on=row.day("on"),
        photos=_photos_beside(desk, place, row.texts("photos")),
        note=row.text("note"),
        feature=row.text_or_none("feature"),
        value=row.text_or_number("value"),
        quantity=row.text_or_none("quantity"),
        unit=row.text_or_none("unit"),
        uncertainty=row.number("uncertainty"),
        date=row.text_or_none("date"),
        line=place.line,
    )


def part_of(desk: Desk, place: Place, table: Table, reference: Reference) -> Part | None:
    """The part in ``table``; class and assembly may be left out where the id is a usual one."""
    row = read_row(desk, place, table, "part")
    if row is None:
        return None
    part_id = row.text("id")
    usual = known_part(part_id, reference)
    part_class = row.text("class") or (usual.part_class if usual else "")
    if not part_class:
        desk.problem(
            place, Fault(f'part "{visible(part_id)}" without a class', _listed(reference.classes))
        )
        return None
    if part_class not in reference.classes:
        near = nearest_words(part_class, reference.classes)
        desk.problem(
            place, Fault(f'unknown class "{visible(part_class)}"', _listed(reference.classes), near)
        )
        return None
    assembly = row.text("assembly") or _usual_assembly(part_class, usual, reference)
    if assembly not in reference.assemblies:
        found = (
            f'unknown assembly "{visible(assembly)}"'
            if assembly
            else f'part "{visible(part_id)}" without an assembly'
        )
        near = nearest_words(assembly, reference.assemblies)
        desk.problem(place, Fault(found, _listed(reference.assemblies), near))
        return None
    return Part(part_id, part_class, assembly)


def repair_of(desk: Desk, place: Place, table: Table) -> Repair | None:
    """The repair in ``table``; None, and a problem, where part or date can't be read."""
    row = read_row(desk, place, table, "repair")
    if row is None:
        return None
    done = row.text("done")
    bounds = _bounds(desk, place, "done", done) if done else (None, None)
    if bounds is None:
        return None
    if "replaced" not in row.values:
        desk.remark(
            place,
            Fault(
                "a repair that does not say whether the part was replaced",
                "replaced = true or false; taken as false",
            ),
        )
    return Repair(
        part=row.text("part"),
        done=done,
        replaced=row.values.get("replaced") is True,
        note=row.text("note"),
        first=bounds[0],
        last=bounds[1],
        line=place.line,
    )


def claim_of(
    desk: Desk, place: Place, table: Table, reference: Reference, parts: Mapping[str, Part]
) -> Claim:
    """The claim; a date that can't be read is a problem and leaves the other clauses standing."""
    row = read_row(desk, place, table, "claim")
    if row is None:  # only 'built' can fail: read the rest without it
        rest = {key: value for key, value in table.items() if key != "built"}
        row = read_row(Desk(desk.file), place, rest, "claim")
        assert row is not None
    built = row.text_or_none("built")
    bounds = _bounds(desk, place, "built", built) if built else (None, None)
    if bounds is None:
        built, bounds = None, (None, None)
    claim = Claim(
        maker=row.text_or_none("maker"),
        model=row.text_or_none("model"),
        built=built,
        built_from=bounds[0],
        built_to=bounds[1],
        original=row.texts("original"),
        excluded=row.texts("except"),
        by=row.text("by"),
    )
    _remark_names(desk, place, claim, reference, parts)
    return claim


def known_of(desk: Desk, place: Place, table: Table) -> Bounds | None:
    """The days of ``[known] made``, or None."""
    row = read_row(desk, place, table, "known")
    made = row.text("made") if row else ""
    if not made:
        return None
    return _bounds(desk, place, "made", made)


def _bounds(desk: Desk, place: Place, key: str, text: str) -> Bounds | None:
    try:
        return edtf_bounds(text.strip())
    except EdtfError as error:
        desk.problem(place, Fault(f'{key} is "{visible(text)}"', error.accepted))
        return None


def _photos_beside(desk: Desk, place: Place, photos: tuple[str, ...]) -> tuple[str, ...]:
    """The photos that lie beside the file or below it: a dossier from outside names no others."""
    kept: list[str] = []
    for photo in photos:
        steps = photo.replace("\\", "/").split("/")
        if not steps[0] or ".." in steps or ":" in steps[0]:
            accepted = "a path relative to this file, such as photos/ot-bell.jpg"
            desk.remark(
                place, Fault(f'photo "{visible(photo)}" outside the folder of the file', accepted)
            )
        else:
            kept.append(photo)
    return tuple(kept)


def _remark_names(
    desk: Desk, place: Place, claim: Claim, reference: Reference, parts: Mapping[str, Part]
) -> None:
    models = {model.id for model in reference.models}
    if claim.model and models and claim.model not in models:
        near = nearest_words(claim.model, models)
        desk.remark(
            place,
            Fault(
                f'no pack in force knows the model "{visible(claim.model)}"',
                _listed(sorted(models)),
                near,
            ),
        )
    words = claim_words(reference)
    for name in (*claim.original, *claim.excluded):
        if name in parts or name in words or known_part(name, reference) is not None:
            continue
        near = nearest_words(name, (*words, *parts))
        desk.remark(
            place,
            Fault(
                f'the claim names "{visible(name)}"',
                "part ids, classes of part, or 'everything'",
                near,
            ),
        )


def claim_words(reference: Reference) -> frozenset[str]:
    """Every word by which a claim may name parts: classes, plurals, by-names, assemblies."""
    words = {"everything", *reference.classes, *reference.assemblies}
    for part_class in reference.classes.values():
        words |= {part_class.plural, *part_class.words}
    return frozenset(words)


def _usual_assembly(part_class: str, usual: Part | None, reference: Reference) -> str:
    if usual is not None:
        return usual.assembly
    return next(
        (u.assembly for u in reference.usual_ids.values() if u.part_class == part_class), ""
    )


def _listed(words: Collection[str]) -> str:
    return "one of " + ", ".join(words)
