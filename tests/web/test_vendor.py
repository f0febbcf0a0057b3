"""What browsers get that is not ours is what the list says, and may be given away."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

from endbell.web.assets import shipped

ROOT = Path(__file__).parents[2]
spec = importlib.util.spec_from_file_location("vendor", ROOT / "tools" / "vendor.py")
assert spec is not None and spec.loader is not None
vendor = importlib.util.module_from_spec(spec)
spec.loader.exec_module(vendor)


def test_what_browsers_get_is_what_the_list_says() -> None:
    assert vendor.faults() == []
    assert len(vendor.packages()) >= 5


def test_every_package_has_its_licence_beside_it() -> None:
    for package in vendor.packages():
        assert package["licence"] in ("0BSD", "BSD-3-Clause", "MIT")
        assert [file for file in package["file"] if file["as"].endswith("LICENSE.txt")]


def test_every_asset_that_a_template_names_is_there() -> None:
    folder = ROOT / "src" / "endbell" / "web" / "templates"
    named = {
        name
        for path in folder.rglob("*.html")
        for name in re.findall(r"asset\([\"']([^\"']+)[\"']\)", path.read_text(encoding="utf-8"))
    }
    assert len(named) > 3
    assert sorted(named - set(shipped().names())) == []
