"""Reading the cells of one row, the same whether it stood in TOML or in CSV.

In CSV every cell is text: a list is written ``a;b``, a mapping ``key=value;key=value``, a flag
``true`` or ``false``, and an empty cell is a key left out.
"""

from __future__ import annotations

import math
import re
from calendar import monthrange
from collections.abc import Mapping
from datetime import date
from typing import cast

from .types import Window

_DAY = re.compile(r"(\d{4})(?:-(\d\d)(?:-(\d\d))?)?")
_FLAGS = {"true": True, "false": False}
DAY_FORMS = "a year, month or day such as '1959', '1959-03' or '1964-12-31'"


class CellError(Exception):
    """One cell that can't be used: its key, what was found, what would be accepted."""

    def __init__(self, key: str, found: str, accepted: str) -> None:
        self.key = key
        self.found = found
        self.accepted = accepted
        super().__init__(f"{key}: found {found}, accepted {accepted}")


def day(text: str, *, end: bool) -> date:
    """The first day (or, with ``end``, the last) of a year, month or day. ValueError otherwise.

    >>> day("1959-02", end=True)
    datetime.date(1959, 2, 28)
    """
    found = _DAY.fullmatch(text.strip())
    if found is None:
        raise ValueError(text)
    year = int(found[1])
    month = int(found[2]) if found[2] else (12 if end else 1)
    if found[3]:
        return date(year, month, int(found[3]))
    if not 1 <= month <= 12 or year < 1:
        raise ValueError(text)
    return date(year, month, monthrange(year, month)[1] if end else 1)


def split_list(value: str) -> tuple[str, ...]:
    """The words of a list cell in CSV: ``a;b`` is two words, an empty cell none."""
    return tuple(word.strip() for word in value.split(";") if word.strip())


def split_mapping(value: str) -> dict[str, str]:
    """The pairs of a mapping cell in CSV: ``W=alnico;Z=ceramic``. ValueError without ``=``."""
    pairs: dict[str, str] = {}
    for word in split_list(value):
        key, sign, meaning = word.partition("=")
        if not sign:
            raise ValueError(word)
        pairs[key.strip()] = meaning.strip()
    return pairs


class Cells:
    """The cells of one row by key; a cell that can't be used raises :class:`CellError`."""

    __slots__ = ("values",)

    def __init__(self, values: Mapping[str, object]) -> None:
        self.values = values

    def _get(self, key: str) -> object | None:
        value = self.values.get(key)
        return None if value == "" else value

    def text(self, key: str, default: str | None = None) -> str:
        """The text under ``key``; without a default it has to be there."""
        value = self._get(key)
        if value is None:
            if default is None:
                raise CellError(key, f"no '{key}'", "a text")
            return default
        if not isinstance(value, str):
            raise CellError(key, repr(value), "a text in quotation marks")
        return value

    def number(self, key: str, low: float = -math.inf, high: float = math.inf) -> float:
        """The number under ``key``, which has to be there, from ``low`` to ``high``."""
        value = self._get(key)
        try:
            number = float(cast("str | float", value))
        except (TypeError, ValueError):
            raise CellError(key, _shown(key, value), "a number") from None
        if isinstance(value, bool) or not low <= number <= high or math.isinf(number):
            raise CellError(key, _shown(key, value), f"a number from {low:g} to {high:g}")
        return number

    def number_or(
        self, key: str, default: float, low: float = -math.inf, high: float = math.inf
    ) -> float:
        """As :meth:`number`, with a value for a key left out."""
        return default if self._get(key) is None else self.number(key, low, high)

    def maybe(self, key: str, low: float, high: float) -> float | None:
        """As :meth:`number`; None for a key left out."""
        return None if self._get(key) is None else self.number(key, low, high)

    def whole(self, key: str, low: int, high: int) -> int:
        """The whole number under ``key``, which has to be there."""
        number = self.number(key, low, high)
        if number != int(number):
            raise CellError(key, _shown(key, number), "a whole number")
        return int(number)

    def flag(self, key: str) -> bool:
        """True or false, which has to be there."""
        value = self._get(key)
        if isinstance(value, bool):
            return value
        if isinstance(value, str) and value in _FLAGS:
            return _FLAGS[value]
        raise CellError(key, _shown(key, value), "true or false")

    def words(self, key: str) -> tuple[str, ...]:
        """The list under ``key``; empty if left out."""
        value = self._get(key)
        if value is None:
            return ()
        if isinstance(value, str):
            return split_list(value)
        if isinstance(value, list):
            items = cast("list[object]", value)
            if all(isinstance(item, str) for item in items):
                return tuple(cast("list[str]", items))
        raise CellError(key, repr(cast("object", value)), "a list of texts")

    def mapping(self, key: str) -> dict[str, str]:
        """The mapping under ``key`` with its values as text; empty if left out."""
        value = self._get(key)
        if value is None:
            return {}
        if isinstance(value, dict):
            pairs = cast("dict[str, object]", value)
            return {name: str(meaning) for name, meaning in pairs.items()}
        if isinstance(value, str):
            try:
                return split_mapping(value)
            except ValueError:
                pass
        raise CellError(
            key, repr(value), "pairs such as { W = 'alnico' }, in CSV 'W=alnico;Z=ceramic'"
        )

    def factors(self, key: str) -> dict[str, float]:
        """The mapping under ``key`` with numbers as its values."""
        try:
            return {name: float(value) for name, value in self.mapping(key).items()}
        except ValueError:
            raise CellError(key, repr(self.values[key]), "numbers such as { cm = 10 }") from None

    def first(self, key: str = "first") -> date | None:
        """The first day that ``key`` covers; None if left out."""
        return self._day(key, end=False)

    def last(self, key: str = "last") -> date | None:
        """The last day that ``key`` covers; None if left out."""
        return self._day(key, end=True)

    def window(self, weight: str = "weight") -> Window:
        """``first`` to ``last`` with the number under ``weight`` (1 if left out)."""
        first, last = self.first(), self.last()
        if first is not None and last is not None and last < first:
            raise CellError(
                "last", f"a window from {first} to {last}", "a last day after the first"
            )
        return Window(first, last, self.number_or(weight, 1.0, 0.0))

    def _day(self, key: str, *, end: bool) -> date | None:
        value = self._get(key)
        if value is None:
            return None
        if type(value) is date:
            return value
        try:
            return day(cast("str", value), end=end)
        except (ValueError, AttributeError):
            raise CellError(key, repr(value), DAY_FORMS) from None


def _shown(key: str, value: object | None) -> str:
    return f"no '{key}'" if value is None else repr(value)
