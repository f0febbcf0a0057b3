"""``endbell packs``: the reference packs within reach; one checked; source numbers named."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from .errors import DONE_WITH_REMARKS, CommandError
from .options import AsJson, PackDirs

app = typer.Typer(rich_markup_mode=None, invoke_without_command=True)

ShopPack = Annotated[
    Path,
    typer.Option(
        "--pack", metavar="DIR", help="The shop's own pack; it is made if it isn't there."
    ),
]
SHOP_PACK = Path("packs/shop")


@app.callback()
def packs(context: typer.Context, as_json: AsJson = False, pack_dir: PackDirs = None) -> None:
    """List the reference packs within reach; 'standards' and 'common-practice' always apply.

    \b
    Example: endbell packs
    Example: endbell packs check packs/shop
    """
    if context.invoked_subcommand is not None:
        return
    from ..reference import available_packs
    from ..reference.combine import ALWAYS
    from .say import print_json, print_table
    from .shelf import Shelf

    found = available_packs(Shelf(pack_dir).search)
    records: list[dict[str, Any]] = [
        {
            "id": info.id,
            "version": info.version,
            "title": info.title,
            "path": str(info.path),
            "shipped": info.shipped,
            "always_applies": info.id in ALWAYS,
        }
        for info in found
    ]
    if as_json:
        print_json(records)
        return
    rows = [(r["id"], r["version"], r["title"], _whose(r)) for r in records]
    print_table("", ("pack", "version", "what it is", "where"), rows)


def _whose(record: dict[str, Any]) -> str:
    if record["always_applies"]:
        return "shipped, always applies"
    return "shipped" if record["shipped"] else record["path"]


@app.command("check")
def check(
    path: Annotated[
        str,
        typer.Argument(
            metavar="PATH",
            help="A pack's folder, or the id of a pack within reach.",
            show_default=False,
        ),
    ],
    as_json: AsJson = False,
    pack_dir: PackDirs = None,
) -> None:
    """Check a pack: every row that could not be used, with its place.

    \b
    Example: endbell packs check packs/shop
    """
    from ..reference.check import check_named, check_pack
    from .say import print_json
    from .shelf import Shelf

    search = Shelf(pack_dir).search
    folder = Path(path)
    problems = check_pack(folder, search) if folder.is_dir() else check_named(path, search)
    if as_json:
        keys = ("pack", "file", "table", "number", "line", "found", "accepted")
        print_json(
            {"pack": path, "problems": [{key: getattr(p, key) for key in keys} for p in problems]}
        )
    else:
        for problem in problems:
            typer.echo(str(problem))
        typer.echo(f"{path}: {len(problems) or 'no'} problem{'' if len(problems) == 1 else 's'}")
    if problems:
        raise typer.Exit(DONE_WITH_REMARKS)


@app.command("name-source")
def name_source(
    number: Annotated[
        str,
        typer.Argument(
            metavar="NUMBER", help="The source number, such as 993.", show_default=False
        ),
    ],
    name: Annotated[str, typer.Argument(metavar="NAME", help="Who that is.", show_default=False)],
    pack: ShopPack = SHOP_PACK,
    source: Annotated[
        str, typer.Option("--source", help="Where you know it from.")
    ] = "shop records",
    as_json: AsJson = False,
) -> None:
    """Name a source number in the shop's own pack.

    \b
    Example: endbell packs name-source 993 "Halden Coil"
    """
    from ..reference.names import name_source as write
    from .say import print_json

    try:
        file = write(pack, number, name, source=source)
    except ValueError as error:
        raise CommandError(str(error)) from None
    if as_json:
        print_json({"file": str(file), "number": number, "name": name, "pack": pack.name})
    else:
        typer.echo(
            f"{number} is named '{name}' in {file}; dossiers with packs = [\"{pack.name}\"] use it"
        )


@app.command("load-sources")
def load_sources(
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE", help="A list of source numbers: CSV or .xlsx.", show_default=False
        ),
    ],
    yes: Annotated[
        bool,
        typer.Option(
            "--yes", help="Write it; without this it is only shown how the list is understood."
        ),
    ] = False,
    number_column: Annotated[
        int | None,
        typer.Option("--number-column", min=1, help="The column of the numbers, from 1 [guessed]."),
    ] = None,
    name_column: Annotated[
        int | None,
        typer.Option("--name-column", min=1, help="The column of the names, from 1 [guessed]."),
    ] = None,
    pack: ShopPack = SHOP_PACK,
    source: Annotated[
        str | None, typer.Option("--source", help="Where the list is from [the name of the file].")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Load a list of source numbers into the shop's own pack, after a look at how it is understood.

    \b
    Example: endbell packs load-sources numbers.csv
    Example: endbell packs load-sources numbers.csv --yes --source "shop notebook 1998"
    """
    from ..reference.sources_list import Columns, add_source_list, read_source_list
    from .say import print_json

    if (number_column is None) != (name_column is None):
        raise CommandError("--number-column and --name-column go together")
    listed = read_source_list(file)
    if number_column is not None and name_column is not None:
        columns = Columns(number_column - 1, name_column - 1, listed.columns.header)
        listed = read_source_list(file, columns)
    taken: tuple[Any, ...] = ()
    if yes:
        try:
            taken = add_source_list(pack, listed, source=source or file.name)
        except ValueError as error:
            raise CommandError(str(error)) from None
    if as_json:
        print_json(
            {
                "file": str(file),
                "columns": {"number": listed.columns.number + 1, "name": listed.columns.name + 1},
                "rows": [{"number": r.number, "name": r.name, "line": r.line} for r in listed.rows],
                "problems": [
                    {"line": p.line, "found": p.found, "accepted": p.accepted}
                    for p in listed.problems
                ],
                "already_named": [str(one) for one in taken],
                "written": yes,
                "pack": str(pack),
            }
        )
    else:
        _show_list(file, listed, taken, pack if yes else None)
    if listed.problems or taken:
        raise typer.Exit(DONE_WITH_REMARKS)


def _show_list(file: Path, listed: Any, taken: tuple[Any, ...], written: Path | None) -> None:
    from .say import print_table

    rows = [(r.number, r.name, str(r.line)) for r in listed.rows[:8]]
    number, name = listed.columns.number + 1, listed.columns.name + 1
    where = f"{file}: numbers in column {number}, names in column {name}"
    print_table(where, ("number", "name", "line"), rows, right=(2,))
    if len(listed.rows) > len(rows):
        typer.echo(f"and {len(listed.rows) - len(rows)} more")
    for problem in listed.problems:
        typer.echo(f"{file}, line {problem.line}: {problem.found}; accepted: {problem.accepted}")
    for one in taken:
        typer.echo(f"left as it was: {one}")
    if written is None:
        typer.echo(f"Nothing written yet: {len(listed.rows)} names would be; add --yes.")
    else:
        typer.echo(f"{len(listed.rows) - len(taken)} names are in {written}.")
