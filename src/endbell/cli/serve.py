"""``endbell serve``: the workbench in a browser."""

from __future__ import annotations

from typing import Annotated

import typer

from .data import DATA, Data, DatabaseUrl
from .errors import CommandError
from .say import tell

PORT = 8484


def serve(
    data: Data = DATA,
    database: DatabaseUrl = None,
    port: Annotated[
        int, typer.Option("--port", min=0, max=65535, help="The port; 0 takes a free one.")
    ] = PORT,
    lan: Annotated[
        bool, typer.Option("--lan", help="Let phones of the same network in as well.")
    ] = False,
    host: Annotated[
        list[str] | None,
        typer.Option(
            "--host", metavar="NAME", help="Another name it is asked for by. May be repeated."
        ),
    ] = None,
    https: Annotated[
        bool, typer.Option("--https", help="It stands behind a server that speaks https.")
    ] = False,
) -> None:
    """The workbench in a browser: book in, look, type, photograph, read the verdict.

    The first line on standard output is its address. Ctrl-C stops it. It is there for this
    machine alone unless --lan is given.

    \b
    Example: endbell serve --data shop
    """
    try:
        from ..store import DatabaseError
        from ..web.serving import CannotListen, Serving
        from ..web.settings import Settings
    except ImportError as missing:
        raise CommandError(
            f"the workbench needs {missing.name}; accepted: pip install 'endbell[web]'"
        ) from None
    try:
        serving = Serving(
            Settings(
                data=data,
                database=database,
                lan=lan,
                hosts=tuple(host or ()),
                https=https,
                warm=True,
            ),
            port,
        )
    except (DatabaseError, CannotListen) as error:
        raise CommandError(str(error)) from None
    typer.echo(serving.address)
    for line in serving.lines():
        tell(line)
    serving.run()
