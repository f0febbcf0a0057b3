"""The bench: is this amp safe, does it work, and within what?

Readings go in as typed, lines come out: each with its value, its limits and their sources, a
judgement, and how it was worked out.  Pure computation; SI units inside, other units only at the
edge (:mod:`endbell.bench.units`).  Safety first: :mod:`endbell.bench.gates` says which lines may be
shown at all.
"""
