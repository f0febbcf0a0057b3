"""``endbell bench``: a bench sheet computed, with limits, causes and the next measurement."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from .errors import DONE_WITH_REMARKS, CommandError
from .options import AsJson, PackDirs

if TYPE_CHECKING:
    from ..bench.circuit import Circuit
    from ..bench.result import SheetResult
    from ..bench.sheet_types import Sheet
    from .shelf import Shelf


def bench(
    sheet: Annotated[
        Path | None,
        typer.Argument(
            metavar="[SHEET]",
            help="The sheet; with --new: where to write it, left out: on standard output.",
            show_default=False,
        ),
    ] = None,
    new: Annotated[
        str | None,
        typer.Option(
            "--new",
            metavar="CIRCUIT",
            help="Write a blank sheet for a circuit, such as brackwater/lantern-20.",
        ),
    ] = None,
    blank: Annotated[
        bool,
        typer.Option("--blank", help="Blank readings for all that may be measured now."),
    ] = False,
    marks: Annotated[
        bool,
        typer.Option("--marks", help="What was measured of transformers, as marks of a dossier."),
    ] = False,
    demo: Annotated[
        Path | None,
        typer.Option("--demo", metavar="DIR", help="Write the demonstration sheets into a folder."),
    ] = None,
    practice: Annotated[
        str | None,
        typer.Option("--practice", help="Whose limits apply: iec, iet, vde or us [the sheet's]."),
    ] = None,
    full: Annotated[
        bool,
        typer.Option(
            "--full", help="Every line, those that are done too, with limits and working."
        ),
    ] = False,
    html: Annotated[
        Path | None,
        typer.Option("--html", metavar="OUT", help="Write the sheet as one HTML page that prints."),
    ] = None,
    as_json: AsJson = False,
    pack_dir: PackDirs = None,
) -> None:
    """Compute a bench sheet: is it safe, does it work, within what, and why not.

    Nothing that needs power is shown before its safety lines pass. Local codes and licensed
    practice override everything it says.

    \b
    Example: endbell bench amp.bench.toml
    Example: endbell bench amp.bench.toml --new brackwater/lantern-20-reverb
    Example: endbell bench amp.bench.toml --blank >> amp.bench.toml
    """
    from .options import one_of
    from .shelf import Shelf

    _needs_libraries()
    from ..bench.limits import PRACTICES

    if practice is not None:
        one_of("--practice", practice, tuple(PRACTICES))
    shelf = Shelf(pack_dir)
    if demo is not None:
        _write_demo(demo, as_json)
        return
    if new is not None:
        _write_blank(new, sheet, practice or "iec", shelf, as_json)
        return
    if sheet is None:
        raise CommandError("bench takes a sheet, --new CIRCUIT for a blank one, or --demo DIR")
    result = computed(sheet, shelf, practice)
    _say_problems(result)
    if html is not None:
        _write_page(result, html)
    if blank:
        _print_blank(result, as_json)
    elif marks:
        _print_marks(result, shelf, as_json)
    elif as_json:
        from ..bench.result_json import as_bytes

        typer.echo(as_bytes(result).decode(), nl=False)
    else:
        from .bench_terminal import print_sheet

        print_sheet(result, full=full)
    if result.problems:
        raise typer.Exit(DONE_WITH_REMARKS)


def computed(file: Path, shelf: Shelf, practice: str | None = None) -> SheetResult:
    """The sheet in ``file`` computed; the dossier it names is weighed where it lies beside it."""
    from dataclasses import replace

    from ..bench.circuit_of import with_circuit
    from ..bench.compute import compute
    from ..bench.sheet import load_sheet

    sheet = load_sheet(file)
    if practice is not None:
        sheet = replace(sheet, practice=practice)
    original, years = _parts(sheet, shelf)
    sheet, circuit = with_circuit(sheet, shelf.search)
    return compute(sheet, circuit, parts_original=original, parts_year=years)


def _needs_libraries() -> None:
    from importlib.util import find_spec

    missing = [name for name in ("pint", "scipy") if find_spec(name) is None]
    if missing:
        raise CommandError(
            f"the bench needs {' and '.join(missing)}, which this installation lacks: install "
            "endbell[bench]"
        )


def _parts(sheet: Sheet, shelf: Shelf) -> tuple[dict[str, float], dict[str, int]]:
    """Of each part of the dossier: how likely it is original, and its year where it is."""
    found = _dossier_file(sheet)
    if found is None:
        return {}, {}
    from datetime import date

    from .weighing import weigh_file

    weighed = weigh_file(found, shelf, None, sheet.on or date.today())
    if weighed.verdict is None:
        raise CommandError(f"the dossier of the sheet: {weighed.error}")
    parts = {part.part: part.original for part in weighed.verdict.parts}
    year = weighed.verdict.build.mode_year
    return parts, {part: year for part, p in parts.items() if p > 0.5}


def _dossier_file(sheet: Sheet) -> Path | None:
    """The dossier that the sheet names, where it lies beside it."""
    folder, named = Path(sheet.file).parent, sheet.dossier
    found = (f for f in (folder / named, folder / f"{named}.toml") if named and f.is_file())
    return next(found, None)


def _say_problems(result: SheetResult) -> None:
    from .say import problem_line, tell

    for problem in result.problems:
        tell(f"not used: {problem_line(problem)}")
    for remark in result.sheet.remarks:
        tell(f"remark: {problem_line(remark)}")


def _write_page(result: SheetResult, out: Path) -> None:
    from .bench_page import bench_page
    from .say import tell

    out.write_text(bench_page(result), encoding="utf-8")
    tell(f"report: {out}")


def _write_blank(new: str, file: Path | None, practice: str, shelf: Shelf, as_json: bool) -> None:
    from ..bench.sheet_blank import blank_sheet
    from .say import print_json, tell

    circuit = _circuit(new, shelf)
    name = file.name.split(".")[0] if file else new.rpartition("/")[2]
    text = blank_sheet(circuit, new, name, practice)
    if file is not None:
        try:
            with file.open("x", encoding="utf-8") as stream:
                stream.write(text)
        except FileExistsError:
            raise CommandError(f"{file} is there already; a sheet is never written over") from None
    where = str(file) if file else None
    if as_json:
        print_json({"sheet": name, "file": where, "text": text})
    elif file is None:
        typer.echo(text, nl=False)
    else:
        tell(f"blank sheet: {file}")


def _print_blank(result: SheetResult, as_json: bool) -> None:
    from ..bench.sheet_blank import blank_readings
    from .say import print_json

    text = blank_readings(result)
    if as_json:
        print_json({"sheet": result.sheet.id, "file": None, "text": text})
    else:
        typer.echo(text, nl=False)


def _write_demo(folder: Path, as_json: bool) -> None:
    from .say import print_json, tell

    files = write_sheets(folder)
    if as_json:
        print_json({"folder": str(folder), "sheets": [str(file) for file in files]})
        return
    for file in files:
        tell(f"demonstration sheet: {file}")


def demo_sheets() -> dict[str, str]:
    """The demonstration sheets: file name -> text, in order."""
    from importlib import resources

    shelf = resources.files("endbell.cli") / "demo_sheets"
    found = sorted(item.name for item in shelf.iterdir() if item.name.endswith(".toml"))
    return {name: (shelf / name).read_text(encoding="utf-8") for name in found}


def write_sheets(folder: Path) -> list[Path]:
    """Write them into ``folder``; a file there that says something else is not written over."""
    folder.mkdir(parents=True, exist_ok=True)
    files: list[Path] = []
    for name, text in demo_sheets().items():
        file = folder / name
        if file.exists() and file.read_text(encoding="utf-8", errors="replace") != text:
            raise CommandError(
                f"{file} is there already and says something else; name another folder"
            )
        file.write_text(text, encoding="utf-8")
        files.append(file)
    return files


def _circuit(name: str, shelf: Shelf) -> Circuit:
    from ..bench.circuit_of import with_circuit
    from ..bench.sheet import parse_sheet
    from ..dossier.limits import visible

    sheet = parse_sheet(f'circuit = "{name}"' if name.isprintable() and '"' not in name else "")
    if not sheet.circuit:
        raise CommandError(
            f"--new {visible(name)}; accepted: pack and model, as brackwater/lantern-20"
        )
    return with_circuit(sheet, shelf.search)[1]


def _print_marks(result: SheetResult, shelf: Shelf, as_json: bool) -> None:
    """Readings of transformers as ``[[mark]]`` tables, where a pack in force knows the quantity."""
    from datetime import date

    from ..bench.kinds import line_kinds
    from ..bench.readings import Bench
    from ..bench.transformers import as_toml, mark_rows, measured_marks
    from .say import print_json, tell

    counted = {n for line in result.lines for n in line.readings}
    readings = sorted((r for r in result.sheet.readings if r.n in counted), key=lambda r: r.after)
    bench = Bench(result.circuit, tuple(readings), line_kinds(), ambient=result.sheet.ambient)
    packs: tuple[str, ...] = tuple(filter(None, [result.sheet.circuit.partition("/")[0]]))
    file = _dossier_file(result.sheet)
    if file is not None:
        from ..dossier import load_dossier

        packs = load_dossier(file, shelf.reference, today=date.today()).packs
    found = measured_marks(bench, shelf.reference(packs))
    if as_json:
        print_json({"sheet": result.sheet.id, "marks": mark_rows(found)})
    elif found:
        typer.echo(as_toml(found), nl=False)
    else:
        tell("no marks: no pack in force knows what such a transformer measures, or none was read")
