"""The page on calibration: what was drawn, what was found, what is met and what is not.

Made from an ``endbell-calibration/1`` alone and never by hand: the same form gives the same page.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from textwrap import fill
from typing import Any

from .calibration_pictures import KIND_TITLES, PICTURES, pack_title

WIDTH = 110
LEVELS = ("0.50", "0.80", "0.95")
MENDED = ("coverage", "log_score", "names_year")
Form = Mapping[str, Any]


def calibration_page(form: Form, pictures: str | None = "pictures") -> str:
    """Markdown. ``pictures``: the folder of the pictures as seen from the page, None for none."""
    parts = [
        _opening(form),
        _bars(form),
        _missing(form),
        _sets(form),
        _ranks(form),
        _reliability(form),
        _worlds(form),
        _rules(form),
        _packs(form),
    ]
    if pictures is not None:
        for at, name in ((3, "coverage"), (4, "ranks"), (5, "reliability")):
            file = f"calibration-{name}"
            parts[at] += f"\n![{PICTURES[file]}]({pictures}/{file}.svg)\n"
    return "\n".join(parts)


def _opening(form: Form) -> str:
    met = [bar["met"] for bar in form["bars"]]
    unjudged = met.count(None)
    first = """
        A verdict that says 95% should be right 95 times in 100. Whether it is can be tried:
        dossiers are drawn from the model of [model.md](model.md) by a simulator that shares no code
        with the engine, then weighed without the truth, and the truth is looked up."""
    made = """
        This page is made by the command below and never by hand; its figures are in
        [calibration.json](calibration.json), whose form is described in
        [formats/calibration.md](formats/calibration.md)."""
    said = f"""
        Endbell {form["endbell"]}, seed {form["seed"]}, {_dossiers(form)} for each world and
        set of packs, every dossier as of {form["as_of"]}. **{met.count(True)} of {len(met)} bars
        are met, {met.count(False)} missed{f", {unjudged} can not be judged" if unjudged else ""}.**
        """
    command = f"```sh\n{form['command']}\n```\n"
    pieces = ["# How well it is calibrated\n", _prose(first), _prose(made), command, _prose(said)]
    return "\n".join(pieces)


def _dossiers(form: Form) -> str:
    stated = {run["n"] + run["failed"] for run in form["runs"].values()} - {form["n"]}
    more = f" ({max(stated):,} in the world as stated)" if stated else ""
    return f"{form['n']:,} dossiers{more}"


def _prose(text: str) -> str:
    """A paragraph in lines of one width."""
    return (
        fill(" ".join(text.split()), WIDTH, break_long_words=False, break_on_hyphens=False) + "\n"
    )


def _bars(form: Form) -> str:
    rows = [
        (_run(form, bar), bar["what"], _figure(bar), bar["wanted"], _verdict(bar))
        for bar in form["bars"]
    ]
    return "## Every bar\n\n" + _table(("world", "bar", "figure", "wanted", ""), rows, {2})


def _missing(form: Form) -> str:
    missed = [bar for bar in form["bars"] if bar["met"] is False]
    lines = ["## What falls short, and what would mend it", ""]
    if not missed:
        lines.append("Nothing: every bar that could be judged is met.")
    for bar in missed:
        figure = _figure(bar)
        why = f" ({bar['why']})" if bar["why"] else ""
        lines.append(
            f"- **{_run(form, bar)}**: {bar['what']}: {figure}, wanted {bar['wanted']}{why}."
        )
    mends = form["mends"]
    if mends:
        lines += [
            "",
            "Tried on the first dossiers of each world, the engine given another assumption:",
            "",
        ]
        rows = [
            (
                _run(form, mend),
                mend["words"],
                f"{mend['n']:,}",
                *(f"{mend[key][k]:.3f}" for key in MENDED for k in (0, 1)),
            )
            for mend in mends
        ]
        heads = (
            *("world", "assumption", "dossiers", "95% sets hold", "then"),
            *("log score", "then", "names the year", "then"),
        )
        lines.append(_table(heads, rows, set(range(2, 9))))
    return "\n".join(lines) + ("" if lines[-1].endswith("\n") else "\n")


def _sets(form: Form) -> str:
    rows = [
        (
            _name(run),
            f"{float(level):.0%}",
            f"{run['sets'][level]['stated']:.4f}",
            f"{run['sets'][level]['hit']:.4f}",
            f"{run['sets'][level]['se']:.4f}",
            f"{run['sets'][level]['z']:+.1f}",
            f"{run['sets'][level]['weeks']:.0f}",
        )
        for run in form["runs"].values()
        for level in LEVELS
    ]
    heads = ("world", "set", "stated mass", "holds the truth", "s.e.", "z", "mean weeks")
    said = """
        A set of whole weeks holds a little more than its level: each is held to the mass it states.
        The standard error is that of sets which hold just what they state; `z` is the difference in
        standard errors."""
    return "## Sets\n\n" + _prose(said) + "\n" + _table(heads, rows, {2, 3, 4, 5, 6})


def _ranks(form: Form) -> str:
    rows = [
        (
            _name(run),
            "yes" if run["rank"]["inside"] else "no",
            _p(run["rank"]["p_value"]),
            f"{run['rank']['held']:.4f}",
        )
        for run in form["runs"].values()
    ]
    heads = ("world", "inside the 99% band", "p", "chance of keeping the band")
    said = """
        The place of the true week in its posterior (ties spread at random) is uniform where the
        engine is right (Talts, Betancourt, Simpson, Vehtari, Gelman 2018). Judged by the difference
        of the empirical distribution from the diagonal, with a band that keeps all of it at once
        with a chance of 99% (Säilynoja, Bürkner, Vehtari 2022, worked out exactly); `p` is the
        chance of going at least as far out. Worlds that are not as stated should leave the band: it
        shows what the test can see."""
    return "## Ranks\n\n" + _prose(said) + "\n" + _table(heads, rows, {2, 3})


def _reliability(form: Form) -> str:
    rows: list[tuple[str, ...]] = []
    for run in form["runs"].values():
        if run["scenario"] != "as-stated":
            continue
        for kind, title in KIND_TITLES.items():
            r, d = run["reliability"][kind], run["doubtful"][kind]
            if not r["n"]:
                continue
            rows.append(
                (
                    _name(run),
                    title,
                    f"{r['n']:,}",
                    _number(r["base_rate"], 3),
                    _number(r["ece"], 4),
                    _number(r["ece_if_right"], 4),
                    f"{d['n']:,}",
                    _number(d["ece"], 4),
                    _number(d["ece_if_right"], 4),
                    _number(r["brier"], 4),
                    _number(r["skill"], 2),
                    _number(r["skill_if_right"], 2),
                    _number(r["z"], 1),
                )
            )
    heads = (
        "world",
        "what is stated",
        "n",
        "base rate",
        "ECE",
        "by chance",
        "doubtful",
        "ECE",
        "by chance",
        "Brier",
        "skill",
        "if right",
        "z",
    )
    said = """
        ECE is the expected calibration error by 20 bins of equal width; *by chance*: its mean for
        statements that are exactly right. *Doubtful* ones were stated between 0.05 and 0.95 (the 18
        bins in the middle). Skill is that of the Brier score over stating the base rate each time;
        *if right*: the skill to be expected of statements that are exactly right about these
        dossiers, which is all that their marks tell; `z`: whether more came true than stated, in
        standard errors over dossiers."""
    return "## Reliability\n\n" + _prose(said) + "\n" + _table(heads, rows, set(range(2, 13)))


def _worlds(form: Form) -> str:
    worlds = {run["title"]: run["words"] for run in form["runs"].values()}
    said = "The engine always weighs with the packs' values; only the drawing differs."
    table = _table(("world", "how dossiers are drawn"), worlds.items())
    return "## The worlds\n\n" + _prose(said) + "\n" + table


def _rules(form: Form) -> str:
    rows: list[tuple[str, ...]] = []
    for run in form["runs"].values():
        scores = run["scores"]
        latest, median = scores["rules"]["latest"], scores["rules"]["median"]
        rows.append(
            (
                _name(run),
                f"{scores['week']:.3f}",
                f"{scores['year']:.3f}",
                f"{latest['log_score']:.3f}",
                f"{median['log_score']:.3f}",
                *(f"{_signed(r['gain'])} ± {r['gain_se']:.3f}" for r in (latest, median)),
                *(f"{_signed(r['told_gain'])} ± {r['told_gain_se']:.3f}" for r in (latest, median)),
                f"{scores['names_year']:.3f}",
                f"{latest['names_year']:.3f}",
                f"{median['names_year']:.3f}",
            )
        )
    heads = (
        "world",
        "week",
        "year",
        "latest code",
        "median",
        "gain over latest",
        "over median",
        "told: over latest",
        "over median",
        "names the year",
        "latest",
        "median",
    )
    said = """
        A person without a model would say: *the latest code decides*, or take *the median of the
        codes*. Both rules pass over known replacements and classes that are mostly replaced, settle
        an open decade by the codes with two year digits, else by the years in which most such amps
        were made, and read a worn code as its likeliest reading. A rule names a year only; its
        distribution is made of its own errors in dossiers as stated (in that world itself: the
        other half of the dossiers), smoothed and mixed with the years of production in the
        proportion that served best. *Told*: the rule knows its errors in this very world, which
        nobody told the engine. Scores are the mean natural logarithm of what stood on the true week
        or year (higher is better), gains with their standard error."""
    return (
        "## Against two plain rules\n\n"
        + _prose(said)
        + "\n"
        + _table(heads, rows, set(range(1, 12)))
    )


def _packs(form: Form) -> str:
    rows = [
        (pack_title([] if name == "none" else name.split(",")), pack, p["version"], p["sha256"])
        for name, several in form["packs"].items()
        for pack, p in several.items()
    ]
    return "## Packs\n\n" + _table(("set", "pack", "version", "sha256"), rows)


def _run(form: Form, row: Form) -> str:
    return _name(form["runs"][row["run"]])


def _name(run: Form) -> str:
    return f"{pack_title(run['packs'])}: {run['title']}"


def _figure(bar: Form) -> str:
    if bar["figure"] is None:
        return "–"
    return _p(bar["figure"]) if "p of the" in bar["what"] else f"{bar['figure']:.4f}"


def _verdict(bar: Form) -> str:
    if bar["met"] is None:
        return f"not judged: {bar['why']}"
    return "met" if bar["met"] else "**missed**"


def _p(p: float) -> str:
    return f"{p:.3f}" if p >= 0.001 else ("< 0.001" if p < 1e-9 else f"{p:.1e}")


def _number(value: float | None, digits: int) -> str:
    return "–" if value is None else f"{value:.{digits}f}"


def _signed(value: float | None) -> str:
    return "–" if value is None else f"{value:+.3f}"


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]], right: Iterable[int] = ()) -> str:
    numbers = set(right)
    lines = ["| " + " | ".join(heads) + " |"]
    lines.append(
        "|" + "|".join(" ---: " if n in numbers else " --- " for n in range(len(heads))) + "|"
    )
    lines += ["| " + " | ".join(row) + " |" for row in rows]
    return "\n".join(lines) + "\n"
