"""Kill the server so many times while entries and photos come in: ``python tools/crash.py``.

Nothing that was acknowledged may be lost, doubled or damaged; see tests/web/crashing.py.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from tests.web.crashing import crash  # noqa: E402
from tests.web.running import running  # noqa: E402


def main() -> None:
    """Say how many blows there were, what was acknowledged, what had to be sent again."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--rounds", type=int, default=200)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--database", help="a PostgreSQL database instead of a file")
    args = asked.parse_args()
    done = (0, 0)
    with (
        tempfile.TemporaryDirectory() as folder,
        running(Path(folder) / "shop", args.database) as server,
    ):
        left = args.rounds
        while left > 0:  # amps of their own every ten blows: long lists say nothing more
            more = crash(server, min(10, left), args.seed + left)
            done = (done[0] + more[0], done[1] + more[1])
            left -= 10
            print(f"{args.rounds - max(left, 0)} of {args.rounds}", end="\r", file=sys.stderr)
    print(
        f"{args.rounds} times killed: {done[0]} entries and photos acknowledged, all there once; "
        f"{done[1]} sent again; the doctor found nothing"
    )


if __name__ == "__main__":
    main()
