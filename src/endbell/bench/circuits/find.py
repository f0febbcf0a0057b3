"""A circuit found by pack and model: ``circuits/<model>.toml`` in the pack's folder."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

from ...dossier.errors import DossierError
from ...dossier.limits import visible
from ...dossier.values import nearest_words
from ..circuit import Circuit
from .file import CircuitFile, load_circuit

_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,79}")
_FOLDER = "circuits"


class UnknownCircuit(DossierError):
    """No pack has the circuit that is asked for; the sentence says which there are."""


def find_circuit(
    pack: str, model: str | Sequence[Path] = "", folders: Sequence[Path] = ()
) -> Circuit:
    """The circuit of a pack's model: ``find_circuit("brackwater", "wick-6")``, or both in one word:
    ``find_circuit("brackwater/wick-6", folders)``.

    ``folders``: folders that hold a shop's own packs, or are one; they come before those that are
    shipped.  Raises :class:`UnknownCircuit`, and what :func:`load_circuit` raises.
    """
    if not isinstance(model, str):
        model, folders = "", model
    if not model:
        pack, _, model = pack.partition("/")
    return find_circuit_file(pack, model, folders).circuit


def find_circuit_file(pack: str, model: str, folders: Sequence[Path] = ()) -> CircuitFile:
    """The same with everything that was wrong in the file."""
    path = circuit_path(pack, model, folders)
    stat = path.stat()
    return _loaded(path, stat.st_mtime_ns, stat.st_size)


def circuit_path(pack: str, model: str, folders: Sequence[Path] = ()) -> Path:
    """The file of a pack's model; :class:`UnknownCircuit` where there is none."""
    asked = f"{visible(pack, 80)}/{visible(model, 80)}"
    if not _NAME.fullmatch(pack) or not _NAME.fullmatch(model):
        raise UnknownCircuit(asked, "is no circuit's name; accepted: pack/model in small letters")
    there = circuits(folders)
    if (pack, model) in there:
        return there[pack, model]
    packs = list(dict.fromkeys(p for p, _ in there))
    if pack not in packs:
        near = nearest_words(pack, packs)
        hint = f"; did you mean {' or '.join(near)}?" if near else ""
        known = ", ".join(packs) or "none"
        raise UnknownCircuit(asked, f"no pack '{pack}' with circuits; there are: {known}{hint}")
    models = [m for p, m in there if p == pack]
    near = nearest_words(model, models)
    hint = f"; did you mean {' or '.join(near)}?" if near else ""
    known = ", ".join(models)
    raise UnknownCircuit(asked, f"the pack has no circuit '{model}'; it has: {known}{hint}")


def circuits(folders: Sequence[Path] = ()) -> dict[tuple[str, str], Path]:
    """Every circuit there is by pack and model; a shop's own before a shipped one of its name."""
    shipped = Path(str(files("endbell.reference") / "packs"))
    found: dict[tuple[str, str], Path] = {}
    for folder in (*folders, shipped):
        for path in _of(folder):
            found.setdefault((path.parent.parent.name, path.stem), path)
    return found


def _of(folder: Path) -> list[Path]:
    # the folder may be a pack itself, or hold packs
    return sorted((*folder.glob(f"{_FOLDER}/*.toml"), *folder.glob(f"*/{_FOLDER}/*.toml")))


@lru_cache(32)
def _loaded(path: Path, _changed: int, _size: int) -> CircuitFile:
    return load_circuit(path)
