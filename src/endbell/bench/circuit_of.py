"""The circuit a sheet is held against: its own, or a model's of a pack."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from ..dossier.errors import UnreadableFile
from .circuit import Circuit
from .sheet_types import Sheet


def with_circuit(sheet: Sheet, search: Sequence[Path] = ()) -> tuple[Sheet, Circuit]:
    """The circuit that ``sheet`` names or brings along, and the sheet with what was wrong in it.

    ``search``: folders of packs beside those that ship.  Raises
    :class:`endbell.dossier.DossierError` where there is none to be had, in one sentence: without a
    circuit nothing can be held against anything.
    """
    from .circuits.file import circuit_in
    from .circuits.find import find_circuit

    if sheet.own_circuit is not None:
        found = circuit_in(sheet.own_circuit, None, sheet.file)
        problems = (*sheet.problems, *found.problems)
        remarks = (*sheet.remarks, *found.remarks)
        set_aside = (*sheet.set_aside, *found.set_aside)
        told = replace(sheet, problems=problems, remarks=remarks, set_aside=set_aside)
        return told, found.circuit
    if not sheet.circuit:
        accepted = 'circuit = "brackwater/lantern-20" at the top, or a table [circuit]'
        raise UnreadableFile(sheet.file, f"names no circuit; accepted: {accepted}")
    return sheet, find_circuit(sheet.circuit, tuple(search))
