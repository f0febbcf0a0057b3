"""Why an archive is not imported.  Each is one sentence; nothing has been changed then."""

from __future__ import annotations


class ImportRefused(ValueError):
    """An archive that is not imported; the sentence says what was found and would be accepted."""
