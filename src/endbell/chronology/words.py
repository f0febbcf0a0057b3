"""The verdict in three to eight plain sentences, each tied to marks and to the numbers it says.

Nothing is said here that a number of the verdict doesn't carry: every sentence lists its numbers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..marks.calendar import MONTHS
from ..reference.types import Reference
from .nextcheck import best_of
from .percent import percent
from .verdict import PartVerdict, Sentence, Verdict

LEAST, MOST = 3, 8
APART = 3  # years between two peaks that are told as alternatives


def sentences(verdict: Verdict, reference: Reference) -> tuple[Sentence, ...]:
    """Most important first: date, what it rests on, parts, assemblies, claim, conflicts,
    stability.
    """
    sure, likely = _thresholds(reference)
    found = [
        *_date(verdict, sure, likely),
        *_parts(verdict, reference),
        *_assemblies(verdict, sure, likely),
        *_claim(verdict),
        *_model(verdict, reference, sure, likely),
        *_rests_on(verdict),
        *_conflicts(verdict),
        *_stability(verdict),
        *_next(verdict),
    ]
    if len(found) < LEAST:
        found.append(_how_much(verdict))
    return tuple(found[:MOST])


def _how_much(verdict: Verdict) -> Sentence:
    """What was weighed at all, where there is little else to say."""
    weighed = sum(m.weighed for m in verdict.marks)
    left = len(verdict.not_weighed)
    return Sentence(
        f"{weighed} marks were weighed; {left} could not be.",
        tuple(m.mark.n for m in verdict.marks),
        {"marks.weighed": float(weighed), "not_weighed": float(left)},
    )


def _thresholds(reference: Reference) -> tuple[float, float]:
    low = {w.word: w.low for w in reference.part_words}
    return low.get("original", 0.95), low.get("probably original", 0.75)


def _date(verdict: Verdict, sure: float, likely: float) -> Iterator[Sentence]:
    build = verdict.build
    marks = _dating_marks(verdict)
    year, p = build.mode_year, build.p_mode_year
    ranked = sorted(build.years, key=lambda y: (-build.years[y], y))
    if p >= likely:
        word = "Built in" if p >= sure else "Probably built in"
        yield Sentence(
            f"{word} {year} ({percent(p)}); with 95%, {_span(verdict)}.",
            marks,
            {f"years.{year}": p},
        )
        return
    top = sorted(ranked[:2])
    pair = {f"years.{y}": build.years[y] for y in top}
    told = " and ".join(f"{y} ({percent(build.years[y])})" for y in top)
    both = sum(pair.values())
    if len(top) == 2 and top[1] - top[0] == 1 and both >= likely:
        word = "Built" if both >= sure else "Probably built"
        yield Sentence(
            f"{word} in {top[0]} or {top[1]}: {told}; with 95%, {_span(verdict)}.", marks, pair
        )
        return
    peaks = _peaks(verdict)
    if len(peaks) > 1:
        numbers = {f"years.{y}": build.years[y] for y in peaks}
        listed = " or ".join(
            f"{y} ({percent(v)})" for y, v in zip(peaks, numbers.values(), strict=True)
        )
        yield Sentence(
            f"Cannot tell the year: around {listed}; with 95%, {_span(verdict)}.", marks, numbers
        )
        return
    yield Sentence(
        f"Cannot tell the year: likeliest is {year} ({percent(p)}); with 95%, {_span(verdict)}.",
        marks,
        {f"years.{year}": p},
    )


def _peaks(verdict: Verdict) -> list[int]:
    """The likeliest year of each stretch of the 95% set, where stretches lie years apart."""
    years = verdict.build.years
    stretches: list[tuple[int, int]] = []
    for first, last, _ in verdict.build.sets["0.95"]:
        a, b = int(first[:4]), int(last[:4])
        if stretches and a - stretches[-1][1] < APART:
            stretches[-1] = (stretches[-1][0], b)
        else:
            stretches.append((a, b))
    best = [max(range(a, b + 1), key=lambda y: years.get(y, 0.0)) for a, b in stretches]
    return [y for y in best if years.get(y, 0.0) > 0][:4]


def _span(verdict: Verdict) -> str:
    """The 95% set in months: 'February to March 1964 or June 1974'."""
    runs = verdict.build.edtf.strip("[]").split(",")
    said = [_months(run) for run in runs[:3]]
    more = len(runs) - 3
    return " or ".join(said) + (
        f" or {more} other span{'s' if more > 1 else ''}" if more > 0 else ""
    )


def _months(run: str) -> str:
    first, _, last = run.partition("..")
    year, month = first.split("-")
    if not last:
        return f"{MONTHS[int(month) - 1]} {year}"
    end_year, end_month = last.split("-")
    start = MONTHS[int(month) - 1] + ("" if year == end_year else f" {year}")
    return f"{start} to {MONTHS[int(end_month) - 1]} {end_year}"


def _dating_marks(verdict: Verdict) -> tuple[int, ...]:
    """The marks that moved the date, most first (at least one, at most four)."""
    ranked = sorted(
        (m for m in verdict.marks if m.weighed), key=lambda m: (-m.influence_bits, m.mark.n)
    )
    return tuple(m.mark.n for m in ranked[:4] if m.influence_bits > 0.001) or tuple(
        m.mark.n for m in ranked[:1]
    )


def _rests_on(verdict: Verdict) -> Iterator[Sentence]:
    strong = [m for m in verdict.marks if m.influence_bits >= 0.1]
    strong.sort(key=lambda m: (-m.influence_bits, m.mark.n))
    if strong:
        told = ", ".join(
            f"{m.mark.n} ({m.mark.part}, {m.influence_bits:.1f} bits)" for m in strong[:3]
        )
        yield Sentence(
            f"The date leans most on mark{'s' if len(strong[:3]) > 1 else ''} {told}.",
            tuple(m.mark.n for m in strong[:3]),
            {f"marks.{m.mark.n}.influence_bits": m.influence_bits for m in strong[:3]},
        )


def _parts(verdict: Verdict, reference: Reference) -> Iterator[Sentence]:
    told = [p for p in verdict.parts if p.part_class != "chassis" and p.assembly != "papers"]
    low = {w.word: w.low for w in reference.part_words}
    for word in ("original", "probably original"):
        chosen = [p for p in told if p.word == word]
        if chosen:
            least = max(min(p.original for p in chosen), low.get(word, 0.0))
            yield Sentence(
                f"{_capital(word)}: {_names(chosen)} "
                f"({'each at least ' if len(chosen) > 1 else ''}{percent(least)}).",
                _marks_on(verdict, chosen),
                {f"parts.{p.part}.original": p.original for p in chosen},
            )
    out = [p for p in told if p.word in ("replaced", "probably replaced")]
    if out:
        each = "; ".join(f"{p.part} {p.word} ({percent(p.original)} original)" for p in out[:5])
        more = f"; and {len(out) - 5} more" if len(out) > 5 else ""
        yield Sentence(
            f"Not original to this amp: {each}{more}.",
            _marks_on(verdict, out),
            {f"parts.{p.part}.original": p.original for p in out},
        )
    unsure = [p for p in told if p.word == "cannot tell"]
    if unsure:
        each = ", ".join(f"{p.part} ({percent(p.original)})" for p in unsure[:5])
        more = f" and {len(unsure) - 5} more" if len(unsure) > 5 else ""
        yield Sentence(
            f"Cannot tell whether original: {each}{more}.",
            _marks_on(verdict, unsure),
            {f"parts.{p.part}.original": p.original for p in unsure},
        )


def _assemblies(verdict: Verdict, sure: float, likely: float) -> Iterator[Sentence]:
    for a in verdict.assemblies:
        if a.married < 1 - likely:
            continue
        members = [p for p in verdict.parts if p.assembly == a.assembly]
        number = {f"assemblies.{a.assembly}.married": a.married}
        if a.married >= likely:
            word = "is another amp's" if a.married >= sure else "is probably another amp's"
            text = f"The {a.assembly} {word} ({percent(a.married)})"
            if a.years:
                year = max(a.years, key=lambda y: (a.years[y], -y))
                number[f"assemblies.{a.assembly}.years.{year}"] = a.years[year]
                text += (
                    f"; if so, {year} is the likeliest year of that one ({percent(a.years[year])})"
                )
            yield Sentence(text + ".", _marks_on(verdict, members), number)
        else:
            yield Sentence(
                f"Cannot tell whether the {a.assembly} belongs "
                f"({percent(a.married)} that it is another amp's).",
                _marks_on(verdict, members),
                number,
            )


def _claim(verdict: Verdict) -> Iterator[Sentence]:
    claim = verdict.claim
    if claim is None or claim.p is None:
        return
    numbers = {"claim.p": claim.p}
    text = f"The claim as a whole stands at {percent(claim.p)}"
    weakest = next((c for c in claim.clauses if c.clause == claim.weakest), None)
    if weakest is not None and weakest.p is not None:
        numbers[f"claim.clauses.{weakest.clause}"] = weakest.p
        text += f"; its weakest point is '{weakest.clause}' ({percent(weakest.p)})"
    if claim.not_looked_at:
        text += f"; {len(claim.not_looked_at)} parts that it covers were not looked at"
        numbers["claim.not_looked_at"] = float(len(claim.not_looked_at))
    yield Sentence(text + ".", tuple(m.mark.n for m in verdict.marks if m.weighed), numbers)


def _model(
    verdict: Verdict, reference: Reference, sure: float, likely: float
) -> Iterator[Sentence]:
    if len(verdict.models) < 2:
        return
    title = {m.id: m.title for m in reference.models}
    top = verdict.models[0]
    marks = tuple(m.mark.n for m in verdict.marks if m.weighed)
    if top.p >= likely:
        word = "A" if top.p >= sure else "Probably a"
        yield Sentence(
            f"{word} {title.get(top.model, top.model)} ({percent(top.p)}).",
            marks,
            {f"models.{top.model}": top.p},
        )
    else:
        second = verdict.models[1]
        yield Sentence(
            f"Cannot tell the model from what was seen: {title.get(top.model, top.model)} "
            f"({percent(top.p)}) or {title.get(second.model, second.model)} ({percent(second.p)}).",
            marks,
            {f"models.{m.model}": m.p for m in (top, second)},
        )


def _conflicts(verdict: Verdict) -> Iterator[Sentence]:
    for c in verdict.conflicts:
        if len(c.marks) > 1:
            yield Sentence(
                f"Marks {_list([str(n) for n in c.marks])} can hardly all be right "
                f"({percent(c.p_all_right)}).",
                c.marks,
                {"conflicts.p_all_right": c.p_all_right},
            )
            return


def _stability(verdict: Verdict) -> Iterator[Sentence]:
    marks = tuple(m.mark.n for m in verdict.marks if m.weighed)
    if verdict.stable:
        yield Sentence(
            "Halving or doubling any assumption changes no word, year or end of this verdict.",
            marks,
            {"unstable": 0.0},
        )
    else:
        first = verdict.unstable[0]
        way = "halved" if first.factor < 1 else "doubled"
        count = len(verdict.unstable)
        more = f" ({count - 1} more such)" if count > 1 else ""
        yield Sentence(
            f"It leans on assumptions: with {first.assumption} {way}, {first.what}{more}.",
            marks,
            {"unstable": float(count)},
        )


def _next(verdict: Verdict) -> Iterator[Sentence]:
    marks = tuple(m.mark.n for m in verdict.marks if m.weighed)
    if verdict.next:
        best = best_of(verdict.next)
        yield Sentence(
            f"Worth doing next: {best.title} ({best.part}; {best.minutes:g} min, "
            f"{best.gain_bits:.2f} bits expected).",
            marks,
            {"next.gain_bits": best.gain_bits, "next.minutes": best.minutes},
        )
    elif verdict.next_says:
        yield Sentence(verdict.next_says, marks, {"next": 0.0})


def _marks_on(verdict: Verdict, parts: Sequence[PartVerdict]) -> tuple[int, ...]:
    ids = {p.part for p in parts}
    return tuple(m.mark.n for m in verdict.marks if m.mark.part in ids)


def _names(parts: Sequence[PartVerdict]) -> str:
    return _list([p.part for p in parts])


def _list(items: Sequence[str]) -> str:
    return items[0] if len(items) == 1 else ", ".join(items[:-1]) + " and " + items[-1]


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]
