"""The commands, run in this process, each in a folder of its own."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest
from typer.testing import CliRunner

from endbell import chronology
from endbell.cli.app import app

AMP = """# the widow's amp
id = "TRV-1"
packs = ["brackwater"]

[claim]
model = "lantern-20"
built = "1964"

[[mark]]
part = "ot"
kind = "source-date-code"
text = "993-348"
on = 2026-03-02

[[mark]]
part = "chart"
kind = "chart-letters"
text = "WF"
on = 2026-03-02
"""

BAD_ROW = """
[[mark]]
part = "pot-1"
kind = "source-date-code"
text = "992-354"
"""


@dataclass(frozen=True, slots=True)
class Ran:
    """What a command left behind."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """Standard output as the one JSON document it must be."""
        return json.loads(self.out)


Run = Callable[..., Ran]


@pytest.fixture(scope="session")
def weighed() -> dict[str, Any]:
    """Verdicts already reached: the same dossier, packs and assumptions are weighed once."""
    return {}


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, weighed: dict[str, Any]) -> Run:
    """``run("weigh", "amp.toml")``, in an empty folder."""
    really = chronology.weigh

    def weigh(
        dossier: Any, reference: Any, assume: Any = MappingProxyType({}), *, models: Any = None
    ) -> Any:
        key = repr((dossier, reference.packs, sorted(assume.items()), models))
        if key not in weighed:
            weighed[key] = really(dossier, reference, assume, models=models)
        return weighed[key]

    monkeypatch.setattr(chronology, "weigh", weigh)
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("ENDBELL_PACKS", raising=False)
    monkeypatch.setenv("ENDBELL_TRACEBACK", "1")

    def ran(*arguments: str) -> Ran:
        result = CliRunner().invoke(app, list(arguments), prog_name="endbell")
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return Ran(result.exit_code, result.stdout, result.stderr)

    return ran


@pytest.fixture
def amp(tmp_path: Path) -> Path:
    """A small dossier in the folder of the command."""
    file = tmp_path / "amp.toml"
    file.write_text(AMP, encoding="utf-8")
    return file


def one_sentence(text: str) -> bool:
    """Whether standard error is one line and no traceback."""
    return len(text.strip().split("\n")) == 1 and "Traceback" not in text
