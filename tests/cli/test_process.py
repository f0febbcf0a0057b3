"""The command as a process of its own: what only a process can show."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

SOURCE = Path(__file__).parents[2] / "src"


def endbell(
    folder: Path, *arguments: str, **environment: str
) -> subprocess.CompletedProcess[bytes]:
    """Run ``python -m endbell`` in ``folder``."""
    path = os.pathsep.join([str(SOURCE), *filter(None, [os.environ.get("PYTHONPATH")])])
    return subprocess.run(
        [sys.executable, "-m", "endbell", *arguments],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": path, **environment},
        capture_output=True,
        check=False,
        timeout=300,
    )


def modules_after(code: str) -> set[str]:
    """The modules that are loaded after ``code``."""
    path = {**os.environ, "PYTHONPATH": str(SOURCE)}
    out = subprocess.run(
        [sys.executable, "-c", f"import sys\n{code}\nprint(*sys.modules)"],
        env=path,
        capture_output=True,
        check=True,
        text=True,
    ).stdout
    return set(out.split())


def test_a_status_and_a_sentence_come_out_of_the_process(tmp_path: Path) -> None:
    ran = endbell(tmp_path, "weigh", "none.toml")
    assert ran.returncode == 2
    assert ran.stdout == b""
    assert ran.stderr == b"endbell: none.toml: there is no such file\n"


def test_json_is_utf8_text_on_standard_output_alone(tmp_path: Path) -> None:
    ran = endbell(tmp_path, "packs", "--json")
    assert ran.returncode == 0
    assert {pack["id"] for pack in json.loads(ran.stdout)} >= {"standards", "brackwater"}


def test_a_terminal_without_the_characters_still_gets_an_answer(tmp_path: Path) -> None:
    ran = endbell(tmp_path, "read", "½ 993", "--kind", "label-text", PYTHONIOENCODING="ascii")
    assert b"Traceback" not in ran.stderr
    assert ran.returncode in (0, 1)


def test_a_fault_of_its_own_is_a_sentence_too(tmp_path: Path) -> None:
    (tmp_path / "sitecustomize.py").write_text(
        "import endbell.marks\nendbell.marks.read_mark = None\n"
    )
    ran = endbell(
        tmp_path,
        "read",
        "993-348",
        "--kind",
        "source-date-code",
        PYTHONPATH=f"{tmp_path}{os.pathsep}{SOURCE}",
    )
    assert ran.returncode == 2
    assert b"Traceback" not in ran.stderr
    assert b"a fault in Endbell itself (TypeError" in ran.stderr


def test_the_shell_can_complete_commands(tmp_path: Path) -> None:
    ran = endbell(
        tmp_path, "--show-completion", "bash", _TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION="1"
    )
    assert ran.returncode == 0
    assert b"_ENDBELL_COMPLETE" in ran.stdout


def test_starting_loads_no_numbers_no_tables_no_schemas() -> None:
    loaded = modules_after("import endbell.cli.app")
    assert not loaded & {
        "numpy",
        "rich.console",
        "pydantic",
        "edtf",
        "tomlkit",
        "endbell.chronology",
    }


def test_reading_a_dossier_needs_neither_pydantic_nor_tomlkit_nor_numpy() -> None:
    loaded = modules_after("import endbell.dossier, endbell.dossier.guess, endbell.dossier.editing")
    assert not loaded & {"numpy", "pydantic", "edtf", "tomlkit", "rich", "typer"}


def test_the_shell_can_complete_the_value_of_an_option(tmp_path: Path) -> None:
    words = "endbell read x --kind so"
    ran = endbell(tmp_path, _ENDBELL_COMPLETE="complete_bash", COMP_WORDS=words, COMP_CWORD="4")
    assert ran.stdout.split() == [b"source-date-code"]
