"""A shop's pack made for one test."""

from pathlib import Path

SAID = 'source = "shop records"\nconfidence = "shop records"\n'


def write_pack(folder: Path, rows: str = "", *, builds_on: str = "[]", **files: str) -> Path:
    """A pack in ``folder``; ``rows`` go into pack.toml, ``name_csv="..."`` into name.csv."""
    folder.mkdir(parents=True)
    head = (
        f'format = "endbell-pack/1"\nid = "{folder.name}"\nversion = "3"\ntitle = "A shop"\n'
        f"builds_on = {builds_on}\n"
    )
    (folder / "pack.toml").write_text(head + rows, "utf-8")
    for name, text in files.items():
        stem, _, suffix = name.rpartition("_")
        (folder / f"{stem}.{suffix}").write_text(text, "utf-8")
    return folder
