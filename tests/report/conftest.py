"""The hand-made verdicts, offered to every test of this folder."""

from __future__ import annotations

import pytest

from .cases import CASES
from .making import Case


@pytest.fixture(params=sorted(CASES))
def any_case(request: pytest.FixtureRequest) -> Case:
    """Each of the cases in turn."""
    return CASES[request.param]()
