"""``endbell learn``: what a shop's finished dossiers teach, as a pack of its own."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, timedelta
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .errors import DONE_WITH_REMARKS, CommandError
from .options import AsJson, AsOf, PackDirs, Packs

if TYPE_CHECKING:
    from ..learning.records.intervals import Learned
    from .learning import Taught

SHOWN = 40
PACK_ID = r"[A-Za-z0-9][A-Za-z0-9._-]*"


def learn(
    inputs: Annotated[
        list[Path],
        typer.Argument(
            metavar="DIR…",
            help="Folders of finished dossiers; dossiers and archives of them do as well.",
            show_default=False,
        ),
    ],
    out: Annotated[
        Path,
        typer.Option(
            "--out",
            metavar="PACK",
            help="The folder of the pack to be written; its name is the pack's id.",
            show_default=False,
        ),
    ],
    force: Annotated[
        bool,
        typer.Option("--force", help="Write over what an earlier 'endbell learn' wrote there."),
    ] = False,
    everything: Annotated[
        bool, typer.Option("--all", help="Show every value, also those that stayed.")
    ] = False,
    work: Annotated[
        Path | None,
        typer.Option(
            "--work",
            metavar="DIR",
            help="Where finished work is kept, to go on from [beside PACK, until it is written].",
        ),
    ] = None,
    workers: Annotated[
        int | None,
        typer.Option("--workers", min=0, help="Processes; 0: none beside this one [one a core]."),
    ] = None,
    packs: Packs = None,
    as_json: AsJson = False,
    pack_dir: PackDirs = None,
    as_of: AsOf = None,
) -> None:
    """Learn lags, rates, windows, worn digits and serial numbers from finished dossiers.

    \b
    Example: endbell learn finished/ --out packs/learned
    Example: endbell learn finished.zip --out packs/learned --packs brackwater --json
    """
    from ..batch.pool import cores
    from ..learning.records.intervals import learned
    from .learning import Asked
    from .learning import learn as carry_out
    from .options import command_day, listed
    from .say import print_json
    from .shelf import Shelf

    if find_spec("scipy") is None:
        raise CommandError("learn needs the library scipy, which is not installed (extra 'learn')")
    _check_target(out, force)
    kept = work or out.with_name(f"{out.name}.work")
    asked = Asked(
        tuple(inputs),
        kept,
        listed(packs),
        Shelf(pack_dir).search,
        out.name,
        command_day(as_of),
        cores() if workers is None else workers,
    )
    taught = carry_out(asked)
    values = learned(taught.course.space, taught.estimate)
    _write(out, taught, values)
    if work is None:
        _clear(kept)
    if as_json:
        print_json(_record(out, taught, values))
    else:
        _show(out, taught, values, everything)
    if taught.faults or taught.estimate.last.sums.impossible:
        raise typer.Exit(DONE_WITH_REMARKS)


def _check_target(out: Path, force: bool) -> None:
    """Only what was made here is written over, and only if that is wanted."""
    from ..learning.records.pack import MADE_BY

    if not re.fullmatch(PACK_ID, out.name):
        raise CommandError(f"--out {out}: letters, digits, '-', '.' and '_' make a pack's id")
    head = out / "pack.toml"
    if not out.exists():
        return
    if not out.is_dir() or not head.is_file():
        if out.is_dir() and not any(out.iterdir()):
            return
        raise CommandError(f"{out}: something else lies there; name another folder")
    if not head.read_text("utf-8").startswith(MADE_BY):
        raise CommandError(f"{out}: a pack that 'endbell learn' did not make; name another folder")
    if not force:
        raise CommandError(f"{out}: there is such a pack already; --force writes over it")


def _write(out: Path, taught: Taught, values: Sequence[Learned]) -> None:
    from ..learning.records.pack import FILES, Written, pack_files

    (largest, subjects), *_ = sorted(
        taught.course.subjects.items(), key=lambda item: -item[1].space.size
    )
    dossiers, patterns = taught.dossiers, taught.patterns
    written = Written(out.name, largest, dossiers, patterns, *taught.days, values, taught.serials)
    files = pack_files(subjects, written)
    out.mkdir(parents=True, exist_ok=True)
    for name in FILES:
        if name in files:
            fresh = out / f"{name}.new"
            fresh.write_text(files[name], "utf-8")
            fresh.replace(out / name)
        else:
            (out / name).unlink(missing_ok=True)


def _clear(kept: Path) -> None:
    from .records_kept import Store

    Store(kept).remove()


def _record(out: Path, taught: Taught, values: Sequence[Learned]) -> dict[str, Any]:
    from ..learning.records.pack import FEW

    return {
        "pack": str(out),
        "dossiers": taught.dossiers,
        "patterns": taught.patterns,
        "impossible": taught.estimate.last.sums.impossible,
        "faults": taught.faults,
        "passes": taught.passes,
        "values": [
            {
                "name": v.name,
                "scale": v.scale,
                "pack": _said(v, v.pack),
                "value": _said(v, v.value),
                "low": _said(v, v.low),
                "high": _said(v, v.high),
                "records": round(v.records, 1),
                "moved": round(v.moved, 3),
                "few": v.records < FEW,
            }
            for v in _by_change(values)
        ],
        "serials": {
            name: [
                {
                    "number": k.number,
                    "day": _monday(k.week).isoformat(),
                    "low": _monday(k.low).isoformat(),
                    "high": _monday(k.high).isoformat(),
                    "records": round(k.records, 1),
                }
                for k in knots
            ]
            for name, knots in taught.serials.items()
        },
    }


def _by_change(values: Sequence[Learned]) -> list[Learned]:
    return sorted(values, key=lambda v: (-abs(v.moved), v.name))


def _said(v: Learned, x: float) -> float | str:
    """A value as the pack would say it: an edge as its day."""
    return _edge_day(v, x).isoformat() if v.scale == "weeks" else float(f"{x:.6g}")


def _edge_day(v: Learned, weeks: float) -> date:
    return date.fromisoformat(v.name.rpartition(".")[2]) + timedelta(days=round(7 * weeks))


def _monday(week: float) -> date:
    from ..chronology.weeks import FIRST_MONDAY

    return FIRST_MONDAY + timedelta(days=round(7 * week))


def _show(out: Path, taught: Taught, values: Sequence[Learned], everything: bool) -> None:
    from ..learning.records.pack import FEW
    from .say import print_table

    spoken = [v for v in _by_change(values) if v.records >= 1.0 and (everything or _tells(v))]
    rows = [
        (
            v.name,
            _text(v, v.pack),
            _text(v, v.value),
            _ends(v),
            f"{v.records:.0f}" + (" few" if v.records < FEW else ""),
        )
        for v in (spoken if everything else spoken[:SHOWN])
    ]
    words = f"{taught.dossiers:,} dossiers, {taught.patterns:,} different; most changed first"
    print_table(words, ("value", "pack", "new", "90%", "records"), rows, right=(1, 2))
    if any(row[-1].endswith("few") for row in rows):
        typer.echo(f"few: less than {FEW} records, so the value stays near the pack's")
    if len(spoken) > len(rows):
        typer.echo(f"and {len(spoken) - len(rows)} more: --all shows them")
    for name, knots in taught.serials.items():
        moved = max(knots, key=lambda k: k.records)
        n = sum(k.records for k in knots)
        typer.echo(
            f"serial {name}: {n:.0f} records; {moved.number} in {_monday(moved.week):%Y-%m}, 90%: "
            f"{_monday(moved.low):%Y-%m} to {_monday(moved.high):%Y-%m}"
        )
    impossible = taught.estimate.last.sums.impossible
    if impossible:
        typer.echo(f"{impossible} dossiers left out: no week fits all their marks")
    if taught.faults:
        typer.echo(f"{taught.faults} files left out: they could not be read as dossiers")
    typer.echo(f'written: {out}; dossiers with "{out.name}" among their packs use it')


def _tells(v: Learned) -> bool:
    """What a digit is mostly seen as stands for its row; the rest is in the pack."""
    return not v.name.startswith("digits.") or v.pack >= 0.5


def _ends(v: Learned) -> str:
    if v.scale == "weeks":
        return f"{_edge_day(v, v.low):%Y-%m} to {_edge_day(v, v.high):%Y-%m}"
    return f"{_text(v, v.low)} to {_text(v, v.high)}"


def _text(v: Learned, x: float) -> str:
    if v.scale == "weeks":
        return f"{_edge_day(v, x):%Y-%m-%d}"
    if v.scale in ("logit", "share"):
        return f"{100.0 * x:.3g} %"
    return f"{x:.3g}"
