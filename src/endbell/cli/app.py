"""The command line as a whole: which commands there are, and how every one of them may fail."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import Annotated, Any, NoReturn

import typer
from typer.core import TyperGroup

from . import (
    backup,
    batch,
    bench,
    calibrate,
    check,
    compare,
    demo,
    doctor,
    learn,
    new,
    next,
    note,
    packs,
    read,
    restore,
    reweigh,
    serve,
    simulate,
    tag,
    weigh,
)
from .errors import NOT_DONE, CommandError, internal_error

WIDTH = 100
EPILOG = (
    "Exit status: 0 done; 1 done, with rows not weighed or a check failed; 2 could not be done."
)


class Commands(TyperGroup):
    """The group of commands; whatever stops one is said in one sentence, never as a traceback."""

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        windows_expand_args: bool = True,
        **extra: Any,
    ) -> Any:
        try:
            status = super().main(
                args, prog_name, complete_var, False, windows_expand_args, **extra
            )
        except typer.Abort:
            _stop("endbell: stopped")
        except CommandError as error:
            _stop(f"endbell: {error}")
        except Exception as error:
            _stop(_usage_sentence(error) or _known_error(error) or _fault(error))
        if standalone_mode:
            sys.exit(status if isinstance(status, int) else 0)
        return status


app = typer.Typer(
    cls=Commands,
    name="endbell",
    help=(
        "Endbell weighs the date codes, stamps and features of a vintage valve amplifier together."
    ),
    epilog=EPILOG,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    no_args_is_help=True,
    context_settings={"terminal_width": WIDTH, "help_option_names": ["-h", "--help"]},
)


def _version(value: bool) -> None:
    if value:
        from .. import __version__

        typer.echo(f"endbell {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool,
        typer.Option(
            "--version", help="Say the version and leave.", callback=_version, is_eager=True
        ),
    ] = False,
) -> None:
    """Endbell weighs the date codes, stamps and features of a vintage valve amplifier together.

    \b
    Example: endbell weigh amp.toml
    """


app.command("read")(read.read)
app.command("weigh")(weigh.weigh)
app.command("next")(next.next_checks)
app.command("compare")(compare.compare)
app.command("check")(check.check)
app.command("new")(new.new)
app.command("note")(note.note)
app.command("batch")(batch.batch)
app.command("reweigh")(reweigh.reweigh)
app.command("bench")(bench.bench)
app.command("demo")(demo.demo)
app.command("serve")(serve.serve)
app.command("backup")(backup.backup)
app.command("restore")(restore.restore)
app.command("doctor")(doctor.doctor)
app.command("tag")(tag.tag)
app.command("simulate")(simulate.simulate)
app.command("calibrate")(calibrate.calibrate)
app.command("learn")(learn.learn)
app.add_typer(packs.app, name="packs")


def run() -> None:
    """Run with the arguments of this process."""
    # A mark may hold any character; a terminal that can't show one shows a stand-in instead.
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
    app(prog_name="endbell")


def _usage_sentence(error: Exception) -> str | None:
    """A wrong option or argument, with where to look."""
    format_message = getattr(error, "format_message", None)
    if format_message is None:
        return None
    context = getattr(error, "ctx", None)
    path = context.command_path if context is not None else "endbell"
    message = " ".join(str(format_message()).split()).rstrip(".")
    return f"{path}: {message} ({path} --help says what it takes)"


def _known_error(error: Exception) -> str | None:
    """Errors of the rooms below that are sentences already, and trouble with the disk."""
    from ..dossier.errors import DossierError
    from ..reference.errors import PackError

    if isinstance(error, DossierError | PackError):
        return f"endbell: {error}"
    if isinstance(error, OSError) and error.strerror:
        return f"endbell: {error.filename or 'file'}: {error.strerror.lower()}"
    return None


def _fault(error: Exception) -> str:
    return f"endbell: {internal_error(error)}"


def _stop(sentence: str) -> NoReturn:
    typer.echo(sentence, err=True)
    sys.exit(NOT_DONE)
