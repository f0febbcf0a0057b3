"""The guide to packs names every table and every key that there is."""

import re
from pathlib import Path

import pytest

from endbell.reference.combine import ALWAYS
from endbell.reference.files import FORMAT, HEAD_KEYS
from endbell.reference.validate import FORMS, SCHEMA

DOCS = Path(__file__).parents[2] / "docs"


@pytest.fixture(scope="module")
def sections() -> dict[str, str]:
    """The text of every section of the guide, by the tables named in its heading."""
    found: dict[str, str] = {}
    for part in re.split(r"^#{2,3} ", (DOCS / "packs.md").read_text("utf-8"), flags=re.MULTILINE)[
        1:
    ]:
        heading, _, text = part.partition("\n")
        for table in re.findall(r"`(\w+)`", heading):
            found[table] = text
    return found


@pytest.mark.parametrize("table", sorted(FORMS))
def test_every_table_has_a_section_that_names_all_its_keys(sections, table: str) -> None:
    text = sections[table]
    common = {"source", "confidence", "how", "note"}
    for name, info in FORMS[table].model_fields.items():
        key = info.alias or name
        if key in common or name.startswith("seen_"):
            continue
        assert f"`{key}`" in text, key


def test_the_head_and_the_format_are_described() -> None:
    guide = (DOCS / "packs.md").read_text("utf-8")
    form = (DOCS / "formats" / "pack.md").read_text("utf-8")
    for key in HEAD_KEYS:
        assert f"`{key}`" in guide
    assert FORMAT in guide
    assert FORMAT in form
    assert SCHEMA.name in form
    assert all(f"`{pack}`" in guide for pack in ALWAYS)
