"""``endbell weigh``: the verdict."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from . import complete
from .errors import DONE_WITH_REMARKS, NOT_DONE, CommandError
from .options import AsJson, AsOf, Assume, PackDirs, Packs

if TYPE_CHECKING:
    from .weighing import Weighed


def weigh(
    files: Annotated[
        list[Path] | None,
        typer.Argument(metavar="[FILE…]", help="Dossiers to weigh.", show_default=False),
    ] = None,
    mark: Annotated[
        list[str] | None,
        typer.Option(
            "--mark",
            metavar="PART:TEXT",
            help=(
                "A mark straight from the command line; its kind is guessed and said. May be "
                "repeated."
            ),
        ),
    ] = None,
    model: Annotated[
        str | None,
        typer.Option(
            "--model",
            autocompletion=complete.models,
            help="With --mark: the model it is said to be.",
        ),
    ] = None,
    built: Annotated[
        str | None,
        typer.Option(
            "--built",
            metavar="DATE",
            help="With --mark: when it is said to be built (1964, 1963/1965, 196X).",
        ),
    ] = None,
    packs: Packs = None,
    assume: Assume = None,
    as_json: AsJson = False,
    full: Annotated[
        bool, typer.Option("--full", help="Add the whole distribution, week by week.")
    ] = False,
    html: Annotated[
        Path | None,
        typer.Option(
            "--html",
            metavar="OUT",
            help="Write the report as one HTML page; with several files OUT is a folder.",
        ),
    ] = None,
    pdf: Annotated[
        Path | None, typer.Option("--pdf", metavar="OUT", help="Comes with the documents; not yet.")
    ] = None,
    pack_dir: PackDirs = None,
    as_of: AsOf = None,
) -> None:
    """Weigh all marks of an amp together: when it was built, and which parts it left with.

    \b
    Example: endbell weigh amp.toml --html amp.html
    Example: endbell weigh --mark ot:993-348 --mark pot-1:992-341 --model lantern-20
    """
    from .options import command_day, listed
    from .shelf import Shelf
    from .typed import typed_dossier
    from .weighing import weigh_dossier, weigh_files

    if pdf is not None:
        raise CommandError(
            "--pdf: documents on paper come with a later version; --html writes the report as a "
            "page that prints"
        )
    if bool(files) == bool(mark):
        raise CommandError(
            "weigh takes dossier files or --mark PART:TEXT, one of the two (endbell weigh --help)"
        )
    if not mark and (model or built):
        raise CommandError(
            "--model and --built go with --mark; in a file the claim stands under [claim]"
        )
    today = command_day(as_of)
    if mark:
        shelf = Shelf(pack_dir)
        dossier = typed_dossier(mark, model, built, listed(packs), shelf, today)
        results = [weigh_dossier(dossier, shelf, assume)]
    else:
        results = weigh_files(files or [], Shelf(pack_dir, listed(packs)), assume, today)
    _say_errors(results)
    if html is not None:
        _write_pages(results, html)
    _print_json(results, full) if as_json else _print(results, full)
    _leave(results)


def _say_errors(results: Sequence[Weighed]) -> None:
    from .say import tell
    from .weighing import say_remarks

    for result in results:
        say_remarks(result)
        if result.error is not None:
            tell(f"endbell: {result.error}")


def _print_json(results: Sequence[Weighed], full: bool) -> None:
    from ..chronology import as_json as verdict_json
    from .say import print_json

    def one(result: Weighed) -> dict[str, Any]:
        if result.verdict is None:
            return {"file": result.file, "error": result.error}
        return verdict_json(result.verdict, full=full)

    if len(results) > 1:
        print_json([one(result) for result in results])
    elif results[0].verdict is not None:
        print_json(one(results[0]))


def _print(results: Sequence[Weighed], full: bool) -> None:
    from .say import tell

    if len(results) > 1:
        print_summary(results)
        tell("weigh one file for its whole verdict, or add --json")
    elif results[0].verdict is not None:
        print_verdict(results[0])
        if full:
            print_weeks(results[0])


def print_verdict(result: Weighed) -> None:
    """The verdict of one dossier on the terminal."""
    from ..report import terminal
    from .say import WIDTH, console, problem_line

    assert result.verdict is not None
    out = console()
    shown: Any = terminal(result.verdict, result.reference, width=WIDTH)
    out.print(shown, end="" if isinstance(shown, str) and shown.endswith("\n") else "\n")
    for problem in result.verdict.not_weighed:
        typer.echo(f"not weighed: {problem_line(problem)}", err=True)


def print_weeks(result: Weighed) -> None:
    """Every week that carries a thousandth or more, for ``--full`` on the terminal."""
    from datetime import date, timedelta

    from .say import print_table

    assert result.verdict is not None
    build = result.verdict.build
    start = date.fromisocalendar(int(build.start[:4]), int(build.start[-2:]), 1)
    rows: list[tuple[str, ...]] = []
    for n, p in enumerate(build.weeks.tolist()):
        if p >= 0.001:
            monday = start + timedelta(weeks=n)
            year, week, _ = monday.isocalendar()
            rows.append((f"{year}-W{week:02d}", monday.isoformat(), f"{p:.4f}"))
    print_table(
        "The build week, where it has a thousandth or more",
        ("week", "from Monday", "p"),
        rows,
        right=(2,),
    )


def print_summary(results: Sequence[Weighed], title: str = "") -> None:
    """One line a dossier."""
    from .say import percent, print_table

    rows: list[tuple[str, ...]] = []
    for result in results:
        verdict = result.verdict
        if verdict is None:
            rows.append((Path(result.file).name, "could not be read", "", "", "", ""))
            continue
        build = verdict.build
        claim = percent(verdict.claim.p) if verdict.claim else "none"
        name = Path(result.file).stem or verdict.dossier
        rows.append(
            (
                name,
                build.edtf.replace(",", ", "),
                str(build.mode_year),
                percent(build.p_mode_year),
                claim,
                str(len(verdict.not_weighed) or ""),
            )
        )
    print_table(
        title,
        ("dossier", "built (95%)", "likeliest", "odds", "claim", "left out"),
        rows,
        right=(2, 3, 4, 5),
    )


def _write_pages(results: Sequence[Weighed], out: Path) -> None:
    from .say import tell

    good = [result for result in results if result.verdict is not None]
    if len(results) == 1:
        targets = [out] if good else []
    else:
        out.mkdir(parents=True, exist_ok=True)
        targets = [out / f"{name}.html" for name in _names(good)]
    for result, target in zip(good, targets, strict=True):
        write_page(result, target)
        tell(f"report: {target}")


def write_page(result: Weighed, target: Path) -> None:
    """The HTML report of one dossier."""
    from ..report import page

    assert result.verdict is not None
    assert result.reference is not None
    assert result.dossier is not None
    target.write_text(page(result.verdict, result.reference, result.dossier), encoding="utf-8")


def _names(results: Sequence[Weighed]) -> list[str]:
    """File stems, numbered where two are alike."""
    seen: dict[str, int] = {}
    names: list[str] = []
    for result in results:
        stem = Path(result.file).stem
        seen[stem] = seen.get(stem, 0) + 1
        names.append(stem if seen[stem] == 1 else f"{stem}-{seen[stem]}")
    return names


def _leave(results: Sequence[Weighed]) -> None:
    if all(result.error is not None for result in results):
        raise typer.Exit(NOT_DONE)
    if any(result.verdict is None or result.verdict.not_weighed for result in results):
        raise typer.Exit(DONE_WITH_REMARKS)
