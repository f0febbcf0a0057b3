"""One worker process and the queue before it: newest wins, the dead are replaced.

A lane works on one request at a time.  A request names whose it is; while it waits, a newer one of
the same owner takes its place, and whoever waited for the older one gets the newer one's answer.
"""

from __future__ import annotations

import importlib
import pickle
import signal
import threading
import traceback
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing import get_all_start_methods, get_context
from typing import Any

LIVES = 2
"""Workers that may die over one request before it is held to be the cause."""

STILLBORN = 4
"""Workers in a row that die before they are ready: something else is wrong."""


class WorkerDied(RuntimeError):
    """The process that worked on the request died, and so did the next one."""


class WorkFailed(RuntimeError):
    """The work raised; the message holds what."""


class LaneClosed(RuntimeError):
    """Nothing more is worked on."""


@dataclass(slots=True)
class _Job:
    task: Any
    futures: list[Future[Any]] = field(default_factory=list[Future[Any]])
    lives: int = LIVES


class Lane:
    """A worker process behind a queue.  Safe in any thread; the process starts with the lane.

    ``make(*initial)`` gives what is called with each task, in the worker.
    """

    def __init__(
        self, make: Callable[..., Callable[[Any], Any]], initial: tuple[Any, ...] = ()
    ) -> None:
        self._payload = pickle.dumps((make, initial))
        self._waiting: OrderedDict[str, _Job] = OrderedDict()
        self._ready = threading.Condition()
        self._closed = False
        self._process: Any = None
        self._pipe: Any = None
        self._count = 0
        self._thread = threading.Thread(target=self._run, name="lane", daemon=True)
        self._thread.start()

    def ask(self, task: Any, owner: str = "") -> Future[Any]:
        """The task that was worked on and its answer, to come.

        ``owner`` '': nobody's; nothing takes its place.
        """
        future: Future[Any] = Future()
        with self._ready:
            if self._closed:
                future.set_exception(LaneClosed("the server is closing"))
                return future
            self._count += 1
            place = owner or f"#{self._count}"
            job = self._waiting.get(place)
            if job is None:
                self._waiting[place] = _Job(task, [future])
            else:
                job.task = task
                job.futures.append(future)
            self._ready.notify()
        return future

    @property
    def pid(self) -> int | None:
        """The worker's process id, None while there is none."""
        process = self._process
        return process.pid if process is not None else None

    def close(self) -> None:
        """Stop the worker, whatever it is doing."""
        with self._ready:
            self._closed = True
            self._ready.notify()
        process, pipe = self._process, self._pipe
        if pipe is not None:
            with suppress(OSError):
                pipe.close()
        if process is not None:
            process.kill()  # it keeps nothing that could be lost
            process.join(2)
        self._thread.join(5)

    # ---- the thread

    def _run(self) -> None:
        self._start()
        while True:
            with self._ready:
                while not self._waiting and not self._closed:
                    self._ready.wait()
                if self._closed:
                    jobs = list(self._waiting.values())
                    self._waiting.clear()
                    break
                _, job = self._waiting.popitem(last=False)
            self._work(job)
        for job in jobs:
            _settle(job, LaneClosed("the server is closing"))

    def _work(self, job: _Job) -> None:
        while True:
            try:
                kind, value = self._exchange(job.task)
            except (EOFError, OSError, TypeError, ValueError) as error:
                # TypeError, ValueError: the pipe was closed under our hands
                if self._closed:
                    _settle(job, LaneClosed("the server is closing"))
                    return
                job.lives -= 1
                self._bury()
                if not job.lives or not self._start():
                    _settle(job, WorkerDied(f"the process that weighs died twice ({error!r})"))
                    return
                continue
            if kind == "failed":
                _settle(job, WorkFailed(value))
            else:
                for future in job.futures:
                    if not future.cancelled():
                        future.set_result((job.task, value))
            return

    def _exchange(self, task: Any) -> tuple[str, Any]:
        if self._pipe is None and not self._start():
            raise EOFError("no worker starts")
        pipe: Any = self._pipe
        pipe.send_bytes(pickle.dumps(task, pickle.HIGHEST_PROTOCOL))
        return pickle.loads(pipe.recv_bytes())

    def _start(self) -> bool:
        """A worker that says it is ready; False where none does."""
        for _ in range(STILLBORN):
            if self._closed:
                return False
            context = _context()
            ours, theirs = context.Pipe()
            process = context.Process(target=_serve, args=(theirs, self._payload), daemon=True)
            process.start()
            theirs.close()
            self._process, self._pipe = process, ours
            # TypeError, ValueError: the pipe was closed under our hands
            with suppress(EOFError, OSError, TypeError, ValueError):
                if pickle.loads(ours.recv_bytes())[0] == "ready":
                    return True
            self._bury()
        return False

    def _bury(self) -> None:
        process, pipe = self._process, self._pipe
        self._process = self._pipe = None
        if pipe is not None:
            with suppress(OSError):
                pipe.close()
        if process is not None:
            process.join(1)
            if process.is_alive():
                process.kill()
                process.join()


def _context() -> Any:
    """How processes are begun: never by a fork of this one, whose threads hold locks.

    Where there is one, a small server of its own forks them, with the engine already loaded.
    """
    if "forkserver" not in get_all_start_methods():
        return get_context("spawn")
    context = get_context("forkserver")
    context.set_forkserver_preload(["endbell.web.one_thread", "endbell.web.work"])
    return context


def _settle(job: _Job, error: Exception) -> None:
    for future in job.futures:
        if not future.cancelled():
            future.set_exception(error)


def _serve(pipe: Any, payload: bytes) -> None:
    """A worker's life; it leaves when the other end of the pipe is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which closes the pipe
    importlib.import_module("endbell.web.one_thread")  # before the payload brings the engine
    make, initial = pickle.loads(payload)
    work = make(*initial)
    pipe.send_bytes(pickle.dumps(("ready", None)))
    while True:
        try:
            task = pickle.loads(pipe.recv_bytes())
        except (EOFError, OSError):
            return
        try:
            said = ("done", work(task))
        except Exception:
            said = ("failed", traceback.format_exc(limit=3))
        try:
            pipe.send_bytes(pickle.dumps(said, pickle.HIGHEST_PROTOCOL))
        except (BrokenPipeError, OSError):
            return
