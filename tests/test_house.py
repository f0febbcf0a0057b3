"""The house in order: public names, floors, what is shipped, and nothing of anyone's machine."""

from __future__ import annotations

import fnmatch
import importlib
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "src" / "endbell"

PUBLIC = {
    "endbell.marks": """
        KINDS EdtfError MarkError MarkReading Misfit Reading Seen Span Split TableError Tables TermHit
        TextError UnknownKind Vector WeekError edtf_bounds read_mark
    """,
    "endbell.reference": """
        Assumption PackError PackInfo PackNotFound PackProblem PackUnreadable Reference
        available_packs check_pack find_pack load_reference name_source
    """,
    "endbell.dossier": """
        Claim Dossier DossierError Mark Part Problem ReadMarks Repair SetAside load_dossier
        parse_dossier read_marks
    """,
    "endbell.chronology": """
        AssumptionError Brief NothingPossible Verdict Workspace as_json assumptions_in_force brief
        weigh
    """,
    "endbell.learning": "",
    "endbell.batch": "",
    "endbell.report": "page percent strip_svg terminal terminal_renderables timeline_svg",
}


def tracked() -> list[Path]:
    """The files under version control; all of them where there is none."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True)
    if listed.returncode:
        return [path for path in ROOT.rglob("*") if path.is_file() and ".venv" not in path.parts]
    return [path for name in listed.stdout.split("\0") if name and (path := ROOT / name).is_file()]


def code() -> list[Path]:
    return [path for path in tracked() if path.suffix == ".py"]


def fresh(script: str) -> str:
    """What a new interpreter prints that has loaded nothing yet."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", script],
        cwd=ROOT / "src",
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


# ---- public names and floors


@pytest.mark.parametrize("room", PUBLIC)
def test_public_names_change_only_on_purpose(room: str) -> None:
    module = importlib.import_module(room)
    assert sorted(module.__all__) == sorted(PUBLIC[room].split())
    assert all(hasattr(module, name) for name in module.__all__)
    assert module.__doc__


def test_the_chronology_loads_numpy_and_no_other_library() -> None:
    script = (
        "import sys; from endbell.chronology import weigh; "
        "print(*sorted({name.partition('.')[0] for name in sys.modules} "
        "- set(sys.stdlib_module_names)))"
    )
    loaded = {name for name in fresh(script).split() if not name.startswith("_")}
    loaded -= set(fresh("import sys; print(*{n.partition('.')[0] for n in sys.modules})").split())
    assert loaded == {"endbell", "numpy"}


def test_a_dossier_is_weighed_without_any_library_but_numpy() -> None:
    refused = ("edtf", "openpyxl", "pydantic", "rich", "scipy", "tomlkit", "typer")
    script = f"""
import sys
for name in {refused!r}:
    sys.modules[name] = None  # importing it now fails
from datetime import date
from importlib import resources
from endbell.chronology import as_json, weigh
from endbell.dossier import parse_dossier
from endbell.reference import load_reference
reference, problems = load_reference(("brackwater",))
shelf = resources.files("endbell.cli") / "demo_dossiers"
text = (shelf / "f-worn-codes.toml").read_text(encoding="utf-8")
dossier = parse_dossier(text, lambda packs: reference, today=date(2026, 3, 12))
print(len(problems), as_json(weigh(dossier, reference))["build"]["mode_year"])
"""
    assert fresh(script) == "0 1967"


def test_help_waits_for_no_arrays() -> None:
    script = "import sys; import endbell.cli.app; print('numpy' in sys.modules)"
    assert fresh(script) == "False"


# ---- what is shipped


def test_every_data_file_is_shipped() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    told = project["tool"]["setuptools"]["package-data"]
    patterns = [
        f"{package.replace('.', '/')}/{pattern}"
        for package, patterns in told.items()
        for pattern in patterns
    ]
    data = [
        path.relative_to(ROOT / "src").as_posix()
        for path in tracked()
        if path.is_relative_to(PACKAGE) and path.suffix not in (".py", ".pyc")
    ]
    assert len(data) > 20
    left = [name for name in data if not any(fnmatch.fnmatch(name, p) for p in patterns)]
    assert left == []


def test_every_folder_of_code_is_a_package() -> None:
    folders = {path.parent for path in code() if path.is_relative_to(PACKAGE)}
    assert [folder for folder in folders if not (folder / "__init__.py").exists()] == []


def test_pins_are_exact_and_hold_what_the_package_asks_for() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    pins: dict[str, set[str]] = {}
    for file in (ROOT / "requirements").glob("*.txt"):
        rows = [line for line in file.read_text().splitlines() if line and line[0] != "#"]
        for row in rows:
            assert re.fullmatch(r"-r [a-z]+\.txt|[a-z0-9-]+==[0-9][0-9a-z.]*", row), row
        pins[file.stem] = {row.partition("==")[0] for row in rows}
    asked = {re.split("[<>=]", need)[0] for need in project["dependencies"]}
    assert asked <= pins["core"]
    extra = project["optional-dependencies"]
    asked = {re.split("[<>=]", need)[0] for need in (*extra["dev"], *extra["spreadsheet"])}
    assert asked <= pins["core"] | pins["bench"] | pins["web"] | pins["dev"]
    asked = {re.split("[<>=]", need)[0] for need in (*extra["web"], *extra["postgresql"])}
    assert asked <= pins["core"] | pins["bench"] | pins["web"]
    asked = {re.split("[<>=]", need)[0] for need in extra["reference"]}
    assert asked <= pins["dev"] | pins["long"]


# ---- what must not be in any file

# Spelt in pieces, so that this file does not hold them.
HOSTS = [
    ".".join(words)
    for words in (
        ("pypi", "org"),
        ("python" + "hosted", "org"),
        ("npmjs", "org"),
        ("npmjs", "com"),
        ("deb", "debian", "org"),
        ("crates", "io"),
    )
]
MACHINE = re.compile(r"(?<![\w./-])/(?:root|home|work|Users)/\w")


def texts() -> list[tuple[Path, str]]:
    out: list[tuple[Path, str]] = []
    for path in tracked():
        raw = path.read_bytes()
        if b"\0" not in raw:
            out.append((path.relative_to(ROOT), raw.decode("utf-8")))
    return out


def test_no_file_names_a_package_registry() -> None:
    found = [(str(path), host) for path, text in texts() for host in HOSTS if host in text]
    assert found == []


def test_no_file_holds_a_path_of_someones_machine() -> None:
    found = [(str(path), hit[0]) for path, text in texts() for hit in MACHINE.finditer(text)]
    assert found == []
    assert MACHINE.search("see " + "/" + "home/someone")


def test_no_file_of_the_package_has_more_than_400_lines() -> None:
    lengths = {
        str(path.relative_to(ROOT)): len(path.read_text(encoding="utf-8").splitlines())
        for path in code()
    }
    assert {name: n for name, n in lengths.items() if name.startswith("src") and n > 400} == {}


def test_text_files_end_their_lines_alike() -> None:
    found = [str(path) for path, text in texts() if "\r\n" in text and path.suffix != ".csv"]
    assert found == []


def test_warnings_are_errors() -> None:
    config = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert config["tool"]["pytest"]["ini_options"]["filterwarnings"][0] == "error"
