"""What every row of a pack has, whatever its table."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

from .fields import Confidence, MaybeDay, Origin


class RowForm(BaseModel):
    """What every row has: where it is from and how sure that is."""

    model_config = ConfigDict(extra="forbid", populate_by_name=False)

    source: Origin
    confidence: Confidence
    how: str = ""
    note: str = ""


class WindowForm(RowForm):
    """A row with a window; an end left out is open."""

    first: MaybeDay = None
    last: MaybeDay = None
