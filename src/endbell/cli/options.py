"""Options that several commands share, each with one spelling and one help text."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from .errors import CommandError, nearest_sentence

AsJson = Annotated[
    bool, typer.Option("--json", help="One JSON document on standard output, nothing else there.")
]
PackDirs = Annotated[
    list[Path] | None,
    typer.Option(
        "--pack-dir",
        metavar="DIR",
        envvar="ENDBELL_PACKS",
        help="A folder with packs of your own; ./packs is looked into as well. May be repeated.",
    ),
]
Packs = Annotated[
    str | None,
    typer.Option(
        "--packs", metavar="A,B", help="Packs to put in force besides those a dossier names."
    ),
]
AsOf = Annotated[
    str | None,
    typer.Option(
        "--as-of",
        metavar="DAY",
        help="The day of the command, used where no file or mark gives a day [today].",
    ),
]
Assume = Annotated[
    list[str] | None,
    typer.Option(
        "--assume", metavar="NAME=VALUE", help="Another value for an assumption. May be repeated."
    ),
]


def listed(text: str | None) -> tuple[str, ...]:
    """'a, b' -> ('a', 'b')."""
    return tuple(dict.fromkeys(piece.strip() for piece in (text or "").split(",") if piece.strip()))


def command_day(as_of: str | None, option: str = "--as-of") -> date:
    """The day of the command: ``--as-of``, else today."""
    if as_of is None:
        return date.today()
    from ..dossier.limits import FIRST_AS_OF, LAST_AS_OF

    try:
        day = date.fromisoformat(as_of)
    except ValueError:
        raise CommandError(f"{option} is '{as_of}'; accepted: a day, written 2026-03-02") from None
    if not FIRST_AS_OF <= day <= LAST_AS_OF:
        raise CommandError(f"{option} is {day}; accepted: a day from {FIRST_AS_OF} to {LAST_AS_OF}")
    return day


def one_of(option: str, word: str, words: Collection[str]) -> str:
    """``word`` if it is one of ``words``; else :class:`CommandError` with the nearest."""
    if word in words:
        return word
    from ..dossier.values import nearest_words

    near = nearest_sentence(nearest_words(word, words))
    raise CommandError(f"{option} {word}; accepted: {', '.join(words)}{near}")
