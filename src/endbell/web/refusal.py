"""What a request is refused with: a status, what was found, what would be accepted."""

from __future__ import annotations

from starlette.exceptions import HTTPException


class Refusal(Exception):
    """A request that can't be done.

    Raised anywhere in a route; answered as a page, as a fragment for htmx, or as JSON.
    """

    def __init__(
        self,
        status: int,
        found: str,
        accepted: str = "",
        *,
        headers: dict[str, str] | None = None,
        place: str = "",
    ) -> None:
        super().__init__(found)
        self.status = status
        self.found = found
        self.accepted = accepted
        self.headers = headers or {}
        self.place = place


class Stopped(HTTPException):
    """A refusal raised while a body is being read.

    What reads bodies takes any other exception for a fault of the body.
    """

    def __init__(self, refusal: Refusal) -> None:
        super().__init__(refusal.status, refusal.found)
        self.refusal = refusal


class NotSignedIn(Refusal):
    """Nobody is signed in: a page leads to the sign-in, anything else is told so."""

    def __init__(self) -> None:
        super().__init__(401, "nobody is signed in", "a request after signing in")


def no_right(role: str, needed: str) -> Refusal:
    """What one's role does not allow."""
    return Refusal(403, f"you are signed in as {role}", f"this from a {needed} on")


def not_found(what: str) -> Refusal:
    """Nothing there, or nothing one may know of: both are said alike."""
    return Refusal(404, f"there is no {what}", "an address that a page of the workbench gave")
