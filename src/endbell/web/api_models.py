"""What goes into the API and what comes out, each thing with its form."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, JsonValue

from ..store import DossierState, Event
from ..store.state import MarkRow, PhotoRow

Id = Annotated[str, Field(description="a ULID")]
At = Annotated[str, Field(description="UTC, ISO 8601")]
Key = Annotated[
    str,
    Field(
        pattern=r"^[0-9A-Za-z._-]{8,40}$",
        description="made by the sender, a ULID say; the same key again records nothing more",
    ),
]
Table = dict[str, JsonValue]


class Form(BaseModel):
    """What is sent: a key that nobody knows is a mistake."""

    model_config = ConfigDict(extra="forbid")


class Problem(BaseModel):
    """Why a request was not done."""

    status: int
    found: str
    accepted: str
    place: str


class Refused(BaseModel):
    """The one form of an error."""

    error: Problem


class Me(BaseModel):
    """Who asks."""

    name: str
    role: Literal["reader", "technician", "owner"]
    device: str


class DossierLine(BaseModel):
    """A dossier in a list."""

    id: Id
    number: str
    version: int
    maker: str
    model: str
    built: str
    whose: str
    purpose: str
    marks: int
    closed: bool
    opened_at: At
    changed_at: At


class DossierList(BaseModel):
    """Some dossiers, the last changed first; ``after``: what to ask for the next ones with."""

    dossiers: list[DossierLine]
    after: str | None


class Mark(BaseModel):
    """A mark: ``row`` has the keys of ``[[mark]]`` in a dossier file."""

    id: Id
    n: int | None = Field(description="its number in the form; none where it is withdrawn")
    row: dict[str, Any]
    withdrawn: bool
    by: str
    at: At


class Photo(BaseModel):
    """A photo, by the SHA-256 of its original."""

    sha256: str
    name: str
    type: str
    bytes: int
    mark: str | None
    part: str | None
    taken: str | None
    width: int | None
    height: int | None
    withdrawn: bool


class State(BaseModel):
    """Everything recorded about one amp, now."""

    id: Id
    number: str
    version: int
    head: dict[str, Any]
    claim: dict[str, Any]
    known: dict[str, Any]
    intake: dict[str, Any]
    marks: list[Mark]
    parts: list[dict[str, Any]]
    repairs: list[dict[str, Any]]
    photos: list[Photo]
    tags: list[str]
    note: str
    closed: bool
    opened_at: At
    changed_at: At
    undone: list[int]


class Opening(Form):
    """A dossier to be opened."""

    key: Key
    number: Annotated[str, Field(min_length=1, max_length=80)]
    purpose: Annotated[str, Field(max_length=40)] = ""
    packs: Annotated[list[str], Field(max_length=50)] = Field(default_factory=list)
    claim: Table = Field(default_factory=dict)
    intake: Table = Field(default_factory=dict)


class ChangeIn(Form):
    """A change: its kind and what that carries."""

    kind: Annotated[str, Field(max_length=32)]
    data: Table = Field(default_factory=dict)
    typed: Annotated[
        str | None,
        Field(
            pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?Z$",
            description="when it was typed, UTC, where that was earlier",
        ),
    ] = None


class Changes(Form):
    """Changes of one dossier, recorded all or none."""

    key: Key
    changes: Annotated[list[ChangeIn], Field(min_length=1, max_length=200)]


class EventOut(BaseModel):
    """A change as recorded."""

    n: int
    at: At
    who: str
    device: str
    kind: str
    data: dict[str, Any]
    key: str
    typed: str | None
    digest: str


class Recorded(BaseModel):
    """What was recorded; ``repeated``: the key had come before, nothing was added."""

    dossier: Id
    version: int
    repeated: bool
    events: list[EventOut]


class History(BaseModel):
    """The events of a dossier in order."""

    dossier: Id
    events: list[EventOut]


class VerdictOut(BaseModel):
    """The verdict on a dossier as it is in ``version``.

    ``verdict``: as ``endbell weigh --json`` gives it; none where nothing can be weighed, and
    ``trouble`` says why.
    """

    dossier: Id
    version: int
    says: str
    verdict: dict[str, Any] | None
    trouble: str


class Photos(BaseModel):
    """The photos of a dossier."""

    dossier: Id
    photos: list[Photo]


class PackLine(BaseModel):
    """A pack that a dossier can name."""

    id: str
    title: str
    version: str


class PackList(BaseModel):
    """The packs."""

    packs: list[PackLine]


def mark_out(state: DossierState, mark: MarkRow) -> Mark:
    """A mark for the API."""
    standing = [m.id for m in state.standing]
    n = standing.index(mark.id) + 1 if mark.id in standing else None
    return Mark(
        id=mark.id, n=n, row=dict(mark.row), withdrawn=mark.withdrawn, by=mark.by, at=mark.at
    )


def photo_out(photo: PhotoRow) -> Photo:
    """A photo for the API."""
    return Photo(**{name: getattr(photo, name) for name in Photo.model_fields})


def state_out(state: DossierState) -> State:
    """A dossier for the API."""
    return State(
        id=state.id,
        number=state.number,
        version=state.version,
        head=dict(state.head),
        claim=dict(state.claim),
        known=dict(state.known),
        intake=dict(state.intake),
        marks=[mark_out(state, mark) for mark in state.marks],
        parts=[dict(row) for row in state.parts],
        repairs=[dict(row) for row in state.repair_rows],
        photos=[photo_out(photo) for photo in state.photos],
        tags=list(state.tags),
        note=state.note,
        closed=state.closed,
        opened_at=state.opened_at,
        changed_at=state.changed_at,
        undone=list(state.undone),
    )


def event_out(event: Event) -> EventOut:
    """An event for the API."""
    return EventOut(
        n=event.n,
        at=event.at,
        who=event.who,
        device=event.device,
        kind=event.kind,
        data=dict(event.data),
        key=event.key,
        typed=event.typed,
        digest=event.digest,
    )
