"""Any amount of work on every core, in chunks; a worker's death costs its chunk again, no more.

Workers are processes of our own with a pipe each way, so that it is known which chunk a worker held
when it died.  Nothing is shared, nothing is left behind: when the caller dies, its workers see the
end of their pipe and leave.
"""

from __future__ import annotations

import os
import pickle
import signal
import threading
import traceback
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from multiprocessing import connection, get_context
from queue import SimpleQueue
from typing import Any, TypeVar

Key = TypeVar("Key")
Result = TypeVar("Result")

THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
HELD = 2  # chunks at a worker: the one in hand and the next, so that it never waits for us
DEATHS = 2  # of workers over one chunk (or one item), before the chunk is held to be the cause
STILLBORN = 4  # workers in a row that die before they are ready: something else is wrong


class PoolError(Exception):
    """The work can't go on; ``str()`` says why."""


class WorkFailed(PoolError):
    """``work`` raised in a worker.  ``trace``: the worker's traceback, where there is one."""

    def __init__(self, said: str, trace: str = "") -> None:
        self.trace = trace
        super().__init__(said)
        if trace:
            self.add_note(trace)


class WorkersDie(PoolError):
    """Workers die before they begin, or over a chunk that nobody mends."""


@dataclass(frozen=True, slots=True)
class Mending:
    """What to do about a chunk that kills its workers: halve it, down to the item that kills.

    Chunks must then be sequences.  ``join`` makes the chunk's result of its pieces' results, in
    order; ``lost(item, reason)`` gives the result for the one item that killed its worker twice.
    """

    join: Callable[[Sequence[Any]], Any]
    lost: Callable[[Any, str], Any]


def cores() -> int:
    """How many cores this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not on Linux
        return os.cpu_count() or 1


def run_chunks(
    work: Callable[..., Callable[[Any], Result]],
    chunks: Iterable[tuple[Key, Any]],
    workers: int,
    initial: tuple[Any, ...] = (),
    *,
    mending: Mending | None = None,
) -> Iterator[tuple[Key, Result]]:
    """Work through ``chunks`` in ``workers`` processes; (key, result) of each as it is finished.

    ``work(*initial)`` is called once in every worker, and what it returns is called with each
    chunk: a class with ``__init__`` and ``__call__``, or a function that returns one, is the place
    for what is costly to make and worth keeping (packs, a Workspace).  ``work``, ``initial``,
    chunks and results must pickle; ``work`` must be importable (no lambda).  ``chunks`` gives
    (key, chunk) and is read only as fast as workers come free: at most ``2 * workers`` chunks are
    in flight, and memory stays flat.  Results come in the order in which they were finished.

    Workers are spawned with one thread for linear algebra each, and ignore Ctrl-C: that is for the
    caller, who closes this generator (or lets it go) to stop them.  A worker that is killed is
    replaced and its chunk done again.  A chunk that kills two workers is halved, and its halves,
    down to the one item, as ``mending`` says; without one, :class:`WorkersDie` is raised.  An
    exception in ``work`` is no death: it is raised here as :class:`WorkFailed`.

    ``workers=0``: no processes, all in this one (no safety from what kills it).
    """
    if workers == 0:
        call = work(*initial)
        for key, chunk in chunks:
            yield key, call(chunk)
        return
    crew = _Crew(pickle.dumps((work, initial)), workers, mending)
    try:
        yield from crew.run(iter(chunks))
    finally:
        crew.stop()


@dataclass(slots=True)
class Whole:
    """A chunk as the caller knows it, and the results of the pieces it had to be broken into."""

    key: Any
    pieces: dict[int, Any] = field(default_factory=dict[int, Any])
    left: int = 1
    broken: bool = False

    def finished(self, start: int, result: Any, mending: Mending | None) -> list[tuple[Any, Any]]:
        """Note a piece's result; the chunk's own, in a list, when that was the last of them."""
        self.pieces[start] = result
        self.left -= 1
        if self.left:
            return []
        if not self.broken:
            return [(self.key, result)]
        assert mending is not None
        return [(self.key, mending.join([self.pieces[n] for n in sorted(self.pieces)]))]


@dataclass(slots=True)
class Piece:
    """A chunk, or a part of one that killed its workers; ``start``: its first item's place."""

    whole: Whole
    start: int
    chunk: Any
    lives: int = DEATHS

    def halves(self) -> tuple[Piece, Piece]:
        """The two halves; a half of what is known to kill has one life, a single item two."""
        self.whole.broken = True
        self.whole.left += 1
        cut = len(self.chunk) // 2
        parts = ((self.start, self.chunk[:cut]), (self.start + cut, self.chunk[cut:]))
        first, second = (Piece(self.whole, n, c, DEATHS if len(c) == 1 else 1) for n, c in parts)
        return first, second


def after_death(
    piece: Piece, reason: str, mending: Mending | None
) -> tuple[list[Piece], list[tuple[Any, Any]]]:
    """What a worker's death over ``piece`` means: pieces to do again, results that are final."""
    piece.lives -= 1
    if piece.lives > 0:
        return [piece], []
    if mending is None:
        raise WorkersDie(f"chunk {piece.whole.key!r} ends its workers ({reason})")
    if len(piece.chunk) > 1:
        return list(piece.halves()), []
    lost = mending.lost(piece.chunk[0], reason)
    piece.whole.broken = True
    return [], piece.whole.finished(piece.start, lost, mending)


class _Worker:
    """One process, what it was given and has not answered yet."""

    def __init__(self, payload: bytes) -> None:
        context = get_context("spawn")  # a fork would copy the caller's threads' locks
        tasks, self.tasks = context.Pipe(duplex=False)
        self.answers, answers = context.Pipe(duplex=False)
        self.process = context.Process(target=_serve, args=(tasks, answers, payload), daemon=True)
        with _quiet_start():
            self.process.start()
        tasks.close()
        answers.close()
        self.given: deque[Piece] = deque()
        self.ready = False

    def give(self, piece: Piece) -> None:
        self.given.append(piece)
        with suppress(OSError):  # it has died: the end of its answers will say so
            self.tasks.send_bytes(pickle.dumps(piece.chunk, pickle.HIGHEST_PROTOCOL))

    def why_dead(self) -> str:
        self.process.join(5)
        code = self.process.exitcode
        if code is not None and code < 0:
            return f"its process was killed by signal {-code}"
        return f"its process ended with status {code}"

    def close(self) -> None:
        self.tasks.close()
        self.answers.close()


class _Crew:
    def __init__(self, payload: bytes, workers: int, mending: Mending | None) -> None:
        self._payload = payload
        self._size = workers
        self._mending = mending
        self._workers: list[_Worker] = []
        self._again: deque[Piece] = deque()
        self._stillborn = 0

    def run(self, source: Iterator[tuple[Any, Any]]) -> Iterator[tuple[Any, Any]]:
        more = True
        while True:
            more = self._hand_out(source, more)
            if not any(worker.given for worker in self._workers):
                return
            for worker in self._speaking():
                yield from self._hear(worker)

    def stop(self) -> None:
        for worker in self._workers:
            worker.close()  # the end of its tasks: it leaves, whatever it is doing
        for worker in self._workers:
            worker.process.join(5)
            if worker.process.is_alive():
                worker.process.kill()
                worker.process.join()
        self._workers.clear()

    def _hand_out(self, source: Iterator[tuple[Any, Any]], more: bool) -> bool:
        """Give every worker what it may hold, the next to one that has least; whether more may
        come."""
        while True:
            free = min(self._workers, key=lambda w: len(w.given), default=None)
            if free is None or (free.given and len(self._workers) < self._size):
                free = None  # rather a new worker than a second chunk for one
            elif len(free.given) >= HELD:
                return more
            if self._again:
                piece = self._again.popleft()
            elif more and (found := next(source, None)) is not None:
                piece = Piece(Whole(found[0]), 0, found[1])
            else:
                return False
            if free is None:
                free = _Worker(self._payload)
                self._workers.append(free)
            free.give(piece)

    def _speaking(self) -> list[_Worker]:
        by_pipe = {worker.answers: worker for worker in self._workers}
        return [by_pipe[pipe] for pipe in connection.wait(list(by_pipe))]  # type: ignore[index]

    def _hear(self, worker: _Worker) -> Iterator[tuple[Any, Any]]:
        try:
            kind, value = pickle.loads(worker.answers.recv_bytes())
        except (EOFError, OSError):
            yield from self._bury(worker)
            return
        if kind == "failed":
            raise WorkFailed(*value)
        if kind == "ready":
            worker.ready = True
            self._stillborn = 0
            return
        piece = worker.given.popleft()
        yield from piece.whole.finished(piece.start, value, self._mending)

    def _bury(self, worker: _Worker) -> Iterator[tuple[Any, Any]]:
        """A dead worker's chunk in hand is to blame, perhaps; the next in its queue is not."""
        self._workers.remove(worker)
        reason = worker.why_dead()
        worker.close()
        final: list[tuple[Any, Any]] = []
        if worker.ready:
            in_hand = worker.given.popleft() if worker.given else None
            if in_hand is not None:
                again, final = after_death(in_hand, reason, self._mending)
                self._again.extendleft(reversed([*again, *worker.given]))
        else:
            self._stillborn += 1
            if self._stillborn >= STILLBORN:
                raise WorkersDie(f"workers die before they begin ({reason})")
            self._again.extendleft(reversed(worker.given))
        yield from final


@contextmanager
def _quiet_start() -> Iterator[None]:
    """The process about to start has one thread for linear algebra and does not hear Ctrl-C.

    Both are inherited, so they hold before its first line is run.
    """
    before = {name: os.environ.get(name) for name in THREADS}
    os.environ.update(dict.fromkeys(THREADS, "1"))
    main = threading.current_thread() is threading.main_thread()
    heard = signal.signal(signal.SIGINT, signal.SIG_IGN) if main else None
    try:
        yield
    finally:
        if main:
            signal.signal(signal.SIGINT, heard)
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def _serve(tasks: Any, answers: Any, payload: bytes) -> None:
    """A worker's life: make what the work needs, then one chunk after the other."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    waiting: SimpleQueue[bytes] = SimpleQueue()
    threading.Thread(target=_receive, args=(tasks, waiting), daemon=True).start()
    try:
        work, initial = pickle.loads(payload)
        call = work(*initial)
        answers.send(("ready", None))
        while True:
            answers.send(("done", call(pickle.loads(waiting.get()))))
    except BrokenPipeError:
        os._exit(1)  # the caller is gone
    except BaseException as error:
        said = f"the work failed in a worker: {type(error).__name__}: {error}"
        answers.send(("failed", (said, traceback.format_exc())))


def _receive(tasks: Any, waiting: SimpleQueue[bytes]) -> None:
    """Take chunks off the pipe at once, so that the caller never waits; leave when it ends."""
    try:
        while True:
            waiting.put(tasks.recv_bytes())
    except (EOFError, OSError):
        os._exit(0)  # even in the middle of a chunk: nobody is there to take its result
