"""Worker processes: a bounded few that answer what takes long, so that the serving process stays free for phones.

Python runs one thread at a time, so that work in a thread makes every other request wait, however few the threads are.
A worker is a process with an application of its own, started anew ("spawn": nothing of the server's threads is copied).
It has the priority of the serving process: one that held the database and did not get to run would hold up the writers.
Requests go to it as they came, over a pipe; what it answers comes back in pieces, each
asked for, so that a worker never runs ahead of a slow reader.

    to the worker     (environ, body), then for each piece True for one more, False for no more
    from the worker   (status, headers), then pieces of bytes, then None
"""

from __future__ import annotations

import logging
import multiprocessing
import signal
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from io import BytesIO
from multiprocessing.connection import Connection
from queue import Empty, LifoQueue
from threading import BoundedSemaphore, Lock
from typing import Any, Final

LOG = logging.getLogger("pencilbag")

WAITING: Final = 14
"""Requests that may wait for a worker; each keeps a thread of the server."""
PATIENCE_S: Final = 10.0
"""How long one of them waits: shorter than a phone does, so that it learns why."""
LONGEST_S: Final = 600.0
"""How long a worker may be silent before it is ended."""

Application = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]
Maker = Callable[[Mapping[str, Any]], Application]


class OverloadedError(RuntimeError):
    """All workers are busy, and as many requests as may wait do."""


class WorkerDiedError(RuntimeError):
    """A worker ended in the middle of its work; a new one has taken its place."""


@dataclass
class Answered:
    """What a worker answers: `pieces` come as they are made, and are to be closed when nobody wants them any more."""

    status: str
    headers: list[tuple[str, str]]
    pieces: Iterator[bytes]


@dataclass
class _Worker:
    process: Any
    pipe: Connection


@dataclass
class Workers:
    """`count` processes that answer with the application that `maker(config)` makes. `maker` is a function of a module,
    for it is called in the new process."""

    maker: Maker
    config: Mapping[str, Any]
    count: int
    waiting: int = WAITING
    patience_s: float = PATIENCE_S
    longest_s: float = LONGEST_S
    _idle: LifoQueue[_Worker] = field(default_factory=LifoQueue, init=False)
    _all: list[_Worker] = field(default_factory=list, init=False)
    _lock: Lock = field(default_factory=Lock, init=False)
    _closed: bool = field(default=False, init=False)

    def __post_init__(self) -> None:
        self._admitted = BoundedSemaphore(self.count + self.waiting)
        for _ in range(self.count):
            self._start()

    def answer(self, environ: Mapping[str, Any], body: bytes) -> Answered:
        """Have a worker answer a request. Raises OverloadedError when none will be free soon, and Died."""
        if not self._admitted.acquire(blocking=False):
            raise OverloadedError
        try:
            worker = self._idle.get(timeout=self.patience_s)
        except Empty:
            self._admitted.release()
            raise OverloadedError from None
        try:
            self._send(worker, ({name: environ[name] for name in environ if isinstance(environ[name], str)}, body))
            status, headers = self._received(worker)
        except BaseException:
            self._give_back(worker, well=False)
            raise
        return Answered(status, headers, self._pieces(worker))

    def pids(self) -> list[int]:
        """The processes."""
        with self._lock:
            return [worker.process.pid for worker in self._all]

    def close(self) -> None:
        """End every worker; one that is at work is not waited for."""
        with self._lock:
            self._closed, ended = True, list(self._all)
        for worker in ended:
            _end(worker)

    def _pieces(self, worker: _Worker) -> Iterator[bytes]:
        well = False
        try:
            while True:
                self._send(worker, True)
                piece = self._received(worker)
                if piece is None:
                    well = True
                    return
                yield piece
        except GeneratorExit:
            self._send(worker, False)
            well = self._received(worker) is None
            raise
        finally:
            self._give_back(worker, well=well)

    @staticmethod
    def _send(worker: _Worker, what: Any) -> None:
        try:
            worker.pipe.send(what)
        except OSError as error:
            raise WorkerDiedError from error

    def _received(self, worker: _Worker) -> Any:
        try:
            if worker.pipe.poll(self.longest_s):
                return worker.pipe.recv()
        except (EOFError, OSError) as error:
            raise WorkerDiedError from error
        LOG.error("a worker was silent for %g s and is ended", self.longest_s)
        raise WorkerDiedError

    def _start(self) -> None:
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(target=_work, args=(theirs, self.maker, self.config), daemon=True)
        process.start()
        theirs.close()
        worker = _Worker(process, ours)
        with self._lock:
            self._all.append(worker)
        self._idle.put(worker)

    def _give_back(self, worker: _Worker, *, well: bool) -> None:
        if well:
            self._idle.put(worker)
        else:
            with self._lock:
                self._all.remove(worker)
            _end(worker)
            if not self._closed:
                self._start()
        self._admitted.release()


def _end(worker: _Worker) -> None:
    worker.pipe.close()
    worker.process.terminate()
    worker.process.join(5)
    if worker.process.is_alive():
        worker.process.kill()
        worker.process.join()


def _work(pipe: Connection, maker: Maker, config: Mapping[str, Any]) -> None:
    """The entire life of a worker: it ends with the process that started it."""
    # Ctrl-C reaches every process of a terminal: the serving one says when to end.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    application = maker(config)
    with suppress(EOFError, OSError):
        while True:
            environ, body = pipe.recv()
            _answer(application, pipe, environ, body)


def _answer(application: Application, pipe: Connection, environ: dict[str, Any], body: bytes) -> None:
    begun: list[Any] = []

    def start(status: str, headers: list[tuple[str, str]], _error: Any = None) -> Callable[[bytes], None]:
        begun[:] = [(status, headers)]
        return _no_writing

    pieces = application(_full_environment(environ, body), start)
    try:
        pipe.send(begun[0])
        for piece in pieces:
            if not piece:
                continue
            if not pipe.recv():
                break
            pipe.send(piece)
        else:
            pipe.recv()
    finally:
        close = getattr(pieces, "close", None)
        if close is not None:
            close()
    pipe.send(None)


def _full_environment(environ: dict[str, Any], body: bytes) -> dict[str, Any]:
    """The environment of a request as PEP 3333 asks for it."""
    return environ | {
        "CONTENT_LENGTH": str(len(body)),
        "wsgi.version": (1, 0),
        "wsgi.input": BytesIO(body),
        "wsgi.input_terminated": True,
        "wsgi.errors": sys.stderr,
        "wsgi.multithread": False,
        "wsgi.multiprocess": True,
        "wsgi.run_once": False,
    }


def _no_writing(_data: bytes) -> None:
    raise NotImplementedError("answers are iterated over, not written")
