"""What a mark is typed with: the keys under the field, the values to choose from.  Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ..reference.types import Feature, Model, Reference
from ..report.amp_looks import Look

ABSENT = "absent"


@dataclass(frozen=True, slots=True)
class Key:
    """A key: what it shows, what it types (or does: 'back', 'done', 'bracket', 'board')."""

    shows: str
    types: str = ""
    does: str = ""
    says: str = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """A value that can be chosen: as recorded, as shown, and when it was fitted here."""

    value: str
    shows: str
    here: bool = True


@dataclass(frozen=True, slots=True)
class Pad:
    """How a look is typed.

    ``form``: 'code' (a field and keys), 'text' (a field, the device's own keyboard), 'lines'
    (several lines), 'choices', 'words', 'measure', 'date'; ``columns``: of the grid of keys;
    ``units``: for a measure, the usual one first.
    """

    form: str
    label: str
    keys: tuple[Key, ...] = ()
    columns: int = 4
    choices: tuple[Choice, ...] = ()
    units: tuple[str, ...] = ()
    hint: str = ""

    @property
    def own_keys(self) -> bool:
        """Whether the pad replaces the device's keyboard."""
        return bool(self.keys)


_BACK = Key("⌫", does="back", says="take back the last character")
_UNREAD = Key("?", "?", says="a character that can't be read")
_LOST = Key("…", "...", says="more was there")
_ONE_OF = Key("[ ]", does="bracket", says="one of these")
_BREAK = Key("-", "-", says="a separator")
_BOARD = Key("abc", does="board", says="the device's own keyboard")
_DONE = Key("Done", does="done")


def pad_of(
    look: Look, reference: Reference, model: Model | None = None, *, inches: bool = False
) -> Pad:
    """The pad for a look; ``inches``: the reader's habit, for the first unit of a measure."""
    kind = look.kind
    if look.feature is not None:
        known = reference.features.get(look.feature)
        return Pad("choices", look.title, choices=choices_of(known, model) if known else ())
    if look.quantity is not None:
        return _measure(look, reference, inches)
    if kind == "condition":
        words = tuple(Choice(w.word, w.title) for w in reference.conditions.values())
        return Pad("words", "what it looks like", choices=words)
    if kind == "document":
        return Pad(
            "date",
            "date on the paper",
            _digit_keys(Key("-", "-"), Key("~", "~")),
            hint="1965, 1965-02 or 1965-02-14",
        )
    if kind == "label-text":
        return Pad("lines", "as it stands there")
    letters = _letters(kind, reference, model)
    if kind == "chart-letters" and letters:
        return Pad("code", "exactly as seen", _letter_keys(letters), columns=6)
    if kind in ("source-date-code", "date-code", "year-stamp", "patent-number", "serial"):
        third = {"patent-number": Key(",", ","), "date-code": _BOARD, "serial": _BOARD}
        keys = _digit_keys(third.get(kind, _BREAK))
        if letters:
            keys = (*(Key(c, c) for c in letters), *_fill(len(letters), 4), *keys)
        return Pad("code", "exactly as seen", keys)
    return Pad("text", "exactly as seen", hint="? for a character that can't be read")


def choices_of(feature: Feature, model: Model | None) -> tuple[Choice, ...]:
    """The values of a feature: those of this model first, 'absent' last of them."""

    def fitted(value: str) -> bool:
        return any(
            row.value == value and (model is None or not row.models or model.id in row.models)
            for row in feature.values
        )

    values = list(dict.fromkeys(row.value for row in feature.values if row.value != ABSENT))
    return (
        *(Choice(v, v.replace("-", " ")) for v in values if fitted(v)),
        Choice(ABSENT, ABSENT),
        *(Choice(v, v.replace("-", " "), here=False) for v in values if not fitted(v)),
    )


def _measure(look: Look, reference: Reference, inches: bool) -> Pad:
    quantity = reference.quantities.get(look.quantity or "")
    words = reference.tables.quantities.get(look.quantity or "")
    units = [quantity.unit] if quantity else []
    units += [u for u in (words.factors if words else ()) if u not in units]
    if inches and "in" in units:
        units = ["in", *(u for u in units if u != "in")]
    return Pad("measure", look.title, _digit_keys(Key(".", ".")), units=tuple(units))


def _digit_keys(third: Key, corner: Key | None = None) -> tuple[Key, ...]:
    """Four columns: digits as on a telephone, ``?`` and the separator beside them."""
    ones = [Key(c, c) for c in "1234567890"]
    return (
        *ones[0:3], _BACK,
        *ones[3:6], _UNREAD,
        *ones[6:9], third,
        _ONE_OF, ones[9], corner or _LOST, _DONE,
    )  # fmt: skip


def _letter_keys(letters: str) -> tuple[Key, ...]:
    last = (_UNREAD, _ONE_OF, _BACK, _BOARD)
    keys = [Key(c, c) for c in letters]
    # the last row ends with 'Done', two keys wide
    return (*keys, *_fill(len(keys) + len(last) + 2, 6), *last, _DONE)


def _fill(count: int, columns: int) -> tuple[Key, ...]:
    """Gaps up to the end of a row."""
    return (Key(""),) * (-count % columns)


def _letters(kind: str, reference: Reference, model: Model | None) -> str:
    """The letters that the schemes of a kind have."""
    tables = reference.tables
    if kind == "chart-letters":
        found: Iterable[str] = (c for chart in tables.charts for c in chart.years + chart.months)
    elif kind == "serial":
        found = (
            c
            for row in tables.serials
            if model is None or not row.models or model.id in row.models
            for c in row.prefix
        )
    elif kind == "patent-number":
        found = "D"
    else:
        found = ""
    return "".join(sorted({c for c in found if c.isalpha()}))
