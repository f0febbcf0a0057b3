"""Lines of identity: is this the transformer that the drawing shows?"""

from __future__ import annotations

from ..lines import Line
from ..readings import Bench
from ..telling import percent, tell
from .identity import Candidate, Expected, Measured, fit
from .reading import Got, expected_ratio, ohm_of, ratio_of, rule, rule_bound


def identity_lines(bench: Bench) -> tuple[Line, ...]:
    """A line for every transformer and choke whose windings are drawn."""
    parts = dict.fromkeys(w.part for w in bench.circuit.windings if w.dc_ohm or w.turns)
    return tuple(_identity(bench, part) for part in parts)


def _identity(bench: Bench, part: str) -> Line:
    """How often a right one reads as far off, over all that was measured of it."""
    measured, expected, rests = _evidence(bench, part)
    if not measured:
        says = f"Resistances and ratios of {part} tell whether it belongs here: none is measured."
        return tell(bench, "transformer-identity", at=part, says=says)
    value = fit(measured, Candidate(part, expected))
    bounds = (rule_bound("identity-low", rule("identity-low"), None),)
    far = max(measured, key=lambda m: abs(m.value / expected[m.quantity].value - 1))
    off = percent(far.value / expected[far.quantity].value - 1)
    says = (
        f"{len(measured)} readings of {part}: a right one is this far off in {value:.1%} of cases; "
        f"farthest is {far.quantity.replace(':', ' of ')}, {off}."
    )
    return tell(
        bench,
        "transformer-identity",
        at=part,
        value=value,
        bounds=bounds,
        says=says,
        works="χ² over ratios and resistances at 20 °C, each with its making's and meter's spread",
        readings=tuple(r for got in rests for r in got.readings),
    )


def _evidence(bench: Bench, part: str) -> tuple[list[Measured], dict[str, Expected], list[Got]]:
    measured: list[Measured] = []
    expected: dict[str, Expected] = {}
    rests: list[Got] = []
    for winding in bench.circuit.windings:
        if winding.part != part:
            continue
        ratio = expected_ratio(bench.circuit, winding)
        pairs = (
            ("resistance", ohm_of(bench, winding.id), winding.dc_ohm, winding.dc_tolerance),
            ("ratio", ratio_of(bench, winding.id), ratio, rule("ratio-sd")),
        )
        for what, got, drawn, share in pairs:
            if got is None or got.value is None or not drawn:
                continue
            name = f"{what}:{winding.id}"
            measured.append(Measured(name, got.value, got.spread))
            expected[name] = Expected(drawn, drawn * share)
            rests.append(got)
    return measured, expected, rests
