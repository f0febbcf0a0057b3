"""The options by which a command is told where the shop's data lies, and how it is opened."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from .errors import CommandError

if TYPE_CHECKING:
    from rich.progress import TaskID

    from ..store import Database

Data = Annotated[
    Path, typer.Option("--data", metavar="DIR", help="The folder of records and photos.")
]
DatabaseUrl = Annotated[
    str | None,
    typer.Option(
        "--database",
        metavar="URL",
        envvar="ENDBELL_DATABASE",
        help="A PostgreSQL database instead of the file in the folder.",
    ),
]
DATA = Path("data")


@contextmanager
def opened(data: Path, url: str | None, *, must_be_there: bool = True) -> Iterator[Database]:
    """The shop's database; a folder that holds none is said and not made."""
    try:
        from ..store import DatabaseError, open_database
        from ..store.database import FILE
    except ImportError as missing:
        raise CommandError(
            f"the shop's records need {missing.name}; accepted: pip install 'endbell[web]'"
        ) from None
    if must_be_there and url is None and not (data / FILE).is_file():
        raise CommandError(
            f"{data}: no records of a shop here; accepted: the folder that 'endbell serve --data' "
            "was given"
        )
    try:
        db = open_database(data, url)
    except DatabaseError as error:
        raise CommandError(str(error)) from None
    try:
        yield db
    finally:
        db.close()


@contextmanager
def told() -> Iterator[Callable[[str, int, int], None]]:
    """Bars on standard error, one a kind of work: called with what, how much is done, of what."""
    from .say import bars

    with bars() as shown:
        tasks: dict[str, TaskID] = {}

        def step(what: str, done: int, of: int) -> None:
            if what not in tasks:
                tasks[what] = shown.add_task(what, total=of)
            shown.update(tasks[what], completed=done)

        yield step
