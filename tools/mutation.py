"""Mutation testing by sample: change one thing in the code and see whether a test says so.

``python tools/mutation.py [--count 300] [--seed 1] [--workers 2]`` draws that many mutants, half of
them from endbell.marks and half from endbell.chronology, every possible change of a room equally
likely. Each is written into a copy of the repository, where the room's fast tests run until the
first failure. Writes benchmarks/results/mutation.md; status 1 if fewer than three in four are
caught.

What is changed: comparisons, arithmetic, and/or, not, numbers (plus one), True/False, conditions
(negated), break/continue, the value that is returned (None), augmented assignments. What is left
alone: texts, annotations, decorators, ``strict=`` of zip, and names and docstrings: a change there
is either said by the type checker or is no change of behaviour.

Every judgement is kept in mutants/judged.jsonl at once: a run that was stopped goes on where it
was, as long as neither the code nor the tests have changed.
"""

from __future__ import annotations

import argparse
import ast
import hashlib
import json
import os
import platform
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from queue import Queue
from threading import Lock

ROOT = Path(__file__).resolve().parents[1]
OUT = ROOT / "benchmarks" / "results" / "mutation.md"
KEPT = ROOT / "mutants" / "judged.jsonl"
BAR = 0.75
COPIED = ("src", "tests", "docs", "benchmarks", "tools", "pyproject.toml", "README.md", "Makefile")

SLOW = (
    "another_process",
    "keeps_next_to_nothing",
    "seen_other_amps",
    "other_assumptions_in_between",
    "edtf_library_reads_as",
    "every_code_that_could_be_read",
    "the_engine_says_what_the_slow_twin_says",
    "five_dated_parts_and_a_longer_history",
)
"""Tests that only repeat at length what quicker ones say."""

CHRONOLOGY = ROOT / "tests" / "chronology"
FIRST = ("contract_form", "sets", "next_checks", "what_can_not_all_be_right", "leaving_a_mark_out")


def _chronology_tests() -> tuple[str, ...]:
    """The files, twins of the code first: most changes are caught there soonest."""
    files = [*sorted((CHRONOLOGY / "twins").glob("test_*.py"))]
    files += [CHRONOLOGY / f"test_{name}.py" for name in FIRST]
    files += [f for f in sorted(CHRONOLOGY.glob("test_*.py")) if f not in files]
    return tuple(f.relative_to(ROOT).as_posix() for f in files)


TESTS: dict[str, tuple[str, ...]] = {
    "marks": ("tests/marks", "tests/published"),
    "chronology": (
        "src/endbell/chronology",
        *_chronology_tests(),
        "tests/oracle/test_by_hand.py",
        "tests/oracle/test_engine_equals_brute_force.py",
        "-k",
        f"not ({' or '.join(SLOW)})",
    ),
}

COMPARE: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.MatMult: ast.Mult,
}


@dataclass(frozen=True)
class Mutant:
    """One change: the file, the node's place in the order of the tree, which change of it."""

    room: str
    path: Path
    index: int
    line: int
    what: str


def changes(node: ast.AST) -> Iterator[str]:
    """The names of the changes that can be made to a node."""
    if isinstance(node, ast.Compare) and type(node.ops[0]) in COMPARE:
        yield f"{type(node.ops[0]).__name__} -> {COMPARE[type(node.ops[0])].__name__}"
    if isinstance(node, (ast.BinOp, ast.AugAssign)) and type(node.op) in ARITHMETIC:
        yield f"{type(node.op).__name__} -> {ARITHMETIC[type(node.op)].__name__}"
    if isinstance(node, ast.BoolOp):
        yield "Or -> And" if isinstance(node.op, ast.Or) else "And -> Or"
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.Not, ast.USub)):
        yield f"{type(node.op).__name__} dropped"
    if isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield f"{node.value} -> {not node.value}"
    elif isinstance(node, ast.Constant) and isinstance(node.value, (int, float)):
        yield f"{node.value} -> {node.value + 1}"
    if isinstance(node, (ast.If, ast.IfExp, ast.While)):
        yield "condition negated"
    if isinstance(node, (ast.Break, ast.Continue)):
        yield "Break <-> Continue"
    if isinstance(node, ast.Return) and node.value is not None and not is_none(node.value):
        yield "returns None"


def is_none(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def apply(node: ast.AST, what: str) -> ast.AST:
    """A node with one change made."""
    if what == "condition negated":
        assert isinstance(node, (ast.If, ast.IfExp, ast.While))
        node.test = ast.UnaryOp(ast.Not(), node.test)
    elif what == "returns None":
        assert isinstance(node, ast.Return)
        node.value = ast.Constant(None)
    elif what == "Break <-> Continue":
        return ast.Continue() if isinstance(node, ast.Break) else ast.Break()
    elif isinstance(node, ast.Compare):
        node.ops[0] = COMPARE[type(node.ops[0])]()
    elif isinstance(node, (ast.BinOp, ast.AugAssign)):
        node.op = ARITHMETIC[type(node.op)]()
    elif isinstance(node, ast.BoolOp):
        node.op = ast.And() if isinstance(node.op, ast.Or) else ast.Or()
    elif isinstance(node, ast.UnaryOp):
        return node.operand
    elif isinstance(node, ast.Constant):
        old = node.value
        assert isinstance(old, (bool, int, float))
        node.value = (not old) if isinstance(old, bool) else old + 1
    return node


def left_alone(tree: ast.AST) -> set[int]:
    """Nodes in annotations, decorators, ``strict=`` and version checks, by identity."""
    out: set[int] = set()

    def leave(node: ast.AST | None) -> None:
        if node is not None:
            out.update(id(n) for n in ast.walk(node))

    for node in ast.walk(tree):
        if isinstance(node, (ast.arg, ast.AnnAssign)):
            leave(node.annotation)
        elif isinstance(node, (ast.FunctionDef, ast.ClassDef)):
            for decorator in node.decorator_list:
                leave(decorator)
            leave(node.returns if isinstance(node, ast.FunctionDef) else None)
        elif isinstance(node, ast.keyword) and node.arg in ("strict", "stacklevel"):
            leave(node)
        elif isinstance(node, ast.Assign) and isinstance(node.value, ast.Subscript):
            leave(node.value)  # a name for a type
        elif isinstance(node, ast.Assert):
            leave(node)
    return out


def mutants_of(room: str, path: Path) -> list[Mutant]:
    """Every change that could be made to a file."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    skipped = left_alone(tree)
    return [
        Mutant(room, path.relative_to(ROOT), i, getattr(node, "lineno", 0), what)
        for i, node in enumerate(ast.walk(tree))
        if id(node) not in skipped
        for what in changes(node)
    ]


class Replace(ast.NodeTransformer):
    """Puts a changed node in place of one node."""

    def __init__(self, target: ast.AST, what: str) -> None:
        self.target = target
        self.what = what

    def visit(self, node: ast.AST) -> ast.AST:
        if node is self.target:
            return apply(node, self.what)
        return self.generic_visit(node)


def text_of(mutant: Mutant, source: str) -> str:
    """The source of the mutant's file with the change made."""
    tree = ast.parse(source)
    target = next(node for i, node in enumerate(ast.walk(tree)) if i == mutant.index)
    return ast.unparse(ast.fix_missing_locations(Replace(target, mutant.what).visit(tree)))


def run_tests(folder: Path, room: str, limit: float) -> str:
    """'caught', 'slow' (caught by running too long) or 'survived'."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "--tb=no", "-p", "no:cacheprovider"]
    command += TESTS[room]
    env = {**os.environ, "PYTHONPATH": str(folder / "src"), "PYTHONDONTWRITEBYTECODE": "1"}
    process = subprocess.Popen(
        command,
        cwd=folder,
        env=env,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        return "survived" if process.wait(limit) == 0 else "caught"
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        return "slow"


def copied(parent: str, name: str) -> Path:
    """A copy of what the tests need."""
    folder = Path(parent) / name
    folder.mkdir()
    for item in COPIED:
        source = ROOT / item
        if source.is_dir():
            shutil.copytree(source, folder / item, ignore=shutil.ignore_patterns("__pycache__"))
        elif source.exists():
            shutil.copy(source, folder / item)
    return folder


def state() -> str:
    """A digest of the code and the tests that judgements hold for."""
    digest = hashlib.sha256()
    for folder in ("src/endbell", "tests"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            digest.update(path.read_bytes())
    return digest.hexdigest()


def kept(now: str) -> dict[str, str]:
    """Judgements of an earlier run of the same state, by mutant."""
    if not KEPT.exists():
        return {}
    lines = KEPT.read_text(encoding="utf-8").splitlines()
    rows = [json.loads(line) for line in lines if line.endswith("}")]  # the last may be cut off
    return {row["mutant"]: row["verdict"] for row in rows if row["state"] == now}


def name_of(mutant: Mutant) -> str:
    return f"{mutant.path.as_posix()} {mutant.index} {mutant.what}"


def page(results: list[tuple[Mutant, str]], possible: dict[str, int], command: str) -> str:
    """The result as a page, survivors by file."""
    rows: list[str] = []
    for room in TESTS:
        mine = [r for m, r in results if m.room == room]
        caught = sum(r != "survived" for r in mine)
        share = f"{100 * caught / len(mine):.0f}%" if mine else ""
        slow = sum(r == "slow" for r in mine)
        rows.append(
            f"| {room} | {possible[room]:,} | {len(mine)} | {caught} | {slow} "
            f"| {len(mine) - caught} | {share} |"
        )
    caught = sum(r != "survived" for _, r in results)
    rows.append(
        f"| both | {sum(possible.values()):,} | {len(results)} | {caught} | "
        f"{sum(r == 'slow' for _, r in results)} | {len(results) - caught} | "
        f"{100 * caught / max(len(results), 1):.0f}% |"
    )
    left = [
        f"| `{m.path.as_posix().removeprefix('src/endbell/')}` | {m.line} | {m.what} |"
        for m, r in sorted(results, key=lambda x: (x[0].path, x[0].line))
        if r == "survived"
    ]
    return "\n".join(
        [
            "# Mutation testing",
            "",
            f"Command: `{command}`. pytest {version('pytest')}, numpy {version('numpy')}, Python "
            f"{platform.python_version()}, {platform.system()} {platform.machine()}.",
            "",
            "A sample: mutants drawn from all that tools/mutation.py can make, half from each",
            "room, with the seed above. Tests run: tests/marks and tests/published for marks; for",
            "chronology the doctests, tests/chronology and tests/oracle but its two long runs, and",
            "not the few that repeat at length. 'Too long' ones ran over their limit and count",
            "as caught. The bar is three in four.",
            "",
            "| room | possible | drawn | caught | of these too long | survived | share caught |",
            "| --- | ---: | ---: | ---: | ---: | ---: | ---: |",
            *rows,
            "",
            "## Survivors",
            "",
            "| file | line | change |",
            "| --- | ---: | --- |",
            *left,
            "",
        ]
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    asked = parser.parse_args()
    possible = {
        room: [
            m
            for path in sorted((ROOT / "src" / "endbell" / room).glob("*.py"))
            for m in mutants_of(room, path)
        ]
        for room in TESTS
    }
    chance = random.Random(asked.seed)
    half = asked.count // len(TESTS)
    drawn = [
        m for room in TESTS for m in chance.sample(possible[room], min(half, len(possible[room])))
    ]
    now, writing = state(), Lock()
    known = kept(now)
    KEPT.parent.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as parent:
        folders: Queue[Path] = Queue()
        for i in range(asked.workers):
            folders.put(copied(parent, f"copy-{i}"))
        limits: dict[str, float] = {}
        for room in [
            r for r in TESTS if any(name_of(m) not in known for m in drawn if m.room == r)
        ]:
            first = folders.get()
            start = time.monotonic()
            if run_tests(first, room, 1800) == "survived":
                limits[room] = 60 + 4 * (time.monotonic() - start)
            folders.put(first)
            if room not in limits:
                print(f"the tests of {room} fail without any change", file=sys.stderr)
                return 2
            print(f"{room}: {time.monotonic() - start:.0f} s without a change", flush=True)

        def judge(mutant: Mutant) -> tuple[Mutant, str]:
            if name_of(mutant) in known:
                return mutant, known[name_of(mutant)]
            folder = folders.get()
            target = folder / mutant.path
            before = target.read_text(encoding="utf-8")
            try:
                target.write_text(text_of(mutant, before), encoding="utf-8")
                verdict = run_tests(folder, mutant.room, limits[mutant.room])
            finally:
                target.write_text(before, encoding="utf-8")
                folders.put(folder)
            print(f"{verdict:9}{mutant.path}:{mutant.line} {mutant.what}", flush=True)
            row = {"state": now, "mutant": name_of(mutant), "verdict": verdict}
            with writing, KEPT.open("a", encoding="utf-8") as file:
                file.write(json.dumps(row) + "\n")
            return mutant, verdict

        with ThreadPoolExecutor(asked.workers) as pool:
            results = list(pool.map(judge, drawn))
    command = (
        f"python tools/mutation.py --count {asked.count} --seed {asked.seed} "
        f"--workers {asked.workers}"
    )
    counts = {room: len(found) for room, found in possible.items()}
    OUT.parent.mkdir(parents=True, exist_ok=True)
    OUT.write_text(page(results, counts, command), encoding="utf-8")
    return int(sum(r != "survived" for _, r in results) < BAR * len(results))


if __name__ == "__main__":
    raise SystemExit(main())
