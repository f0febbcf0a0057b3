"""Which model's transformer is it? What was measured against every circuit that could be meant."""

from __future__ import annotations

from collections.abc import Sequence

from ..circuit import Circuit, Winding
from ..readings import Bench
from .identity import Candidate, Expected, Likelihood, Measured, likelihoods
from .reading import expected_ratio, ohm_of, ratio_of, rule


def rivals(bench: Bench, circuits: Sequence[Circuit], part: str) -> tuple[Likelihood, ...]:
    """The circuits' transformers ``part`` ('ot', 'pt', 'rt', 'choke') by likelihood, best first.

    A winding of one circuit is that of another where use and load are the same.  All alike before;
    a quantity that one of them does not state is left out, and a circuit that states nothing of
    the part is no candidate.
    """
    stated = [(circuit, _expected(circuit, part)) for circuit in circuits]
    candidates = [Candidate(circuit.id, rows) for circuit, rows in stated if rows]
    measured: list[Measured] = []
    for winding in bench.circuit.windings:
        if winding.part != part:
            continue
        for what, got in (
            ("resistance", ohm_of(bench, winding.id)),
            ("ratio", ratio_of(bench, winding.id)),
        ):
            if got is not None and got.value is not None:
                measured.append(Measured(f"{what}:{_role(winding)}", got.value, got.spread))
    return likelihoods(measured, candidates, rule("identity-leak"))


def _expected(circuit: Circuit, part: str) -> dict[str, Expected]:
    """What a circuit states of a part, by what and role, at 20 °C."""
    found: dict[str, Expected] = {}
    for winding in circuit.windings:
        if winding.part != part:
            continue
        ratio = expected_ratio(circuit, winding)
        if winding.dc_ohm:
            sd = winding.dc_ohm * winding.dc_tolerance
            found[f"resistance:{_role(winding)}"] = Expected(winding.dc_ohm, sd)
        if ratio:
            found[f"ratio:{_role(winding)}"] = Expected(ratio, ratio * rule("ratio-sd"))
    return found


def _role(winding: Winding) -> str:
    """What a winding is for: the same in every circuit, whatever it is called there."""
    return f"{winding.use} {winding.load_ohm:g}" if winding.load_ohm else winding.use
