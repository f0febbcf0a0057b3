"""``endbell next``: the checks worth making now."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from . import complete
from .errors import CommandError
from .options import AsJson, AsOf, Assume, PackDirs, Packs

if TYPE_CHECKING:
    from ..chronology import Verdict


def next_checks(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A dossier.", show_default=False)],
    level: Annotated[
        str | None,
        typer.Option(
            "--level",
            autocompletion=complete.levels,
            help="Go no further in than this: outside, back-off, chassis-out or loosened.",
        ),
    ] = None,
    as_json: AsJson = False,
    packs: Packs = None,
    assume: Assume = None,
    pack_dir: PackDirs = None,
    as_of: AsOf = None,
) -> None:
    """Say which checks are worth making now: what they settle for the minutes they cost.

    \b
    Example: endbell next amp.toml --level back-off
    """
    from .options import command_day, listed
    from .say import print_json
    from .shelf import Shelf
    from .weighing import say_remarks, weigh_file

    shelf = Shelf(pack_dir, listed(packs))
    result = weigh_file(file, shelf, assume, command_day(as_of))
    if result.verdict is None or result.reference is None:
        raise CommandError(result.error or f"{file}: can't be weighed")
    say_remarks(result)
    within = _within(level, result.reference.levels)
    checks = [check for check in _as_records(result.verdict) if check["level"] in within]
    if as_json:
        print_json(
            {
                "dossier": result.verdict.dossier,
                "levels": list(within),
                "next": checks,
                "next_says": result.verdict.next_says,
            }
        )
        return
    for step in within:
        rows = [check for check in checks if check["level"] == step]
        if rows:
            _print_level(step, result.reference.cautions.get(step, ""), rows)
    if not checks:
        typer.echo(
            "No check at this level is worth its minutes."
            if level
            else "No further check is worth its minutes."
        )
    if result.verdict.next_says:
        typer.echo(result.verdict.next_says)


def _within(level: str | None, levels: tuple[str, ...]) -> tuple[str, ...]:
    from .options import one_of

    if level is None:
        return levels
    one_of("--level", level, levels)
    return levels[: levels.index(level) + 1]


def _as_records(verdict: Verdict) -> list[dict[str, Any]]:
    from ..chronology import as_json as verdict_json

    return verdict_json(verdict)["next"]


def _print_level(level: str, caution: str, rows: list[dict[str, Any]]) -> None:
    from .say import console, print_table

    print_table(
        level,
        ("check", "part", "minutes", "gain (bits)", "bits a minute", "settles"),
        [
            (
                row["title"],
                row["part"],
                f"{row['minutes']:g}",
                f"{row['gain_bits']:.2f}",
                f"{row['bits_per_minute']:.3f}",
                row["settles"],
            )
            for row in rows
        ],
        right=(2, 3, 4),
    )
    if caution:
        console().print(f"Caution: {caution}\n")
