"""What a worker does: a dossier's tables in, a strip, a verdict or a report out.

Nothing that is wrong with a dossier is raised: it comes back as the strip's ``trouble``.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace
from datetime import date
from functools import partial
from typing import Any, cast

from ..batch.code import made_by
from ..batch.packs import Packs, Settings
from ..batch.weigher import fault_sentence
from ..chronology import (
    AssumptionError,
    NothingPossible,
    Verdict,
    Workspace,
    brief,
    weigh,
)
from ..dossier import Dossier, DossierError
from ..dossier.load import dossier_of
from ..dossier.places import Headers
from ..reference import PackError, Reference
from .lines import strip_lines, typed_words, verdict_lines
from .weighed import Ask, Strip, Weighed, Would

HEADERS: Headers = {}
"""A form of the database has no lines."""

WORKSPACE_BYTES = 96 * 2**20
"""Twice as much makes neither strips nor verdicts noticeably quicker, and takes longer to fill."""

HELD_VERDICTS = 8
STRIPS = ("strip", "glance")

WOULD = 12
"""So many marks, those that did most, are left out one by one to see what would change."""

CLAIM_MOVES = 0.1
"""By so much P(claim) has to move for it to be said."""

DID_SOMETHING = 0.01
"""Bits; a mark that did less is not left out to see."""


class Worker:
    """Weighs whatever it is asked to; lives in a process of its own with its packs kept warm.

    ``nice``: how far it steps back behind the others.
    """

    def __init__(self, nice: int = 0) -> None:
        if nice:
            with suppress(OSError):
                os.nice(nice)
        self._stamp: str | None = None
        self._packs = Packs(Settings())
        self._workspace = Workspace(WORKSPACE_BYTES)
        self._verdicts: dict[str, tuple[Dossier, Verdict, Reference]] = {}

    def __call__(self, ask: Ask) -> Strip | Weighed | str:
        """The answer to ``ask``."""
        if ask.what == "warm":
            return self._warm(ask)
        try:
            return self._answer(ask)
        except (DossierError, PackError, NothingPossible, AssumptionError) as error:
            return in_trouble(ask, str(error))
        except Exception as error:
            return in_trouble(ask, fault_sentence(error))

    def _answer(self, ask: Ask) -> Strip | Weighed | str:
        self._take_packs(ask)
        if ask.what in STRIPS:
            dossier, reference = self._open(ask)
            counted = ask.what == "strip"
            room = self._workspace
            found = brief(dossier, reference, workspace=room, count_conflicts=counted)
            return strip_lines(found, dossier.claim, reference, made_by()).signed(ask.packs)
        dossier, verdict, reference = self._weighed(ask)
        if ask.what == "report":
            from ..report import page

            return page(verdict, reference, dossier)
        strip = strip_lines(verdict, dossier.claim, reference, made_by()).signed(ask.packs)
        checks = self._next(ask, dossier, verdict, reference)
        would = self._would(ask, verdict, strip)
        return verdict_lines(verdict, reference, strip, checks=checks, would=would)

    def _warm(self, ask: Ask) -> str:
        """Make what every dossier of these packs needs, before somebody waits for it."""
        with suppress(DossierError, PackError, NothingPossible):
            self._take_packs(ask)
            dossier, reference = self._open(ask)
            brief(dossier, reference, workspace=self._workspace)
        return "warm"

    def _take_packs(self, ask: Ask) -> None:
        if ask.packs.stamp == self._stamp:
            return
        self._stamp = ask.packs.stamp
        self._packs = Packs(Settings(search=(ask.packs.folder,) if ask.packs.folder else ()))
        self._workspace = Workspace(WORKSPACE_BYTES)
        self._verdicts.clear()

    def _open(self, ask: Ask) -> tuple[Dossier, Reference]:
        packs, day = self._packs.reference, date.fromisoformat(ask.day)
        read = partial(dossier_of, headers=HEADERS, reference_for=packs, today=day)
        dossier = read_without(ask.form, ask.without, read)
        return dossier, packs(dossier.packs)

    def _weighed(self, ask: Ask) -> tuple[Dossier, Verdict, Reference]:
        """The full verdict; the last few are held, since a report may be wanted of them."""
        key = replace(ask, what="", answered=()).key
        if key not in self._verdicts:
            dossier, reference = self._open(ask)
            verdict = weigh(dossier, reference, looks=2, workspace=self._workspace)
            while len(self._verdicts) >= HELD_VERDICTS:
                del self._verdicts[next(iter(self._verdicts))]
            self._verdicts[key] = dossier, verdict, reference
        return self._verdicts[key]

    def _next(
        self, ask: Ask, dossier: Dossier, verdict: Verdict, reference: Reference
    ) -> tuple[Any, str]:
        """The next checks; with looks that can't be made taken as made, so that others follow."""
        if not ask.answered:
            return verdict.next, verdict.next_says
        from .answered import next_without

        return next_without(ask.answered, dossier, verdict, reference, self._workspace)

    def _would(self, ask: Ask, verdict: Verdict, strip: Strip) -> tuple[Would, ...]:
        """The marks without which the verdict's words or its claim would read differently."""
        most = sorted(verdict.marks, key=lambda m: (-m.influence_bits, m.mark.n))[:WOULD]
        found: list[Would] = []
        for m in most:
            if m.influence_bits < DID_SOMETHING:
                break
            less = self._answer(replace(ask, what="glance", without=(*ask.without, m.mark.n)))
            assert isinstance(less, Strip)
            built = less.says if _reads_otherwise(less, strip) else ""
            claim = less.claim if _claim_moves(less, strip) else ""
            if built or claim:
                found.append(Would(m.mark.n, typed_words(m.mark), m.mark.part, built, claim))
        return tuple(found)


def _reads_otherwise(less: Strip, strip: Strip) -> bool:
    """Whether other years come into question; a month more or less is not worth a sentence."""
    return (less.sure, less.first_year, less.last_year, less.mode_year) != (
        strip.sure,
        strip.first_year,
        strip.last_year,
        strip.mode_year,
    )


def _claim_moves(less: Strip, strip: Strip) -> bool:
    if less.claim_p is None or strip.claim_p is None:
        return less.claim_p != strip.claim_p
    return abs(less.claim_p - strip.claim_p) >= CLAIM_MOVES


def in_trouble(ask: Ask, sentence: str) -> Strip | Weighed | str:
    """The answer where nothing could be weighed: the sentence that says why."""
    if ask.what == "report":
        return ""
    strip = Strip("Cannot tell", "open", trouble=sentence, made_by=made_by()).signed(ask.packs)
    return strip if ask.what in STRIPS else Weighed(strip)


def read_without(
    form: Mapping[str, Any], without: tuple[int, ...], read: Callable[[dict[str, Any]], Dossier]
) -> Dossier:
    """The dossier as if some of its marks had never been made; the others keep their numbers.

    ``without``: numbers of marks, from 1.  What day it is taken to be stays as it is with them.
    """
    top = dict(form)
    if not without:
        return read(top)
    rows = cast("list[Any]", form.get("mark", []))
    kept = [n for n in range(1, len(rows) + 1) if n not in set(without)]
    top["as_of"] = read(dict(form)).as_of
    top["mark"] = [rows[n - 1] for n in kept]
    less = read(top)
    number = dict(enumerate(kept, start=1))
    return replace(
        less,
        as_of_from="file",
        marks=tuple(replace(m, n=number[m.n]) for m in less.marks),
        problems=tuple(
            replace(p, table=number.get(p.table, p.table))
            if p.header == "mark" and p.table is not None
            else p
            for p in less.problems
        ),
    )
