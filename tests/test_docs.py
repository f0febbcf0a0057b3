"""The documents say what is so: commands run as shown, names are all there, tables are current."""

from __future__ import annotations

import importlib.util
import os
import re
import shlex
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from types import ModuleType
from typing import Any

import jsonschema
import pytest
import typer.main

from endbell.chronology import as_json, weigh
from endbell.cli.app import app
from endbell.cli.demo import demo_texts
from endbell.dossier import parse_dossier
from endbell.marks import KINDS
from endbell.reference import load_reference

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
PAGES = sorted([*ROOT.glob("*.md"), *DOCS.rglob("*.md")])
FENCE = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
ELLIPSIS = "…"


def blocks(page: Path, language: str) -> list[str]:
    """The fenced blocks of one language."""
    found = FENCE.findall(page.read_text(encoding="utf-8"))
    return [text for kind, text in found if kind == language]


def tool(name: str) -> ModuleType:
    """A script of ``tools/``, which is no package."""
    spec = importlib.util.spec_from_file_location(name, ROOT / "tools" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


# ---- commands


def shown(page: Path) -> Iterator[tuple[str, list[str]]]:
    """Every command of the console blocks, with the lines shown under it."""
    for block in blocks(page, "console"):
        command, lines = "", list[str]()
        for line in block.splitlines():
            if line.startswith("$ "):
                if command:
                    yield command, lines
                command, lines = line[2:], []
            else:
                lines.append(line)
        yield command, lines


def run(command: str, folder: Path) -> tuple[int, str]:
    """Exit status, and all that was printed with its white space made single."""
    words = shlex.split(command)
    assert words[0] in ("endbell", ".venv/bin/endbell"), command
    environment = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join([str(ROOT / "src"), os.environ.get("PYTHONPATH", "")]),
        "PYTHONWARNINGS": "error",
        "PYTHONUTF8": "1",
    }
    done = subprocess.run(
        [sys.executable, "-m", "endbell", *words[1:]],
        cwd=folder,
        env=environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        encoding="utf-8",
    )
    return done.returncode, " ".join((done.stdout + done.stderr).split())


@pytest.mark.parametrize("page", [ROOT / "README.md", DOCS / "guide.md"], ids=lambda p: p.name)
def test_every_command_does_what_the_page_shows(page: Path, tmp_path: Path) -> None:
    status, commands = 0, 0
    for command, lines in shown(page):
        if command == "echo $?":
            assert lines == [str(status)]
            status = 0
            continue
        assert status == 0, "a failure that the page does not show"
        status, printed = run(command, tmp_path)
        commands += 1
        for line in lines:
            for piece in line.split(ELLIPSIS):
                assert " ".join(piece.split()) in printed, f"{command}: {line}\n{printed[:2000]}"
        if status:
            assert any(line == "echo $?" for line, _ in shown(page)), f"{command}: {printed[-500:]}"
    assert status == 0
    assert commands > 4


def test_the_two_commands_of_the_readme_can_be_made() -> None:
    told = [line for block in blocks(ROOT / "README.md", "sh") for line in block.splitlines()]
    assert told == ["make demo", "make test"]
    environment = {k: v for k, v in os.environ.items() if not k.startswith("MAKE")}
    for line in told:
        done = subprocess.run(
            [*shlex.split(line), "--dry-run"],
            cwd=ROOT,
            env=environment,
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, done.stderr
        assert ("endbell demo" if line == "make demo" else "pytest") in done.stdout


def test_everything_that_the_pages_tell_to_make_can_be_made() -> None:
    targets = set(
        re.findall(r"^([a-z-]+(?: [a-z-]+)*):", (ROOT / "Makefile").read_text(), re.MULTILINE)
    )
    names = {name for line in targets for name in line.split()}
    for page in PAGES:
        told = re.findall(r"`make ([a-z-]+)`", page.read_text(encoding="utf-8"))
        assert set(told) <= names, page.name


def commands_of(group: Any, prefix: str = "") -> Iterator[tuple[str, list[str]]]:
    """'packs check' and its options, for every command."""
    for name, command in group.commands.items():
        options = [o for p in command.params for o in getattr(p, "opts", []) if o.startswith("--")]
        yield f"{prefix}{name}", options
        if hasattr(command, "commands"):
            yield from commands_of(command, f"{prefix}{name} ")


def test_every_command_and_option_is_documented() -> None:
    page = (DOCS / "commands.md").read_text(encoding="utf-8")
    for name, options in commands_of(typer.main.get_command(app)):
        assert f"`endbell {name}" in page, name
        for option in options:
            assert option in page or option == "--help", f"{name} {option}"


# ---- names


def test_every_kind_of_mark_is_in_the_guide() -> None:
    page = (DOCS / "guide.md").read_text(encoding="utf-8")
    told = re.findall(r"^\| `([a-z-]+)` \|", page.partition("## Kinds of mark")[2], re.MULTILINE)
    assert told == list(KINDS)


def test_every_condition_word_of_the_guide_exists() -> None:
    reference, _ = load_reference(())
    row = next(
        line
        for line in (DOCS / "guide.md").read_text(encoding="utf-8").splitlines()
        if line.startswith("| `condition`")
    )
    told = set(re.findall(r"`([a-z-]+)`", row)) - {"condition"}
    assert told
    assert told <= set(reference.conditions)


def test_the_table_of_assumptions_is_current() -> None:
    made = tool("assumptions_table")
    assert made.PAGE.read_text(encoding="utf-8") == made.current(), "make docs"


def test_every_assumption_of_the_shipped_packs_is_documented() -> None:
    page = (DOCS / "assumptions.md").read_text(encoding="utf-8")
    reference, _ = load_reference(("brackwater",))
    missing = [name for name in reference.assumptions if f"`{name}`" not in page]
    assert missing == []


def test_every_dependency_has_a_page_that_says_why() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    extras = project["optional-dependencies"]
    needs = [*project["dependencies"], *(need for extra in extras.values() for need in extra)]
    pages = "\n".join(p.read_text(encoding="utf-8") for p in (DOCS / "decisions").glob("0*.md"))
    names = [re.split("[<>=]", need)[0] for need in needs]
    assert [name for name in names if name not in pages] == []


# ---- the verdict


@pytest.fixture(scope="module")
def verdicts() -> list[dict[str, Any]]:
    """Real verdicts: an honest amp, a married one with the whole distribution, one of bad rows."""
    reference, _ = load_reference(("brackwater",))
    bare = 'id = "bare"\n[[mark]]\npart = "ot"\nkind = "source-date-code"\ntext = "993-354"\n'
    texts = [text for name, text in demo_texts().items() if name[0] in "ad"] + [bare]
    out: list[dict[str, Any]] = []
    for text in texts:
        dossier = parse_dossier(text, lambda _: reference, today=date(2026, 3, 2), file="amp.toml")
        out.append(as_json(weigh(dossier, reference), full=bool(out)))
    return out


def test_the_schema_of_verdicts_is_current() -> None:
    made = tool("verdict_schema")
    assert made.SCHEMA.read_text(encoding="utf-8") == made.text(), "make docs"


def closed(node: Any) -> Any:
    """The same schema with every unknown key refused."""
    if isinstance(node, dict):
        inner = {key: closed(value) for key, value in node.items()}
        return inner | {"additionalProperties": False} if "properties" in inner else inner
    return [closed(item) for item in node] if isinstance(node, list) else node


def test_real_verdicts_fit_the_schema_and_have_no_key_beside_it(
    verdicts: list[dict[str, Any]],
) -> None:
    judge = jsonschema.Draft202012Validator(closed(tool("verdict_schema").schema()))
    for verdict in verdicts:
        faults = [f"{list(f.path)}: {f.message}" for f in judge.iter_errors(verdict)]
        assert faults == []
    assert verdicts[-1]["not_weighed"]
    assert verdicts[-1]["claim"] is None
    assert len(verdicts[1]["build"]["weeks"]["p"]) > 4000


@pytest.mark.parametrize(
    ("where", "value"),
    [("format", "endbell-verdict/2"), ("as_of", "2026-03"), ("build", None), ("parts", [])],
)
def test_what_is_no_verdict_does_not_fit(
    verdicts: list[dict[str, Any]], where: str, value: object
) -> None:
    judge = jsonschema.Draft202012Validator(tool("verdict_schema").schema())
    assert not judge.is_valid(verdicts[0] | {where: value})


def test_every_key_of_a_verdict_is_explained() -> None:
    page = (DOCS / "formats" / "verdict.md").read_text(encoding="utf-8")
    schema = tool("verdict_schema").schema()
    forms = [schema, *schema["$defs"].values()]
    keys = {key for form in forms for key in form.get("properties", {})}
    assert sorted(key for key in keys if f"`{key}`" not in page) == []


# ---- the pages themselves


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_links_lead_somewhere(page: Path) -> None:
    text = FENCE.sub("", page.read_text(encoding="utf-8"))
    for target in re.findall(r"\]\(([^)#\s]+)[^)]*\)", text):
        if not target.startswith("https://"):
            assert (page.parent / target).exists(), target


def test_every_form_and_decision_is_in_its_index() -> None:
    for folder in (DOCS / "formats", DOCS / "decisions"):
        index = (folder / "README.md").read_text(encoding="utf-8")
        others = [page.name for page in folder.iterdir() if page.name != "README.md"]
        assert others
        assert [name for name in others if f"({name})" not in index] == []


@pytest.mark.parametrize(
    "block", blocks(DOCS / "guide.md", "toml") + blocks(DOCS / "formats" / "dossier.md", "toml")
)
def test_toml_that_is_shown_can_be_used(block: str) -> None:
    reference, _ = load_reference(("brackwater",))
    dossier = parse_dossier(block, lambda _: reference, today=date(2026, 3, 2), file="amp.toml")
    assert dossier.problems == ()
    assert dossier.remarks == ()
