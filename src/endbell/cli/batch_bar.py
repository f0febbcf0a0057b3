"""How far a batch has come: a bar on standard error."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from .say import console

if TYPE_CHECKING:
    from ..batch.run import Progress


@contextmanager
def bar(words: str, counted: bool) -> Iterator[Callable[[Progress], None]]:
    """A bar on standard error: done of how many, how many a second, time left, bad rows."""
    from rich.progress import BarColumn, TaskProgressColumn, TextColumn
    from rich.progress import Progress as Bar

    began = time.monotonic()
    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        TaskProgressColumn(),
        TextColumn("{task.fields[said]}", markup=False),
    )
    with Bar(*columns, console=console(err=True)) as shown:
        task = shown.add_task(words, total=None, said="")

        def show(p: Any) -> None:
            said = _said(p, time.monotonic() - began, counted)
            shown.update(task, completed=p.done, total=p.total, said=said)

        yield show


def _said(p: Progress, seconds: float, counted: bool) -> str:
    rate = (p.done - p.kept) / seconds if seconds > 0 else 0.0
    of = "of" if counted or p.total == p.done else "of about"
    pieces = [f"{p.done:,}" + (f" {of} {p.total:,}" if p.total is not None else "")]
    if rate:
        pieces.append(f"{rate:,.0f} a second" if rate >= 10 else f"{rate:.1f} a second")
        if p.total is not None:
            pieces.append(f"{_time(max(p.total - p.done, 0) / rate)} left")
    if p.bad_rows:
        pieces.append(f"{p.bad_rows:,} bad row{'' if p.bad_rows == 1 else 's'}")
    if p.errors:
        pieces.append(f"{p.errors:,} without verdict")
    return ", ".join(pieces)


def _time(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}"
