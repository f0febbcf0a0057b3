"""Why many dossiers could not be begun, or not be finished.  Each is one sentence.

BatchError
├── NothingToWeigh      no input holds a dossier
├── InputUnreadable     an input that is not there, is no archive or table, or passes a limit
├── ColumnsUnclear      a table whose columns are not understood well enough to begin
├── FolderInUse         another command is writing there
├── OtherFolder         the output folder belongs to something else
├── WorkersDiffer       a worker of the scheduler has other packs or another Endbell
└── NoScheduler         Dask Distributed is not installed, or nobody answers there
"""

from __future__ import annotations


class BatchError(Exception):
    """``str()`` is one sentence for the person who asked."""


class NothingToWeigh(BatchError):
    """No input holds a dossier."""


class InputUnreadable(BatchError):
    """An input that is not there, is not what its name says, or passes a limit."""


class ColumnsUnclear(BatchError):
    """A table whose columns are not understood well enough to begin."""


class FolderInUse(BatchError):
    """Another command is writing in the output folder."""


class OtherFolder(BatchError):
    """The output folder holds something else."""


class WorkersDiffer(BatchError):
    """A worker of the scheduler has other packs, or another version."""


class NoScheduler(BatchError):
    """Dask Distributed is not installed, or no scheduler answers."""
