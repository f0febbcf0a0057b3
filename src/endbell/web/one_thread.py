"""Importing this gives the process one thread for linear algebra, where it is the first import.

Only for processes that weigh: many small sums, several processes side by side.
"""

from __future__ import annotations

import os

os.environ.update(
    dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
)
