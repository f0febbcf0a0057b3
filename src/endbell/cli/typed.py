"""A dossier made of ``--mark PART:TEXT`` alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from .errors import CommandError, nearest_sentence
from .say import tell
from .shelf import Shelf

if TYPE_CHECKING:
    from ..dossier import Dossier, Mark
    from ..reference import Reference


def typed_dossier(
    marks: Sequence[str],
    model: str | None,
    built: str | None,
    packs: Sequence[str],
    shelf: Shelf,
    today: date,
) -> Dossier:
    """The dossier that the command line spells, every guess said aloud on standard error.

    Without packs named, the pack that has ``model`` is in force.  Raises :class:`CommandError`
    for what can't be taken apart.
    """
    from ..dossier import Claim, Dossier
    from ..marks import EdtfError, edtf_bounds

    in_force = tuple(packs) or (shelf.pack_with_model(model) if model else ())
    reference = shelf.reference(in_force)
    if model and not any(known.id == model for known in reference.models):
        from ..dossier.values import nearest_words

        near = nearest_sentence(nearest_words(model, shelf.model_ids()))
        raise CommandError(f"--model {model}: no pack within reach has that model{near}")
    bounds: tuple[date | None, date | None] = (None, None)
    if built:
        try:
            bounds = edtf_bounds(built.strip())
        except EdtfError as error:
            raise CommandError(f"--built: {error}") from None
    maker = next((known.maker for known in reference.models if known.id == model), None)
    claim = Claim(
        maker=maker,
        model=model,
        built=built,
        built_from=bounds[0],
        built_to=bounds[1],
        by="command line" if built or model else "",
    )
    dossier = Dossier(
        id="command-line",
        as_of=today,
        file="--mark",
        packs=in_force,
        claim=claim,
        as_of_from="command day",
    )
    return _with_marks(dossier, marks, reference)


def _with_marks(dossier: Dossier, typed: Sequence[str], reference: Reference) -> Dossier:
    from ..dossier.guess import guess_mark, split_typed
    from ..dossier.parts import known_ids
    from ..dossier.types import Part
    from ..dossier.values import nearest_words, text_fault
    from ..marks import read_mark

    marks: list[Mark] = []
    parts: dict[str, Part] = {}
    for n, pair in enumerate(typed, start=1):
        split = split_typed(pair)
        if split is None:
            raise CommandError(f"--mark '{pair}'; accepted: PART:TEXT, such as ot:993-348")
        part_id, text = split
        fault = text_fault("text", text)
        if fault is not None:
            raise CommandError(f"--mark {part_id}: {fault.found}; accepted: {fault.accepted}")
        guess = guess_mark(
            n, part_id, text, reference, lambda seen: read_mark(seen, reference.tables)
        )
        if guess.part is None:
            near = nearest_sentence(nearest_words(part_id, known_ids(reference)))
            usual = ", ".join(reference.usual_ids)
            raise CommandError(f"--mark {part_id}: no such part{near}; usual ids are {usual}")
        parts[part_id] = guess.part
        marks.append(guess.mark)
        tell(guess.says)
    return replace(dossier, marks=tuple(marks), parts=tuple(parts.values()))
