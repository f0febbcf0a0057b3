"""What a repair changed: every line before and after, and whether it is right now."""

from __future__ import annotations

from dataclasses import dataclass

from .lines import OFF, Judgement, Line

_RIGHT = (Judgement.WITHIN, Judgement.NO_LIMIT)


@dataclass(frozen=True, slots=True)
class Change:
    """One line before and after. ``word``: 'put right', 'still off', 'off now', 'held its own',
    'measured now', 'not repeated'."""

    before: Line | None
    after: Line | None
    word: str

    @property
    def line(self) -> Line:
        """The line as it stands now, else as it stood."""
        found = self.after or self.before
        assert found is not None
        return found


def compare(
    before: tuple[Line, ...], after: tuple[Line, ...], repeated: frozenset[tuple[str, str]]
) -> tuple[Change, ...]:
    """Lines with a value on either side, in the order of the work.

    ``repeated``: (line, place) of the readings taken after the repair; a line that rests on none of
    them is left out where nothing about it changed.
    """
    old = {(line.id, line.at): line for line in before}
    new = {(line.id, line.at): line for line in after}
    out: list[Change] = []
    for key in dict.fromkeys((*old, *new)):
        was, now = old.get(key), new.get(key)
        if not _said(was) and not _said(now):
            continue
        word = _word(was, now)
        same = was is not None and now is not None and was.value == now.value
        if same and key not in repeated:
            # nothing new about it: it is told where it is off, as what is still to be repeated
            if word == "held its own" or (was is not None and was.value is None):
                continue
            word = "not repeated"
        out.append(Change(was, now, word))
    return tuple(out)


def _said(line: Line | None) -> bool:
    return line is not None and line.judgement is not Judgement.NOT_MEASURED


def _word(was: Line | None, now: Line | None) -> str:
    if not _said(now) or now is None:
        return "not repeated"
    if not _said(was) or was is None:
        return "off now" if now.judgement in OFF else "measured now"
    if now.judgement in OFF:
        return "still off" if was.judgement in OFF else "off now"
    if was.judgement in OFF:
        return "put right" if now.judgement in _RIGHT else "measured now"
    return "held its own"
