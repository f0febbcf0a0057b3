"""What every test of a reader is given: the small tables, and a short way to read a mark."""

from __future__ import annotations

from typing import Protocol

import pytest

from endbell.marks import MarkReading, Misfit, Seen, Tables, read_mark

from .small import TABLES


class Read(Protocol):
    def __call__(
        self, kind: str, text: str = "", legibility: str = "clear", result: str = "seen"
    ) -> MarkReading: ...


class Refused(Protocol):
    def __call__(self, kind: str, text: str, legibility: str = "clear") -> Misfit: ...


@pytest.fixture(scope="session")
def tables() -> Tables:
    return TABLES


@pytest.fixture(scope="session")
def read(tables: Tables) -> Read:
    def reader(
        kind: str, text: str = "", legibility: str = "clear", result: str = "seen"
    ) -> MarkReading:
        return read_mark(Seen(kind, text, legibility, result), tables)

    return reader


@pytest.fixture(scope="session")
def refused(tables: Tables) -> Refused:
    def reader(kind: str, text: str, legibility: str = "clear") -> Misfit:
        reading = read_mark(Seen(kind, text, legibility), tables)
        assert reading.misfit is not None, f"{text!r} was read"
        assert reading.dating == "nothing"
        return reading.misfit

    return reader
