"""Claim, intake and what is known, from the fields of a form to the tables of a dossier."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..dossier.keys import PURPOSES
from ..marks import EdtfError, edtf_bounds
from ..reference.types import Reference
from .refusal import Refusal

INTAKE = {
    "claim": "What it is said to be, in the words of whoever brought it",
    "whose": "Whose it is",
    "contact": "How they are reached",
    "why": "Why it is here",
    "note": "What came with it",
}
LONGEST = 2000

Form = Mapping[str, Any]


def text_of(form: Form, name: str) -> str:
    """A field as typed, without space round it; '' where it is missing."""
    value = form.get(name)
    text = value.strip() if isinstance(value, str) else ""
    if len(text) > LONGEST:
        raise Refusal(422, f"{name} of {len(text):,} characters", f"at most {LONGEST:,}")
    return text


def names_of(text: str) -> list[str]:
    """Names as people list them: 'valves, electrolytics' or 'valves; electrolytics'."""
    return [name for part in text.replace(";", ",").split(",") if (name := part.strip())]


def texts_of(value: object) -> list[str]:
    """A list of texts as a dossier file may have it: one text alone is one of them."""
    if isinstance(value, str):
        return [value]
    return [str(item) for item in value] if isinstance(value, list | tuple) else []


def claim_of(form: Form, reference: Reference, before: Mapping[str, Any]) -> dict[str, Any]:
    """The ``[claim]`` table; keys that nobody asks for here stay as they were.

    A model of the packs brings its maker; 'built' must be a date, since it is judged.
    """
    claim = {
        key: value
        for key, value in before.items()
        if key not in ("maker", "model", "built", "original", "except", "by")
    }
    model, maker = text_of(form, "model"), text_of(form, "maker")
    known = next((m for m in reference.models if m.id == model), None)
    if known is not None:
        maker = known.maker
    claim |= {k: v for k, v in (("maker", maker), ("model", model)) if v}
    built = text_of(form, "built")
    if built:
        claim["built"] = date_text("built", built)
    for key in ("original", "except"):
        names = names_of(text_of(form, key))
        if names:
            claim[key] = names
    by = text_of(form, "by")
    return claim | ({"by": by} if by else {})


def date_text(name: str, text: str) -> str:
    """A date as typed, if it is one.  Raises :class:`Refusal` with what would do."""
    try:
        edtf_bounds(text)
    except EdtfError as error:
        raise Refusal(422, f"{name} is {text!r}", error.accepted, place=name) from error
    return text


def intake_of(form: Form, before: Mapping[str, Any]) -> dict[str, Any]:
    """Whose it is, why it is here: free texts."""
    kept = {key: value for key, value in before.items() if key not in INTAKE}
    return kept | {key: text for key in INTAKE if (text := text_of(form, key))}


def purpose_of(form: Form) -> str | None:
    """One of the purposes, or None for none."""
    purpose = text_of(form, "purpose")
    if purpose and purpose not in PURPOSES:
        raise Refusal(422, f"purpose {purpose!r}", "one of " + ", ".join(PURPOSES))
    return purpose or None


def packs_of(chosen: Sequence[str], available: Sequence[str]) -> list[str]:
    """The packs that were ticked, of those that there are."""
    unknown = [pack for pack in chosen if pack not in available]
    if unknown:
        raise Refusal(422, f"no pack {unknown[0]!r}", "one of " + ", ".join(available))
    return list(dict.fromkeys(chosen))
