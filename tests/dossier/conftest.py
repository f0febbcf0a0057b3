"""Dossiers from text, with the shipped packs."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from endbell.dossier import Dossier, parse_dossier
from endbell.reference import Reference, load_reference

COMMAND_DAY = date(2026, 3, 9)

Opened = Callable[..., Dossier]


@pytest.fixture(scope="session")
def reference() -> Reference:
    """Standards, common practice and the invented maker."""
    return load_reference(("brackwater",))[0]


@pytest.fixture(scope="session")
def opened(reference: Reference) -> Opened:
    """A dossier from its text, read on the day of the command."""

    def read(text: str, file: str = "amp.toml") -> Dossier:
        return parse_dossier(text, lambda packs: reference, today=COMMAND_DAY, file=file)

    return read
