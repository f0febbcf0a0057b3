"""The same work on the machines of a Dask scheduler, chunk by chunk.

Dask moves the chunks and starts them again when a machine goes; what is kept, in which order, and
what becomes of a chunk that kills its worker is decided here as for processes of our own.
"""

from __future__ import annotations

import pickle
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from queue import SimpleQueue
from typing import Any, TypeVar

from .errors import NoScheduler
from .pool import HELD, Mending, Piece, Whole, WorkFailed, after_death

Key = TypeVar("Key")
Result = TypeVar("Result")

ANSWERS_WITHIN = 10  # seconds, for a scheduler
WORKERS_WITHIN = 60  # seconds, for its first worker

_made = threading.local()


def run_on_dask(
    work: Callable[..., Callable[[Any], Result]],
    chunks: Iterable[tuple[Key, Any]],
    address: str,
    initial: tuple[Any, ...] = (),
    *,
    mending: Mending | None = None,
) -> Iterator[tuple[Key, Result]]:
    """As :func:`endbell.batch.pool.run_chunks`, on the workers of the scheduler at ``address``.

    At most two chunks a thread of theirs are in flight.  ``work(*initial)`` is called once in every
    thread.  Endbell, in the same version, must be installed where they run.  Raises
    :class:`NoScheduler` where Dask Distributed is missing or nobody answers.
    """
    try:
        from distributed import Client
        from distributed.scheduler import KilledWorker
    except ImportError:
        raise NoScheduler(
            "--scheduler needs Dask Distributed (pip install 'endbell[scale]'); without it the work"
            " is done by processes of this machine"
        ) from None
    try:
        client: Any = Client(address, timeout=ANSWERS_WITHIN, set_as_default=False)
    except (OSError, ValueError) as error:
        said = " ".join(str(error).split()) or type(error).__name__
        raise NoScheduler(f"no Dask scheduler answers at {address} ({said})") from None
    try:
        yield from _through(client, KilledWorker, iter(chunks), (work, initial), mending)
    finally:
        client.close()


def _through(
    client: Any,
    killed: type[Exception],
    source: Iterator[tuple[Any, Any]],
    job: tuple[Any, Any],
    mending: Mending | None,
) -> Iterator[tuple[Any, Any]]:
    try:
        client.wait_for_workers(1, timeout=WORKERS_WITHIN)
    except TimeoutError:
        raise NoScheduler(f"the scheduler has had no worker for {WORKERS_WITHIN} s") from None
    payload = pickle.dumps(job)
    flying: dict[Any, Piece] = {}
    again: deque[Piece] = deque()
    # A scheduler counts a death against all that waited on that worker.  What is to be called
    # deadly is tried once more with nothing beside it.
    accused: deque[Piece] = deque()
    alone = False
    landed: SimpleQueue[Any] = SimpleQueue()

    def send() -> None:
        nonlocal alone
        if alone and flying:
            return
        alone = False
        room = HELD * sum(client.nthreads().values())
        while len(flying) < max(room, 1) and not alone:
            if again:
                piece = again.popleft()
            elif (found := next(source, None)) is not None:
                piece = Piece(Whole(found[0]), 0, found[1])
            elif accused and not flying:
                piece, alone = accused.popleft(), True
            else:
                return
            future = client.submit(on_worker, payload, piece.chunk, pure=False)
            flying[future] = piece
            future.add_done_callback(landed.put)

    send()
    while flying:
        future = landed.get()
        piece = flying.pop(future)
        if future.status == "finished":
            result = future.result()
            future.release()
            send()
            yield from piece.whole.finished(piece.start, result, mending)
            continue
        error = future.exception() if future.status == "error" else None
        future.release()
        if isinstance(error, killed) and not alone and (len(piece.chunk) == 1 or mending is None):
            accused.append(piece)
        elif isinstance(error, killed):
            piece.lives = 1  # the scheduler has tried it on several workers already
            pieces, final = after_death(piece, "on several workers of the scheduler", mending)
            again.extend(pieces)
            yield from final
        elif error is None:
            raise NoScheduler(f"the scheduler gave a chunk up ({future.status})")
        else:
            raise WorkFailed(f"the work failed in a worker: {type(error).__name__}: {error}")
        send()


def on_worker(payload: bytes, chunk: Any) -> Any:
    """One chunk, on a worker; what the work needs is made once in each of its threads."""
    if getattr(_made, "payload", None) != payload:
        work, initial = pickle.loads(payload)
        _made.call, _made.payload = work(*initial), payload
    return _made.call(chunk)
