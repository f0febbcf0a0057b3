"""``endbell tag``: a label to tie to an amp, with a code that holds its dossier's id."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from .data import DATA, Data, DatabaseUrl, opened
from .errors import CommandError
from .options import AsJson, PackDirs

if TYPE_CHECKING:
    from ..report.tag import Tag
    from ..store import Database, DossierState
    from .shelf import Shelf

DOSSIER = ".toml"


def tag(
    amps: Annotated[
        list[str],
        typer.Argument(
            metavar="ID|FILE...",
            help="Dossier files, or numbers of dossiers in the workbench's data.",
            show_default=False,
        ),
    ],
    out: Annotated[
        Path, typer.Option("--out", metavar="PDF", help="Where to write it.", show_default=False)
    ],
    size: Annotated[
        str, typer.Option("--size", help="62x29 or 100x62 (mm), or a4: 24 labels a sheet.")
    ] = "62x29",
    first: Annotated[
        int, typer.Option("--first", help="On a sheet: the first label that is still free.")
    ] = 1,
    data: Data = DATA,
    database: DatabaseUrl = None,
    whose: Annotated[
        bool, typer.Option("--whose", help="Print whose it is; left out otherwise.")
    ] = False,
    as_json: AsJson = False,
    pack_dir: PackDirs = None,
) -> None:
    """Print tags as a PDF: number, model, claim, day, and a code with the dossier's id.

    \b
    Example: endbell tag TRV-2026-0147.toml --out tag.pdf
    """
    from ..report.tag import SIZES, TagRefused, tags_pdf
    from .options import one_of
    from .say import print_json, tell
    from .shelf import Shelf

    one_of("--size", size, SIZES)
    shelf = Shelf(pack_dir)
    with ExitStack() as stack:
        shop = _Shop(data, database, stack)
        try:
            tags = [
                _of_file(Path(amp), shelf) if _is_file(amp) else shop.tag(amp, shelf, whose)
                for amp in amps
            ]
            made = tags_pdf(tags, size, first)
        except TagRefused as error:
            raise CommandError(str(error)) from None
    out.write_bytes(made)
    if as_json:
        rows = [{"dossier": t.number, "code": t.id} for t in tags]
        print_json({"file": str(out), "size": size, "tags": rows})
    else:
        tell(f"{len(tags)} tag{'s' if len(tags) != 1 else ''}, {SIZES[size]}: {out}")


def _is_file(amp: str) -> bool:
    return amp.lower().endswith(DOSSIER) or Path(amp).is_file()


def _of_file(path: Path, shelf: Shelf) -> Tag:
    """The tag of a dossier file; its code holds the id that stands in the file."""
    from datetime import date

    from ..dossier import load_dossier
    from ..dossier.text import parse_toml, read_text
    from ..report.tag import tag_of

    claim = parse_toml(read_text(path), str(path)).get("claim", {})
    dossier = load_dossier(path, shelf.reference, today=date.today())
    day = "" if dossier.as_of_from == "command day" else dossier.as_of.isoformat()
    reference = shelf.reference(dossier.packs)
    return tag_of(dossier.id, dossier.id, claim if isinstance(claim, dict) else {}, day, reference)


class _Shop:
    """The workbench's database, opened when the first number is looked up in it."""

    def __init__(self, data: Path, url: str | None, stack: ExitStack) -> None:
        self._data = data
        self._url = url
        self._stack = stack
        self._db: Database | None = None

    def tag(self, amp: str, shelf: Shelf, whose: bool) -> Tag:
        """The tag of the dossier with that number or id."""
        from ..reference import PackError
        from ..report.tag import tag_of

        state = self._state(amp)
        try:
            reference = shelf.reference(state.packs)
        except PackError:  # a pack that is not at hand: the model by its id
            reference = None
        name = state.intake.get("whose", "") if whose else ""
        return tag_of(
            state.id,
            state.number,
            state.claim,
            state.opened_at[:10],
            reference,
            name if isinstance(name, str) else "",
        )

    def _state(self, amp: str) -> DossierState:
        from ..store import NoDossier, state_of
        from ..store.exporting import dossier_called

        if self._db is None:
            self._db = self._open(amp)
        found = dossier_called(self._db, amp)
        try:
            return state_of(self._db, found or amp)
        except NoDossier:
            raise CommandError(f"{amp}: no dossier file, and no dossier in {self._where}") from None

    @property
    def _where(self) -> str:
        return "the database" if self._url else str(self._data)

    def _open(self, amp: str) -> Database:
        from ..store.database import FILE

        if self._url is None and not (self._data / FILE).is_file():
            raise CommandError(
                f"{amp}: no dossier file, and {self._data} holds no workbench"
                " (--data says where its data is)"
            )
        return self._stack.enter_context(opened(self._data, self._url))
