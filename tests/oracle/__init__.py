"""A second, slow, obvious build of docs/model.md that shares no code with the engine."""
