"""Every mark of a dossier read once: what it can mean, or why it can't be weighed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ..marks import MarkReading, Misfit, Seen, Tables, read_mark
from ..reference.types import Reference
from .parts import known_part
from .types import Dossier, Mark, Problem


@dataclass(frozen=True, slots=True)
class ReadMarks:
    """``read``: marks that can be weighed, in the order of the file; ``problems``: the others."""

    read: tuple[tuple[Mark, MarkReading], ...]
    problems: tuple[Problem, ...]


def read_marks(
    dossier: Dossier,
    reference: Reference,
    read_one: Callable[[Seen, Tables], MarkReading] = read_mark,
) -> ReadMarks:
    """Read every mark of ``dossier`` with the tables of ``reference``.

    ``read_one``: the reader to use; a caller that weighs many dossiers passes one that remembers.

    A text that no code of its scheme fits becomes a :class:`Problem` with its place, what was
    found, what would be accepted and the nearest codes; the other marks are read all the same.
    Problems that the loader found (``dossier.problems``) are not repeated here.
    """
    classes = {part.id: part.part_class for part in dossier.parts}
    read: list[tuple[Mark, MarkReading]] = []
    problems: list[Problem] = []
    for mark in dossier.marks:
        if mark.part not in classes:
            known = known_part(mark.part, reference)
            classes[mark.part] = known.part_class if known else ""
        reading = read_one(seen_of(mark, classes[mark.part]), reference.tables)
        if reading.misfit is None:
            read.append((mark, reading))
        else:
            problems.append(misfit_problem(dossier.file, mark, reading.misfit))
    return ReadMarks(tuple(read), tuple(problems))


def seen_of(mark: Mark, part_class: str) -> Seen:
    """What the readers are given of a mark: its text and words, not who saw it nor where."""
    return Seen(
        kind=mark.kind,
        text=mark.text,
        legibility=mark.legibility,
        result=mark.result,
        part_class=part_class,
        feature=mark.feature,
        value=mark.value,
        quantity=mark.quantity,
        unit=mark.unit,
        uncertainty=mark.uncertainty,
        date=mark.date,
    )


def misfit_problem(file: str, mark: Mark, misfit: Misfit) -> Problem:
    """The misfit of a mark, with the mark's place in the file."""
    return Problem(
        file=file,
        table=mark.n,
        line=mark.line or None,
        found=misfit.found,
        accepted=misfit.accepted,
        nearest=misfit.nearest,
    )
