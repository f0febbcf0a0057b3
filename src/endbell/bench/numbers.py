"""The digits of a reading: points, commas and gaps between thousands, as people write them."""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation

_GROUPS = re.compile(r"[+-]?\d{1,3}(?:[ ']\d{3})+(?:[.,]\d*)?")
_GROUPED = {
    ".": re.compile(r"[+-]?\d{1,3}(?:,\d{3})+\.\d*"),
    ",": re.compile(r"[+-]?\d{1,3}(?:\.\d{3})+,\d*"),
}
_EITHER = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
_TOO_MANY = 40


def read_number(digits: str) -> Decimal | str:
    """The number in ``digits``; where it can't be told which is meant, why, as half a sentence.

    >>> read_number("2,2"), read_number("12 000"), read_number("1.234,5")
    (Decimal('2.2'), Decimal('12000'), Decimal('1234.5'))
    >>> read_number("1,500")
    'it can be 1.5 or 1500; write one of them'
    """
    text = digits.strip()
    mantissa, exponent = text, ""
    if "e" in text.lower():
        mantissa, _, exponent = text.lower().partition("e")
    if _EITHER.fullmatch(mantissa):
        whole, part = mantissa.split(",")
        return f"it can be {whole}.{part}".rstrip("0").rstrip(".") + (
            f" or {whole}{part}; write one of them"
        )
    if _GROUPED["."].fullmatch(mantissa):
        mantissa = mantissa.replace(",", "")
    elif _GROUPED[","].fullmatch(mantissa):
        mantissa = mantissa.replace(".", "").replace(",", ".")
    elif _GROUPS.fullmatch(mantissa):
        mantissa = re.sub(r"[ ']", "", mantissa).replace(",", ".")
    elif mantissa.count(",") == 1 and "." not in mantissa:
        mantissa = mantissa.replace(",", ".")
    if len(mantissa) > _TOO_MANY or re.search(r"[ ',]", mantissa):
        return "its digits are no single number"
    try:
        return Decimal(f"{mantissa}e{exponent}" if exponent else mantissa)
    except InvalidOperation:
        return "its digits are no single number"
