"""The subjects of the bench and their lines: each a package with ``on_sheet.lines(bench)``."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from typing import cast

from .lines import Line
from .readings import Bench
from .stages import ORDER

SUBJECTS = (
    "safety",
    "transformers",
    "components",
    "valves",
    "circuits",
    "audio",
    "loudspeaker",
    "causes",
)

Lines = Callable[[Bench], tuple[Line, ...]]


@cache
def lines_of(subject: str) -> Lines | None:
    """The function that gives the lines of ``subject``, imported at its first use; None where this
    installation has no such subject."""
    package = f"{__package__}.{subject}"
    if find_spec(package) is None or find_spec(f"{package}.on_sheet") is None:
        return None
    return cast("Lines", import_module(f"{package}.on_sheet").lines)


def lines_of_subject(subject: str, bench: Bench) -> tuple[Line, ...]:
    """The lines of one subject; none where this installation has no such subject."""
    of = lines_of(subject)
    return () if of is None else of(bench)


def all_lines(bench: Bench, subjects: Iterable[str] = SUBJECTS) -> tuple[Line, ...]:
    """The lines of ``subjects`` by stage, within a stage in the order of the subjects."""
    found = [line for subject in subjects for line in lines_of_subject(subject, bench)]
    return tuple(sorted(found, key=lambda line: ORDER.index(line.stage)))
