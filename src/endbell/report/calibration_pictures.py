"""How well the engine is calibrated, drawn: Vega-Lite specs and the same as SVG.

Needs the libraries of the ``documents`` extra; figures and tables need none of them.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

PICTURES = {
    "calibration-ranks": "Where the true week stands in its posterior, against an even spread",
    "calibration-reliability": "What was stated against what was so",
    "calibration-coverage": "How often the sets hold the true week, world by world",
}
"""Name of each picture -> what it shows."""

INK, SOFT, BAND, LINE = "#1c1b19", "#59544d", "#d9d2c3", "#0a558c"
FONT = "Noto Sans, Liberation Sans, DejaVu Sans, sans-serif"
KIND_TITLES = {
    "original": "original",
    "later": "later replacement",
    "period": "period replacement",
    "married": "married assembly",
    "claim": "claim",
    "model": "model",
}


class PicturesNotPossible(RuntimeError):
    """The libraries that draw are not installed; ``str()`` says which."""


def pictures(form: Mapping[str, Any]) -> dict[str, str]:
    """File name -> text, two a picture: ``NAME.vl.json`` (Vega-Lite) and ``NAME.svg``.

    ``form``: an ``endbell-calibration/1``.  Raises :class:`PicturesNotPossible`.
    """
    try:
        import altair
        import vl_convert
    except ImportError as error:
        raise PicturesNotPossible(
            f"the pictures need the package '{error.name}' (the extra 'documents')"
        ) from None
    makers = (_ranks, _reliability, _coverage)
    out: dict[str, str] = {}
    for (name, words), make in zip(PICTURES.items(), makers, strict=True):
        chart = make(altair, form).properties(
            description=words, config=altair.Config(**_config(altair))
        )
        spec = chart.to_dict()
        out[f"{name}.vl.json"] = json.dumps(spec, ensure_ascii=False, indent=1) + "\n"
        out[f"{name}.svg"] = _svg(vl_convert, spec)
    return out


def _svg(vl_convert: Any, spec: Mapping[str, Any]) -> str:
    text = str(vl_convert.vegalite_to_svg(spec)).strip() + "\n"
    # a picture on white paper is read in the dark as well
    start = text.index(">") + 1
    return text[:start] + '<rect width="100%" height="100%" fill="#fdfcf9"/>' + text[start:]


def _config(alt: Any) -> dict[str, Any]:
    return {
        "font": FONT,
        "background": "transparent",
        "axis": alt.AxisConfig(
            labelColor=INK, titleColor=INK, gridColor="#eae5da", labelFontSize=12, titleFontSize=12
        ),
        "header": alt.HeaderConfig(
            labelColor=INK, titleColor=SOFT, labelFontSize=13, labelFontWeight="bold"
        ),
        "legend": alt.LegendConfig(labelColor=INK, titleColor=SOFT, labelFontSize=12),
        "view": alt.ViewConfig(stroke="#d3cdc2"),
    }


def pack_title(packs: list[str]) -> str:
    """'no maker's pack', 'brackwater'."""
    return ", ".join(packs) or "no maker's pack"


def _packs(form: Mapping[str, Any]) -> list[str]:
    """The sets of packs in their order."""
    return list(dict.fromkeys(pack_title(run["packs"]) for run in form["runs"].values()))


def _ranks(alt: Any, form: Mapping[str, Any]) -> Any:
    rows = [
        {"pack": pack_title(run["packs"]), "z": z, "d": d, "low": low, "high": high}
        for run in form["runs"].values()
        if run["scenario"] == "as-stated"
        for z, d, low, high in zip(
            *(run["rank"]["curve"][k] for k in ("z", "difference", "lower", "upper")), strict=True
        )
    ]
    x = alt.X("z:Q", title="place of the true week in its posterior", scale={"domain": [0, 1]})
    base = alt.Chart().encode(x=x)
    band = base.mark_area(color=BAND, opacity=0.8).encode(
        y=alt.Y("low:Q", title="share of dossiers below, less the place"), y2="high:Q"
    )
    line = base.mark_line(color=LINE, strokeWidth=1.6).encode(y="d:Q")
    layers = alt.layer(band, line, data=alt.Data(values=rows)).properties(width=330, height=230)
    return layers.facet(column=alt.Column("pack:N", title=None, sort=_packs(form)))


def _reliability(alt: Any, form: Mapping[str, Any]) -> Any:
    rows = [
        {
            "pack": pack_title(run["packs"]),
            "of": title,
            "stated": b["stated"],
            "true": b["true"],
            "n": b["n"],
            "low": max(0.0, b["true"] - 2 * _se(b)),
            "high": min(1.0, b["true"] + 2 * _se(b)),
        }
        for run in form["runs"].values()
        if run["scenario"] == "as-stated"
        for kind, title in KIND_TITLES.items()
        for b in run["reliability"][kind]["curve"]
    ]
    diagonal = (
        alt.Chart()
        .mark_rule(color=SOFT, strokeDash=[4, 3])
        .encode(x=alt.datum(0), y=alt.datum(0), x2=alt.datum(1), y2=alt.datum(1))
    )
    unit = {"domain": [0, 1]}
    base = alt.Chart().encode(x=alt.X("stated:Q", title="stated", scale=unit))
    bars = base.mark_rule(color=LINE, opacity=0.5).encode(
        y=alt.Y("low:Q", title="so, with two standard errors", scale=unit), y2="high:Q"
    )
    line = base.mark_line(color=LINE, strokeWidth=1).encode(y="true:Q")
    dots = base.mark_circle(color=LINE, opacity=1).encode(
        y="true:Q",
        size=alt.Size(
            "n:Q", title="statements", scale={"type": "sqrt", "range": [8, 160]}, legend=None
        ),
    )

    def one(pack: str) -> Any:
        # a row of its own: a grid would set what follows a missing cell under another's title
        values = alt.Data(values=[row for row in rows if row["pack"] == pack])
        return (
            alt.layer(diagonal, bars, line, dots)
            .properties(width=150, height=150)
            .facet(
                column=alt.Column("of:N", title=None, sort=list(KIND_TITLES.values())),
                data=values,
                title=pack,
            )
        )

    return alt.vconcat(*(one(pack) for pack in _packs(form)))


def _se(b: Mapping[str, Any]) -> float:
    p = min(max(b["stated"], 1e-9), 1 - 1e-9)
    return (p * (1 - p) / b["n"]) ** 0.5


def _coverage(alt: Any, form: Mapping[str, Any]) -> Any:
    rows = [
        {
            "pack": pack_title(run["packs"]),
            "world": run["title"],
            "set": f"{float(level):.0%}",
            "hit": found["hit"],
            "stated": found["stated"],
        }
        for run in form["runs"].values()
        for level, found in run["sets"].items()
    ]
    worlds = list(dict.fromkeys(row["world"] for row in rows))
    colour = alt.Color(
        "set:N",
        title="set",
        scale={"domain": ["50%", "80%", "95%"], "range": ["#b5651d", "#4f7942", LINE]},
    )
    base = alt.Chart().encode(y=alt.Y("world:N", title=None, sort=worlds), color=colour)
    scale = {"domain": [0, 1]}
    stated = base.mark_tick(thickness=2, height=16).encode(
        x=alt.X("stated:Q", title="share of dossiers (dot) and stated mass (line)", scale=scale)
    )
    hit = base.mark_circle(size=70, opacity=1).encode(x="hit:Q", shape="set:N")
    layers = alt.layer(stated, hit, data=alt.Data(values=rows)).properties(
        width=330, height=24 * max(len(worlds), 1)
    )
    return layers.facet(column=alt.Column("pack:N", title=None, sort=_packs(form)))
