"""The tag that is tied to an amp: a PDF for a label printer or a sheet of labels.

The code on it holds the dossier's id and no address: it means nothing outside the shop.  The fonts
are those that typst brings along (DejaVu Sans Mono for the number, Libertinus Serif for the rest),
so that a tag looks the same on every machine.  The same tags give the same bytes.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from io import BytesIO
from typing import Any, cast

from ..reference.types import Reference

SIZES: Mapping[str, str] = {
    "62x29": "a label of 62 × 29 mm",
    "100x62": "a label of 100 × 62 mm",
    "a4": "labels of 70 × 37 mm on sheets of A4, 24 a sheet",
}
ON_A_SHEET = 24
MOST = 2_400
"""Tags in one document."""

_LONGEST = 60  # characters of a number
_LONGEST_LINE = 110


class TagRefused(ValueError):
    """A tag that can't be made; the sentence says why."""


@dataclass(frozen=True, slots=True)
class Tag:
    """What stands on one tag.  ``id``: what the code holds; ``day``: when it was booked in.

    ``whose`` is left empty unless somebody asks for it: a tag hangs where everyone can read it.
    """

    id: str
    number: str
    model: str = ""
    claim: str = ""
    day: str = ""
    whose: str = ""


def tag_of(
    dossier_id: str,
    number: str,
    claim: Mapping[str, Any],
    day: str,
    reference: Reference | None = None,
    whose: str = "",
) -> Tag:
    """The tag of a dossier, from its ``[claim]`` as typed; ``reference`` gives models their names.

    >>> tag_of("T-1", "T-1", {"built": "1964", "by": "seller"}, "2026-03-02").claim
    'said to be of 1964 (seller)'
    """
    model = _text(claim.get("model"))
    known = {m.id: m.title for m in reference.models} if reference else {}
    return Tag(
        dossier_id,
        number,
        _line(known.get(model, model) or _text(claim.get("maker")), 40),
        _line(_claimed(claim)),
        day,
        _line(whose),
    )


def tags_pdf(tags: Sequence[Tag], size: str = "62x29", first: int = 1) -> bytes:
    """The tags as a PDF.

    ``size``: one of :data:`SIZES`; ``first``: the place on the first sheet, from 1, from which on
    labels are free.  Raises :class:`TagRefused` for another size or place, or for too many tags.
    """
    import typst

    if size not in SIZES:
        raise TagRefused(f"a tag of size '{size:.20}'; accepted: {', '.join(SIZES)}")
    if not 1 <= first <= ON_A_SHEET:
        raise TagRefused(f"place {first} of a sheet; accepted: 1 to {ON_A_SHEET}")
    if not 1 <= len(tags) <= MOST:
        raise TagRefused(f"{len(tags):,} tags; accepted: 1 to {MOST:,}")
    rows = [
        {
            "id": tag.id,
            "number": _line(tag.number, _LONGEST),
            "model": tag.model,
            "claim": tag.claim,
            "day": tag.day,
            "whose": tag.whose,
            "qr": qr_svg(tag.id),
        }
        for tag in tags
    ]
    title = f"Tag {rows[0]['number']}" if len(rows) == 1 else f"{len(rows)} tags"
    given = {
        "tags": json.dumps(rows, ensure_ascii=True),
        "size": size,
        "first": str(first if size == "a4" else 1),
        "title": title,
    }
    # a moment that never changes, so that the bytes don't either
    made = typst.compile(
        _form(), format="pdf", sys_inputs=given, timestamp=0, ignore_system_fonts=True
    )
    return cast("bytes", made)


def qr(text: str) -> Any:
    """The QR code of a dossier's id, with a quarter of it to spare where it is small.

    A QR code read by a camera stands on a tag that hangs in a workshop: level M mends 15 % of dirt.
    """
    import segno

    try:
        return segno.make_qr(text, error="m", boost_error=True)
    except ValueError:
        raise TagRefused(f"an id of {len(text)} characters; a QR code holds fewer") from None


def qr_svg(text: str) -> str:
    """The QR code as an SVG drawing with its quiet zone of four modules."""
    out = BytesIO()
    qr(text).save(out, kind="svg", border=4, xmldecl=False, svgns=True, light="#fff", nl=False)
    return out.getvalue().decode("ascii")


@cache
def _form() -> bytes:
    return (files("endbell.report") / "tag.typ").read_bytes()


def _claimed(claim: Mapping[str, Any]) -> str:
    """The claim in a line: 'said to be of 1964, original but valves (seller)'."""
    said: list[str] = []
    if built := _text(claim.get("built")):
        said.append(f"of {built}")
    original, but = _list(claim.get("original")), _list(claim.get("except"))
    if original:
        what = "all" if original == ["everything"] else ", ".join(original)
        said.append(f"{what} original" + (f" but {', '.join(but)}" if but else ""))
    if not said:
        return ""
    by = _text(claim.get("by"))
    return f"said to be {', '.join(said)}" + (f" ({by})" if by else "")


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""


def _list(value: object) -> list[str]:
    if not isinstance(value, list | tuple):
        return []
    return [v for v in cast("Sequence[object]", value) if isinstance(v, str)]


def _line(text: str, longest: int = _LONGEST_LINE) -> str:
    """One line without control characters, cut where it is too long for a tag."""
    plain = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return plain if len(plain) <= longest else plain[: longest - 1] + "…"
