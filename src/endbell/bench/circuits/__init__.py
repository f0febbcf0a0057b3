"""Circuits: what a model's circuit is, read from its file, and what its stages do to a signal.

:mod:`.file` and :mod:`.find` read ``endbell-circuit/1``; :mod:`.netlist` reads a stage's cards,
:mod:`.direct` finds where its valves settle, :mod:`.mna` solves it for small signals,
:mod:`.response` says gain and corners, :mod:`.compare` holds a measured response against it.
"""
