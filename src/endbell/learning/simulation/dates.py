"""Dates as they are written: week codes, letter codes, chart letters, stamps, dates by hand.

Every function takes the week and gives the text, and the year a reader would take from it.
Raises ``Again`` where the scheme can't say that week: then such a mark can't be there.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate

from ...marks.calendar import MONTHS
from ...marks.tables import ChartScheme
from .dice import Again, Dice
from .layout import PLAIN, Layout
from .texts import DIGITS, Eye, joined, year_seen
from .world import World

HAND_FORMS = ("d/m/y", "d.m.yyyy", "iso", "month y", "d month yyyy", "m-y", "yyyy")
_FIRST_YEAR, _YEARS = 1930, 100


@dataclass(frozen=True, slots=True)
class Written:
    """A text, and the year a reader takes from it: '4', '64', '1964' or nothing."""

    text: str
    year: str = ""


def week_code(
    dice: Dice,
    world: World,
    eye: Eye,
    week: int,
    source: str,
    layout: Layout,
    legibility: str,
) -> Written:
    """A code of digits on a part made in ``week``; ``source`` '' for codes without one."""
    year, number = world.code_week(dice, week)
    fits = [f for f in layout.fits if f.shape[0] == len(source)]
    fit = fits[dice.pick(list(accumulate(f.weight for f in fits)))]
    code = f"{source}{str(year)[-fit.shape[1] :]}{number:02d}"
    cells = eye.code(dice, code, fit, layout, legibility)
    return Written(joined(cells, layout), year_seen(cells, layout))


def letter_code(
    dice: Dice, world: World, eye: Eye, week: int, cells: tuple[int, int], legibility: str
) -> Written:
    """The two characters of a letter date code: a year's letter and a month's character.

    A worn O taken for a figure, or a letter for an O, would be read as another character still:
    such texts are not drawn.
    """
    table = world.reference.tables.letter_dates
    year, month = world.calendar.year_of_month(week)
    letters = [letter for letter, years in table.years.items() if year in years]
    characters = [c for c, m in table.months.items() if m == month]
    if not letters or not characters:
        raise Again
    out: list[str] = []
    for sort, true, keys in (
        (cells[0], dice.one_of(letters), tuple(table.years)),
        (cells[1], dice.one_of(characters), tuple(table.months)),
    ):
        seen = "?" if sort != PLAIN else eye.plain(dice, true, legibility)
        if seen in ("0", "O") and seen not in keys:
            raise Again
        out.append(seen)
    return Written("".join(out))


def chart_letters(
    dice: Dice,
    world: World,
    eye: Eye,
    week: int,
    scheme: ChartScheme,
    cells: tuple[int, int],
    legibility: str,
) -> Written:
    """A year letter and a month letter of a maker's chart."""
    year, month = world.calendar.year_of_month(week)
    at = year - scheme.first_year
    if not 0 <= at < len(scheme.years):
        raise Again
    years, months = scheme.years.upper(), scheme.months.upper()
    pair = [(years[at], years), (months[month - 1], months)]
    if scheme.order == "month-year":
        pair.reverse()
    seen = [
        eye.cell(dice, sort, true, legibility, alphabet)
        for sort, (true, alphabet) in zip(cells, pair, strict=True)
    ]
    letter = seen[1 if scheme.order == "month-year" else 0]
    read = years.find(letter) if len(letter) == 1 else -1
    return Written("".join(seen), str(scheme.first_year + read) if read >= 0 else "")


def year_stamp(
    dice: Dice,
    world: World,
    eye: Eye,
    week: int,
    front: bool,
    cells: tuple[int, int],
    legibility: str,
) -> Written:
    """The last two digits of the year; ``front``: an inspector's number and the month before it."""
    year = _year(world, week)
    seen = [
        eye.cell(dice, sort, true, legibility, DIGITS)
        for sort, true in zip(cells, f"{year % 100:02d}", strict=True)
    ]
    text = "".join(seen)
    if front:
        month = world.calendar.year_of_month(week)[1]
        text = f"{1 + dice.below(9)} {month:02d}{text}"
    return Written(text, "".join(seen) if all(c in DIGITS for c in seen) else "")


def hand_date(
    dice: Dice, world: World, eye: Eye, week: int, form: str, unread: int | None, legibility: str
) -> Written:
    """A date by hand: any day of the week; ``unread``: which digit can't be read.

    Three short numbers stand in either order of day and month, rarely with the year in front.
    """
    year = _year(world, week)
    if form in ("month y", "m-y", "yyyy"):
        month = world.calendar.year_of_month(week)[1]
        if form == "yyyy":
            return Written(str(year), str(year))
        if form == "m-y":
            return Written(f"{month}-{year % 100:02d}", f"{year % 100:02d}")
        return Written(f"{MONTHS[month - 1][:3]} {year % 100:02d}", f"{year % 100:02d}")
    day = world.calendar.day(week, dice.below(7))
    if not _FIRST_YEAR <= day.year < _FIRST_YEAR + _YEARS:
        raise Again
    if form == "iso":
        return Written(day.isoformat(), str(day.year))
    if form == "d month yyyy":
        return Written(f"{day.day} {MONTHS[day.month - 1]} {day.year}", str(day.year))
    d, m, y = f"{day.day:02d}", f"{day.month:02d}", f"{day.year % 100:02d}"
    if form == "d.m.yyyy":
        order = [d, m, str(day.year)] if dice.chance(0.5) else [m, d, str(day.year)]
        return Written(".".join(order), str(day.year))
    first = world.reference.tables.grammar.year_first
    at = dice.u()
    order = [y, m, d] if at < first else [d, m, y] if at < (1.0 + first) / 2 else [m, d, y]
    if unread is None and legibility == "clear":
        return Written("/".join(n if n == y else str(int(n)) for n in order), order[2])
    seen: list[str] = []
    for i, true in enumerate("".join(order)):
        seen.append("?" if i == unread else eye.plain(dice, true, legibility))
    last = "".join(seen[4:])
    text = f"{''.join(seen[:2])}/{''.join(seen[2:4])}/{last}"
    return Written(text, last if last.isdecimal() else "")


def _year(world: World, week: int) -> int:
    year = world.calendar.year[week]
    if not _FIRST_YEAR <= year < _FIRST_YEAR + _YEARS:
        raise Again
    return year
