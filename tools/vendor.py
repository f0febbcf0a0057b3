"""Fetches what browsers get that is not ours, as ``web/static/vendor/vendor.toml`` lists it.

``python tools/vendor.py`` gets every package (``npm pack``), writes the listed files and refuses
one whose SHA-256 is another; ``--check`` only compares what is there, without a network.
"""

from __future__ import annotations

import hashlib
import subprocess
import sys
import tarfile
import tempfile
import tomllib
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parents[1] / "src" / "endbell" / "web" / "static" / "vendor"
LIST = FOLDER / "vendor.toml"


def packages() -> list[dict[str, Any]]:
    """The list: name, version, licence and files of each package."""
    return tomllib.loads(LIST.read_text(encoding="utf-8"))["package"]


def faults() -> list[str]:
    """What is not as the list says: a file missing, altered, or not listed."""
    found: list[str] = []
    listed = {LIST.name}
    for package in packages():
        for file in package["file"]:
            listed.add(file["as"])
            path = FOLDER / file["as"]
            if not path.is_file():
                found.append(f"{file['as']} is missing")
            elif hashlib.sha256(path.read_bytes()).hexdigest() != file["sha256"]:
                found.append(f"{file['as']} is not the file of {package['name']}")
    there = (path.name for path in FOLDER.iterdir())
    return found + [f"{name} is not listed" for name in there if name not in listed]


def fetch(package: dict[str, Any]) -> None:
    """Get one package and write its listed files; SystemExit where one has another SHA-256."""
    with tempfile.TemporaryDirectory() as folder:
        told = ["npm", "pack", "--silent", f"{package['name']}@{package['version']}"]
        done = subprocess.run(told, cwd=folder, capture_output=True, text=True, check=True)
        with tarfile.open(Path(folder) / done.stdout.strip().splitlines()[-1]) as packed:
            for file in package["file"]:
                member = packed.extractfile(f"package/{file['from']}")
                raw = member.read() if member else b""
                if hashlib.sha256(raw).hexdigest() != file["sha256"]:
                    raise SystemExit(f"{package['name']}: {file['from']} is another file now")
                (FOLDER / file["as"]).write_bytes(raw)


if __name__ == "__main__":
    if "--check" not in sys.argv[1:]:
        for each in packages():
            fetch(each)
    if said := faults():
        raise SystemExit("\n".join(said))
    print(f"{len(packages())} packages as listed")
