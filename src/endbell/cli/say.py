"""How commands speak: results on standard output, everything else on standard error."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress

    from ..dossier.types import Problem

WIDTH = 100


def console(*, err: bool = False) -> Console:
    """A console 100 columns wide, narrower only where the terminal is."""
    from rich.console import Console

    made = Console(stderr=err, highlight=False, markup=False, emoji=False, soft_wrap=False)
    made.width = min(WIDTH, made.width) if made.is_terminal else WIDTH
    return made


def tell(sentence: str) -> None:
    """One line on standard error."""
    typer.echo(sentence, err=True)


@contextmanager
def bars() -> Iterator[Progress]:
    """Bars on standard error: done of how many, time passed, time left (from the last minutes)."""
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        TextColumn("left", markup=False),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=console(err=True), speed_estimate_period=180) as shown:
        yield shown


def print_json(value: Any) -> None:
    """One JSON document on standard output."""
    import json

    typer.echo(json.dumps(value, ensure_ascii=False, indent=2, allow_nan=False))


def print_table(
    title: str,
    columns: Sequence[str],
    rows: Iterable[Sequence[str]],
    right: Sequence[int] = (),
    *,
    err: bool = False,
) -> None:
    """A table on standard output (``err``: standard error); the columns in ``right`` are numbers.

    Texts are never markup.
    """
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(
        title=Text(title) if title else None,
        title_justify="left",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
    )
    for n, column in enumerate(columns):
        table.add_column(Text(column), justify="right" if n in right else "left", overflow="fold")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    console(err=err).print(table)


def problem_line(problem: Problem) -> str:
    """A problem as one sentence: where, what was found, what would be accepted, the nearest."""
    place = problem.file
    if problem.line:
        place += f", line {problem.line}"
    where = f" ({problem.header} {problem.table})" if problem.table else f" ({problem.header})"
    near = f"; nearest: {', '.join(problem.nearest)}" if problem.nearest else ""
    return f"{place}{where}: {problem.found}; accepted: {problem.accepted}{near}"


def percent(p: float | None) -> str:
    """A probability as the report says it; a dash for what can't be judged."""
    from ..chronology.percent import percent as said

    return "-" if p is None else said(p)
