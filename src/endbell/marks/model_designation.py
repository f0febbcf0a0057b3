"""Model designations of loudspeakers: size, power and magnet packed into a name."""

from __future__ import annotations

import re
from functools import lru_cache
from itertools import product
from math import prod

from .errors import TableError, TextError
from .outcome import misfit, settled, shown
from .tables import DesignationScheme, Tables
from .text import Cell, cut
from .types import MarkReading, Reading, Seen, Span

KIND = "model-designation"
WORDS = "a loudspeaker's model name, whose letters carry size, power and magnet"

_ALNUM = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_MOST_NAMES = 2000
_GROUPS = ("magnet", "size", "power")


def read(seen: Seen, tables: Tables) -> MarkReading:
    """Read a designation by the schemes of ``seen.schemes`` (or all, if none of those is one).

    ``dating`` is 'value': the designation in capitals without separators, with the size, the rank
    of its power (1 = weakest) and the magnet as facts.  Where unreadable characters leave several
    designations open they are all listed and the mark says 'nothing'.

    >>> from endbell.marks.tables import CodeGrammar, LetterDates
    >>> scheme = DesignationScheme(
    ...     "demo",
    ...     r"(?P<magnet>[PC])(?P<size>\\d\\d)(?P<power>[NQR])",
    ...     {"P": "alnico"},
    ...     {"12": "12 in"},
    ...     "RQN",
    ...     rising=True,
    ... )
    >>> grammar = CodeGrammar((), choice_slack=0.02, lost_ratio=0.5, stray_end=0.1, separators=" -")
    >>> tables = Tables({}, {}, grammar, LetterDates({}, {}), designations=(scheme,))
    >>> reading = read(Seen(KIND, "p12-q"), tables)
    >>> reading.value, dict(reading.readings[0].facts)["power-rank"]
    ('P12Q', '2')
    """
    early = settled(seen)
    if early:
        return early
    chosen = [s for s in tables.designations if s.id in seen.schemes]
    schemes = chosen or list(tables.designations)
    if not schemes:
        return misfit(seen, "no designations known", "a pack with this maker's model names")
    try:
        cut_text = cut(seen.text, tables.grammar.separators)
    except TextError as error:
        return misfit(seen, error.found, error.accepted)
    cells = cut_text.cells
    names = prod(len(cell.chars or _ALNUM) for cell in cells)
    accepted = "; ".join(_scheme_words(scheme) for scheme in schemes)
    if cut_text.lost_before or cut_text.lost_after or names > _MOST_NAMES or not cells:
        return misfit(seen, f"too little of the name in {shown(seen.text)}", accepted)
    found: dict[str, Reading] = {}
    for characters in product(*(cell.chars or _ALNUM for cell in cells)):
        name = "".join(characters)
        for scheme in schemes:
            reading = _named(scheme, name, cells)
            if reading and name not in found:
                found[name] = reading
    if not found:
        return misfit(seen, f"{shown(seen.text)} is no model name", accepted)
    share = 1.0 / len(found)
    readings = [Reading(share, r.label, facts=r.facts, spans=r.spans) for r in found.values()]
    if len(readings) > 1:
        return MarkReading(
            seen.kind,
            seen.text,
            seen.legibility,
            "nothing",
            readings=tuple(readings),
            flags=(f"the unread characters leave {len(readings)} names open",),
        )
    return MarkReading(
        seen.kind,
        seen.text,
        seen.legibility,
        "value",
        readings=tuple(readings),
        value=readings[0].label,
    )


def _named(scheme: DesignationScheme, name: str, cells: tuple[Cell, ...]) -> Reading | None:
    match = _compiled(scheme).fullmatch(name)
    if match is None:
        return None
    groups = {g: match[g] for g in _GROUPS if g in match.re.groupindex and match[g] is not None}
    facts: list[tuple[str, str]] = [("scheme", scheme.id)]
    if "size" in groups:
        facts.append(("size", scheme.sizes.get(groups["size"], groups["size"])))
    if "power" in groups:
        place = scheme.powers.upper().find(groups["power"].upper())
        if place < 0:
            return None
        rank = place + 1 if scheme.rising else len(scheme.powers) - place
        facts += [("power", groups["power"].upper()), ("power-rank", str(rank))]
    if "magnet" in groups:
        letter = groups["magnet"].upper()
        facts.append(("magnet", scheme.magnets.get(letter, letter)))
    spans = tuple(
        _span(cells[match.start(group) : match.end(group)], group)
        for group in groups
        if match.end(group) > match.start(group)
    )
    return Reading(1.0, name, facts=tuple(facts), spans=spans)


def _span(cells: tuple[Cell, ...], group: str) -> Span:
    unsure = any(cell.kind != "plain" for cell in cells)
    return Span(cells[0].start, cells[-1].end, group, unsure)


def _scheme_words(scheme: DesignationScheme) -> str:
    said = [
        f"{name} {' '.join(values)}"
        for name, values in (
            ("magnet", scheme.magnets),
            ("size", scheme.sizes),
            ("power", scheme.powers),
        )
        if values
    ]
    return f"{scheme.id}: " + ", ".join(said)


def _compiled(scheme: DesignationScheme) -> re.Pattern[str]:
    try:
        return _pattern(scheme.pattern)
    except re.error as error:
        raise TableError(f"scheme {scheme.id!r}: {error}", "a regular expression") from error


@lru_cache(maxsize=256)
def _pattern(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern, re.IGNORECASE)
