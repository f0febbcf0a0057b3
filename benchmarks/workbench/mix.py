"""What a busy shop asks of its workbench, and how often: requests drawn with a fixed seed."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote, urlencode

from endbell.store import new_id

from .client import Asked

WEIGHTS: Mapping[str, float] = {
    "list": 4,
    "search while typing": 8,
    "dossier page": 5,
    "strip": 5,
    "amp": 4,
    "panels": 3.5,
    "panels, first time": 0.5,
    "entry sheet": 5,
    "preview while typing": 6,
    "entry": 2,
    "photo in small": 4,
    "API": 3,
}
"""Class of request -> times in fifty."""

SAID: Mapping[str, str] = {
    "list": "a page of fifty of all dossiers, by last change, number or year",
    "search while typing": "the list with one more letter of a code, a name or a number",
    "dossier page": "the page of any amp",
    "strip": "the verdict in brief of any amp",
    "amp": "the drawing of a side and its spots, any amp",
    "panels": "time line, next, why of the amps on the bench",
    "panels, first time": "the same of an amp that nobody has opened since the start",
    "entry sheet": "what comes up when a spot is tapped",
    "preview while typing": "what a code means so far, and the strip with it, amps on the bench",
    "entry": "a mark recorded, its new strip in the answer, amps on the bench",
    "photo in small": "the thumbnail of a photo",
    "API": "an amp's state, history or a search, as JSON",
}

SPOTS = ("ot", "pt", "chart", "faceplate", "covering", "chassis", "cab", "back")
SIDES = ("front", "back", "papers")
PANELS = ("timeline", "next", "why")
SOURCES = {"sp-1": "995", "ot": "993", "pt": "993", "choke": "993", "pot-1": "992"}
WORDS = ("993-", "992-34", "995-", "counter", "estate", "regular", "LOAD-00", "LOAD-004", "lantern")
FORM = {"Content-Type": "application/x-www-form-urlencoded", "HX-Request": "true"}


@dataclass(frozen=True)
class Shop:
    """What can be asked about.  ``bench``: the amps that are worked on; ``proof``: of a page."""

    dossiers: Sequence[str]
    bench: Sequence[str]
    photos: Sequence[str]
    proof: str


def requests(shop: Shop, count: int, seed: int = 1) -> Iterator[Asked]:
    """So many requests, their classes in the shares of :data:`WEIGHTS`."""
    dice = random.Random(seed)
    names, weights = list(WEIGHTS), list(WEIGHTS.values())
    fresh = iter(dice.sample(shop.dossiers, min(count, len(shop.dossiers))))
    for name in dice.choices(names, weights, k=count):
        yield _request(name, shop, dice, fresh)


def _request(name: str, shop: Shop, dice: random.Random, fresh: Iterator[str]) -> Asked:
    any_one, worked_on = f"/dossiers/{dice.choice(shop.dossiers)}", dice.choice(shop.bench)
    on_bench = f"/dossiers/{worked_on}"
    match name:
        case "list":
            sort = dice.choice(("changed", "number", "year"))
            return Asked(name, f"/dossiers?sort={sort}&page={dice.randint(1, 40)}")
        case "search while typing":
            return _search(name, dice)
        case "dossier page":
            return Asked(name, any_one)
        case "strip":
            return Asked(name, f"{any_one}/strip")
        case "amp":
            return Asked(name, f"{any_one}/amp?view={dice.choice(SIDES)}")
        case "panels":
            return Asked(name, f"{on_bench}/{dice.choice(PANELS)}")
        case "panels, first time":
            return Asked(name, f"/dossiers/{next(fresh)}/{dice.choice(PANELS)}")
        case "entry sheet":
            headers = {"HX-Request": "true"}
            return Asked(name, f"{any_one}/spots/{dice.choice(SPOTS)}", headers=headers)
        case "preview while typing":
            return _typed(name, f"{on_bench}/preview", shop, dice, whole=False)
        case "entry":
            return _typed(name, f"{on_bench}/marks", shop, dice, whole=True)
        case "photo in small":
            return Asked(name, f"/photos/{dice.choice(shop.photos)}/thumb")
        case _:
            one = any_one.removeprefix("/dossiers/")
            path = dice.choice(
                (f"/{one}", f"/{one}/history", f"?search={quote(dice.choice(WORDS))}&limit=50")
            )
            return Asked(name, f"/api/v1/dossiers{path}")


def _search(name: str, dice: random.Random) -> Asked:
    """The next letter of a word, as the search field sends it."""
    word = dice.choice(WORDS)
    if word[-1] in "-40":
        word += f"{dice.randrange(10**3):03d}"
    word = word[: dice.randint(2, len(word))]
    return Asked(name, f"/dossiers?q={quote(word)}", headers={"HX-Target": "list"})


def _typed(name: str, path: str, shop: Shop, dice: random.Random, *, whole: bool) -> Asked:
    """A code in the entry sheet, whole or as far as it has come."""
    part = dice.choice(list(SOURCES))
    code = f"{SOURCES[part]}{dice.randrange(10)}{dice.randint(1, 52):02d}"
    sent = {
        "part": part,
        "look": "source-date-code",
        "kind": "source-date-code",
        "text": code if whole else code[: dice.randint(3, 6)],
        "legibility": "clear",
        "key": new_id(),
        "mark": new_id(),
    }
    headers = {**FORM, "X-CSRF-Token": shop.proof}
    return Asked(name, path, "POST", headers, urlencode(sent).encode())
