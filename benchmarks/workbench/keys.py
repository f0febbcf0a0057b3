"""From a key to the moved strip: ``python -m benchmarks.workbench.keys``.

Codes are typed into the entry sheet of one amp in a real Chromium, entry after entry, while the
server, idle but for this, has 10,000 dossiers.  In the page itself each key-up is stamped, and the
strip that counts it in: the last swap before the page is still again.  Writes
results/workbench.md and .json.
"""

from __future__ import annotations

import argparse
import os
import random
from collections.abc import Sequence
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any

from playwright.sync_api import Page
from tests.chromium import chromium
from tests.web.browser import DESK, PHONE, context_at
from tests.web.job import Hand
from tests.web.running import Running

from benchmarks.harness import machine
from endbell.store import By, Change, append, new_id

from .filled import fill
from .load import WORK, sqlite
from .page import percentile, write
from .watch import processor

ENTRIES = 500
SPOTS = ("pot-1", "pot-2", "pot-3", "pot-4", "pot-5", "pot-6", "pt", "choke", "ot", "rt")
TELLS = 3
"""Keys of a code from which on something can be read, and the strip moves."""

WATCH = """() => {
  globalThis.keyTimes = [];
  globalThis.keysAnswered = 0;
  let due = 0;
  document.addEventListener("htmx:afterSettle", (event) => {
    if (["meaning", "sheet-body"].includes(event.detail.target?.id)) globalThis.keysAnswered += 1;
  });
  addEventListener("keyup", (event) => {
    if (/^(\\d|Enter)$/.test(event.key)) due = performance.now();
  }, true);
  document.addEventListener("htmx:oobAfterSwap", (event) => {
    if (event.detail.target?.id !== "strip" || !due) return;
    globalThis.keyTimes.push(performance.now() - due);
    due = 0;
  });
}"""


def booked(server: Running, n: int) -> str:
    """An amp with three marks and its chassis open."""
    made = new_id()
    opened = {
        "number": f"KEYS-{n:04d}",
        "packs": ["brackwater"],
        "claim": {"maker": "brackwater", "model": "lantern-20-reverb", "built": "1964"},
    }
    seen = {
        "covering": ("covering-colour", "grey-tweed"),
        "cloth": ("cloth-pattern", "silver-thread"),
        "knobs": ("knob-shape", "skirted"),
    }
    rows = [
        {"part": part, "kind": "feature", "feature": feature, "value": value}
        for part, (feature, value) in seen.items()
    ]
    changes = [
        Change("opened", opened),
        *(Change("mark-set", {"mark": new_id(), "row": row}) for row in rows),
        Change("caution-acknowledged", {"level": "chassis-out", "name": "Tomas Bench"}),
    ]
    db = server.open()
    append(db, made, changes, by=By("simulator", "benchmark"))
    db.close()
    return made


def open_amp(page: Page, amp: str) -> None:
    """Its chassis in sight, all of it weighed."""
    page.goto(f"/dossiers/{amp}?view=chassis")
    Hand(page, thumb=False).weighed()
    page.evaluate(WATCH)


def entered(page: Page, part: str, code: str) -> list[float]:
    """A code key by key, each when the strip of the key before has come; then Enter."""
    hand = Hand(page, thumb=False)
    if page.locator(f'#entry[data-spot="{part}"]').count() == 0:  # else Enter has led here
        hand.spot(part)
    page.locator(f'#entry[data-spot="{part}"] [data-field]').focus()
    entry = page.locator("#entry [name=key]").input_value()
    page.evaluate("keyTimes.length = 0")
    for n, key in enumerate((*code, "Enter"), start=1):
        have = page.evaluate("keysAnswered")
        page.keyboard.press(key)
        if n >= TELLS:  # a code that can't be right so far moves no strip, and is not counted
            page.wait_for_function("n => keysAnswered > n", arg=have)
    times: list[float] = page.evaluate("keyTimes.splice(0)")
    hand.gone(entry)
    return times


def measured(server: Running, entries: int) -> dict[str, Any]:
    """Milliseconds a key, and the taps and keys of a hand on the phone."""
    dice = random.Random(1)
    times: list[float] = []
    hands: list[float] = []
    amps = [booked(server, n) for n in range(-(-entries // len(SPOTS)) + 1)]
    assert server.process is not None
    with chromium() as browser:
        context = context_at(browser, server, DESK)
        page = context.new_page()
        before = processor(server.process.pid)
        for n in range(entries):
            if n % len(SPOTS) == 0:
                open_amp(page, amps[n // len(SPOTS)])
            part = SPOTS[n % len(SPOTS)]
            source = "992" if part.startswith("pot") else "993"
            times += entered(page, part, f"{source}{dice.choice('345')}{dice.randint(1, 52):02d}")
        used = processor(server.process.pid) - before
        load = machine.load()
        context.close()
        phone = context_at(browser, server, PHONE)
        page = phone.new_page()
        open_amp(page, amps[-1])
        for part in SPOTS:
            hand = Hand(page, thumb=True)
            hand.spot(part)
            hand.enter("992347" if part.startswith("pot") else "993347")
            hands.append(hand.taps + hand.keys)
            hand.close()
        phone.close()
    return {
        "entries": entries,
        "keys": len(times),
        "ms": [percentile(times, p) for p in (50, 95, 100)],
        "cpu_ms": 1000 * used / max(len(times), 1),
        "median_hand": median(hands),
        "load": load,
    }


def main(words: Sequence[str] | None = None) -> None:
    """Measure, write the page."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--dossiers", type=int, default=10_000)
    asked.add_argument("--entries", type=int, default=ENTRIES)
    asked.add_argument("--work", type=Path, default=WORK, help="where the database is kept")
    asked.add_argument("--nice", type=int, default=0, help="below 0: ahead of other work here")
    asked.add_argument("--out", type=Path, help="the folder of the page")
    args = asked.parse_args(words)
    fill(args.work, args.dossiers).close()
    priority = os.nice(args.nice)  # the server inherits it
    with (
        TemporaryDirectory(prefix="keys-") as folder,
        sqlite(Path(folder) / "shop", args.work) as server,
    ):
        write({"keys": measured(server, args.entries) | {"priority": priority}}, args.out)


if __name__ == "__main__":
    main()
