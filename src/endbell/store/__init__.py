"""The shop's memory: every change an appended event, the present a projection of them.

``open_database`` opens it, ``append`` records, ``state_of`` and ``events_of`` read.  Photos,
search, lists, backup and checks stand beside.
"""

from .append import Appended, NoDossier, NumberTaken, append, events_of, new_id, state_of
from .database import Database, DatabaseError
from .events import SHOP, By, Change, ChangeRefused, Event
from .opening import open_database
from .state import DossierState

__all__ = [
    "SHOP",
    "Appended",
    "By",
    "Change",
    "ChangeRefused",
    "Database",
    "DatabaseError",
    "DossierState",
    "Event",
    "NoDossier",
    "NumberTaken",
    "append",
    "events_of",
    "new_id",
    "open_database",
    "state_of",
]
