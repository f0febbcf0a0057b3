"""Every command and option is in the docs and has an example; nothing there is made up."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer.main

from endbell.cli.app import app

from .conftest import Run

DOCS = (Path(__file__).parents[2] / "docs" / "commands.md").read_text(encoding="utf-8")


def commands(
    group: Any = None, path: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Every command with its path: ('weigh',), ('packs', 'check') …"""
    for name, command in (group or typer.main.get_command(app)).commands.items():
        yield (*path, name), command
        if hasattr(command, "commands"):
            yield from commands(command, (*path, name))


EVERY = list(commands())


def options_of(command: Any) -> set[str]:
    """The long options of a command."""
    return {o for p in command.params for o in p.opts if o.startswith("--")} - {"--help"}


def section(path: tuple[str, ...]) -> str:
    """The part of the docs headed with a command."""
    found = re.search(
        rf"^#+ `endbell {' '.join(path)}\b.*?(?=^#+ |\Z)", DOCS, re.MULTILINE | re.DOTALL
    )
    assert found, f"docs/commands.md has no section for {path}"
    return found[0]


@pytest.mark.parametrize(
    ("path", "command"),
    EVERY,
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else "",
)
def test_every_command_and_option_is_in_the_docs(path: tuple[str, ...], command: Any) -> None:
    text = section(path)
    for option in options_of(command):
        assert f"{option}`" in text or f"{option} " in text, f"{option} of {path}"


def test_no_option_is_in_the_docs_that_no_command_has() -> None:
    known = {option for _, command in EVERY for option in options_of(command)}
    known |= {"--help", "--version", "--install-completion", "--show-completion"}
    assert set(re.findall(r"--[a-z][a-z-]+", DOCS)) <= known


@pytest.mark.parametrize(
    ("path", "command"),
    EVERY,
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else "",
)
def test_every_command_has_an_example_in_its_help(
    run: Run, path: tuple[str, ...], command: Any
) -> None:
    ran = run(*path, "--help")
    assert ran.status == 0
    assert f"Example: endbell {' '.join(path)}" in ran.out
    assert max(len(line) for line in ran.out.split("\n")) <= 100


NO_RESULT = (("serve",),)
"""It goes on until it is stopped: there is nothing to print."""


def test_every_command_that_prints_a_result_takes_json() -> None:
    without = [name for name, command in EVERY if "--json" not in options_of(command)]
    assert [name for name in without if name not in NO_RESULT] == []
