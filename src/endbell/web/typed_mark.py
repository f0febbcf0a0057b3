"""From what a sheet sends to the row of a mark, and from a row to the record the readers take."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from ..dossier.types import Mark, Part
from ..marks.outcome import LEGIBILITIES, RESULTS
from ..report.amp_looks import Look
from ..store.state import DossierState, Row

LONGEST = 2000
"""Characters of any one field: no stamp and no label has more."""


class NotTyped(ValueError):
    """What was sent is no mark; the sentence says what is missing."""


@dataclass(frozen=True, slots=True)
class Sent:
    """The fields of the entry sheet, as sent."""

    text: str = ""
    legibility: str = "clear"
    result: str = "seen"
    value: str = ""
    unit: str = ""
    uncertainty: str = ""
    date: str = ""
    place: str = ""
    note: str = ""


FIELDS = tuple(Sent.__dataclass_fields__)


def sent_of(form: Mapping[str, Any]) -> Sent:
    """The fields of a form; those that are missing or no text are as if left empty."""
    found = {
        name: str(form[name])[: LONGEST + 1]
        for name in FIELDS
        if isinstance(form.get(name), str) and form[name] != ""
    }
    return Sent(**found)


def row_of(sent: Sent, part: str, look: Look) -> dict[str, Any]:
    """The ``[[mark]]`` row of what was typed, verbatim; keys that say nothing are left out."""
    row: dict[str, Any] = {"part": part, "kind": look.kind}
    legibility = sent.legibility if sent.legibility in LEGIBILITIES else "clear"
    result = sent.result if sent.result in RESULTS else "seen"
    if look.feature is not None:
        row["feature"] = look.feature
        if sent.value == "absent" and result == "seen":
            result = "absent"
        elif result == "seen" and sent.value:
            row["value"] = sent.value
    elif look.quantity is not None:
        row["quantity"] = look.quantity
        if result == "seen" and sent.value:
            row["value"] = figure(sent.value)
            if sent.unit:
                row["unit"] = sent.unit
            if sent.uncertainty.strip():
                row["uncertainty"] = figure(sent.uncertainty)
    elif look.kind == "document":
        row |= {key: typed for key, typed in (("text", sent.text), ("date", sent.date)) if typed}
    elif look.kind == "condition":
        if result == "seen" and (sent.value or sent.text):
            row["text"] = sent.value or sent.text
    elif sent.text:
        # an illegible code keeps whatever could be made out of it
        row["text"] = sent.text
    if legibility != "clear":
        row["legibility"] = legibility
    if result != "seen":
        row["result"] = result
    for name in ("place", "note"):
        typed = str(getattr(sent, name)).strip()
        if typed:
            row[name] = typed
    return row


def check_row(row: Mapping[str, Any]) -> None:
    """Raise :class:`NotTyped` for a row in which nothing was said."""
    for name, value in row.items():
        if isinstance(value, str) and len(value) > LONGEST:
            raise NotTyped(f"{name} of more than {LONGEST:,} characters; {LONGEST:,} are kept")
    if row.get("result", "seen") != "seen":
        return
    if row["kind"] == "document":
        if not row.get("date"):
            raise NotTyped("a paper without a date; write the date that stands on it")
        return
    said = row.get("value") if row["kind"] in ("feature", "measured") else row.get("text")
    if said is None or not str(said).strip():
        raise NotTyped("nothing typed yet; type what is seen, or say that it can't be")


def figure(typed: str) -> float | str:
    """A number where it says no more than the digits typed, else the text itself.

    >>> figure("2.3"), figure("2,5"), figure("2.30"), figure("about 2")
    (2.3, 2.5, '2.30', 'about 2')
    """
    plain = typed.strip().replace(",", ".")
    try:
        number = float(plain)
    except ValueError:
        return typed.strip()
    return number if plain in (f"{number:g}", repr(number)) else plain


def mark_of_row(n: int, row: Row) -> Mark:
    """The mark of a row, as far as its values have the right form; wrong ones are left out."""
    text = {
        name: row[name]
        for name in ("part", "kind", "text", "legibility", "result", "place", "by", "note",
                     "feature", "quantity", "unit", "date")
        if isinstance(row.get(name), str)
    }  # fmt: skip
    value, spread = row.get("value"), row.get("uncertainty")
    return Mark(
        n=n,
        part=text.pop("part", ""),
        kind=text.pop("kind", ""),
        value=value if isinstance(value, str | int | float) else None,
        uncertainty=spread if isinstance(spread, int | float) else None,
        **text,
    )


def marks_of(state: DossierState) -> tuple[Mark, ...]:
    """The marks that stand, numbered as the form numbers them."""
    return tuple(mark_of_row(n, mark.row) for n, mark in enumerate(state.standing, start=1))


def own_parts(state: DossierState) -> tuple[Part, ...]:
    """The parts that the dossier describes."""
    return tuple(
        Part(str(row["id"]), str(row.get("class", "")), str(row.get("assembly", "")))
        for row in state.parts
        if row.get("id")
    )


def form_with(
    state: DossierState, row: Mapping[str, Any], mark_id: str | None = None
) -> dict[str, Any]:
    """The form as it would be with ``row``: in the place of the mark ``mark_id``, or added."""
    form = state.form()
    rows = list(form.get("mark", []))
    at = next((i for i, mark in enumerate(state.standing) if mark.id == mark_id), None)
    if at is None:
        rows.append(dict(row))
    else:
        rows[at] = dict(row)
    form["mark"] = rows
    return form


def shown(mark: Mark) -> str:
    """What was typed, in one line."""
    if mark.result != "seen" and not mark.text:
        return {
            "absent": "absent",
            "nothing-found": "nothing there",
            "illegible": "illegible",
            "not-possible": "not possible",
        }.get(mark.result, mark.result)
    if mark.kind == "document":
        return " · ".join(said for said in (mark.date, mark.text) if said)
    if mark.text:
        return mark.text
    if mark.value is None:
        return ""
    value = mark.value.replace("-", " ") if isinstance(mark.value, str) else f"{mark.value:g}"
    spread = f" ± {mark.uncertainty:g}" if mark.uncertainty else ""
    return f"{value}{spread} {mark.unit}" if mark.unit else f"{value}{spread}"


def latest(marks: Iterable[Mark], part: str) -> str:
    """What the marks of a part say, shortest way, for its line in the list."""
    return ", ".join(filter(None, (shown(mark) for mark in marks if mark.part == part)))
