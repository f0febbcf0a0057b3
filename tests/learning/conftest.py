"""Packs shared by the tests of this floor."""

from __future__ import annotations

import pytest

from endbell.reference import Reference, load_reference


@pytest.fixture(scope="session")
def common() -> Reference:
    """What holds for any valve amp: no maker, no model."""
    return load_reference(())[0]


@pytest.fixture(scope="session")
def brackwater() -> Reference:
    """The same with the invented maker's pack."""
    return load_reference(("brackwater",))[0]
