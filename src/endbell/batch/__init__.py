"""Long lists of dossiers: found, read and weighed on every core, stopped and taken up again."""

__all__: list[str] = []
