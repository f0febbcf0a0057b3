"""On what it was measured: versions, processor, load. No name of the machine or of anyone."""

from __future__ import annotations

import os
import platform
import subprocess
from importlib import metadata
from pathlib import Path

PACKAGES = ("numpy", "pgmpy", "edtf", "rich", "typer", "altair", "vl-convert-python")
ROOT = Path(__file__).resolve().parents[2]


def versions() -> str:
    """Endbell, Python and the libraries that matter here, those that are installed."""
    import endbell

    found = [f"Endbell {endbell.__version__} ({commit()})", f"Python {platform.python_version()}"]
    for name in PACKAGES:
        try:
            found.append(f"{name} {metadata.version(name)}")
        except metadata.PackageNotFoundError:
            found.append(f"{name} not installed")
    return ", ".join(found)


def commit() -> str:
    """The commit that was measured, and whether files of the package differed from it."""
    try:
        head = _git("rev-parse", "--short", "HEAD").strip()
        changed = _git("status", "--porcelain", "--", "src").strip()
    except (OSError, subprocess.CalledProcessError):
        return "no commit known"
    return f"commit {head}" + (", with changes not committed" if changed else "")


def processor() -> str:
    """Cores and kind of processor."""
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
        model = next(x.partition(":")[2].strip() for x in lines if x.startswith("model name"))
    except (OSError, StopIteration):
        model = platform.machine()
    return f"{os.cpu_count()} cores ({model}), {platform.system()} {platform.machine()}"


def load() -> str:
    """Load averages over 1, 5 and 15 minutes."""
    try:
        return ", ".join(f"{x:.1f}" for x in os.getloadavg())
    except OSError:
        return "not known here"


def _git(*words: str) -> str:
    done = subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True, check=True)
    return done.stdout
