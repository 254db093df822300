"""The only place that starts processes: untrusted files are decoded here and nowhere else.

A worker is a spawned process that imports one module once, then takes one job after another.
It is replaced, alone, when it dies or goes past the time limit; that job fails with a sentence
and all others go on. At most one job a worker is in flight, so memory does not grow with the
number of jobs.

A job is ``function(payload)``, a module-level function. A generator function answers with one
``Part`` per value, and the time limit counts from one value to the next.
"""

from __future__ import annotations

import contextlib
import importlib
import inspect
import multiprocessing
import multiprocessing.connection
import os
import signal
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from packet.errors import PacketError, ScanError

MEMORY_HEADROOM_BYTES = 1 << 30  # address space a worker may take beyond its imports


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One value of job ``job`` (the only one, when the function is not a generator)."""

    job: int
    value: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """Job ``job`` has given all its values."""

    job: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Failed:
    """Job ``job`` ended early. ``error`` is what to say; ``reason`` how it ended."""

    job: int
    reason: Literal["refused", "timeout", "died"]
    error: ScanError


Answer = Part | Done | Failed


@dataclass(slots=True)
class _Worker:
    process: Any
    pipe: multiprocessing.connection.Connection
    job: int | None = None
    deadline: float = field(default=float("inf"))


class Workers:
    """A pool for one function: ``with Workers(function, jobs=2, time_limit_s=60) as pool``."""

    def __init__(
        self, function: Callable[[Any], Any], *, jobs: int | None = None, time_limit_s: float
    ) -> None:
        self._function = f"{function.__module__}:{function.__qualname__}"
        self._size = max(1, jobs or os.cpu_count() or 1)
        self._time_limit_s = time_limit_s
        self._workers: list[_Worker] = []
        self._context = multiprocessing.get_context("spawn")

    def __enter__(self) -> Workers:
        return self

    def __exit__(self, *_: object) -> None:
        for worker in self._workers:
            _end(worker)
        self._workers = []

    def run(self, payloads: Iterable[Any]) -> Iterator[Answer]:
        """Answers as they come; jobs are numbered from 0 in the order of ``payloads``."""
        waiting = enumerate(payloads)
        last = False
        while True:
            while not last and (worker := self._idle()) is not None:
                try:
                    number, payload = next(waiting)
                except StopIteration:
                    last = True
                    break
                self._give(worker, number, payload)
            busy = [worker for worker in self._workers if worker.job is not None]
            if not busy:
                return
            yield from self._listen(busy)

    def _idle(self) -> _Worker | None:
        for worker in self._workers:
            if worker.job is None:
                return worker
        if len(self._workers) < self._size:
            self._workers.append(self._start())
            return self._workers[-1]
        return None

    def _start(self) -> _Worker:
        ours, theirs = self._context.Pipe()
        process = self._context.Process(
            target=_serve, args=(theirs, self._function), daemon=True, name="packet-worker"
        )
        process.start()
        theirs.close()
        return _Worker(process=process, pipe=ours)

    def _give(self, worker: _Worker, number: int, payload: Any) -> None:
        worker.job = number
        worker.deadline = time.monotonic() + self._time_limit_s
        with contextlib.suppress(OSError):  # a dead worker is seen in _listen
            worker.pipe.send(payload)

    def _listen(self, busy: list[_Worker]) -> Iterator[Answer]:
        now = time.monotonic()
        patience = max(0.0, min(worker.deadline for worker in busy) - now)
        ready = multiprocessing.connection.wait(
            [worker.pipe for worker in busy], timeout=min(patience, 3600.0)
        )
        for worker in busy:
            if worker.pipe in ready:
                yield self._take(worker)
            elif time.monotonic() >= worker.deadline:
                yield self._fail(worker, "timeout")

    def _take(self, worker: _Worker) -> Answer:
        assert worker.job is not None
        job = worker.job
        try:
            message, value = worker.pipe.recv()
        except (EOFError, OSError):
            return self._fail(worker, "died")
        worker.deadline = time.monotonic() + self._time_limit_s
        if message == "part":
            return Part(job=job, value=value)
        worker.job = None
        worker.deadline = float("inf")
        if message == "done":
            return Done(job=job)
        return Failed(job=job, reason="refused", error=value)

    def _fail(self, worker: _Worker, reason: Literal["timeout", "died"]) -> Failed:
        assert worker.job is not None
        job = worker.job
        self._workers.remove(worker)
        _end(worker)
        if reason == "timeout":
            error = ScanError(
                f"took longer than {self._time_limit_s:g} seconds to read and was given up.",
                "Scan it again, or save it as a plain JPEG or PDF.",
            )
        else:
            error = ScanError(
                "made the reading process stop: the file is damaged or needs too much memory.",
                "Scan it again at 300 dpi, or save it as a plain JPEG or PDF.",
            )
        return Failed(job=job, reason=reason, error=error)


def _end(worker: _Worker) -> None:
    worker.pipe.close()
    worker.process.kill()
    worker.process.join(5)


# --- inside a worker -----------------------------------------------------------------------


def _serve(pipe: multiprocessing.connection.Connection, function_name: str) -> None:
    """A worker's life: import, limit, then job after job until the pipe closes."""
    with contextlib.suppress(ValueError, OSError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.environ.pop("PACKET_PASSWORD", None)
    _hush()
    module_name, _, name = function_name.partition(":")
    function = getattr(importlib.import_module(module_name), name)
    warm = getattr(importlib.import_module(module_name), "warm_up", None)
    if warm is not None:
        warm()
    _limit_memory()
    while True:
        try:
            payload = pipe.recv()
        except (EOFError, OSError):
            return
        try:
            _answer(pipe, function, payload)
        except (BrokenPipeError, EOFError):
            return


def _answer(
    pipe: multiprocessing.connection.Connection, function: Callable[[Any], Any], payload: Any
) -> None:
    try:
        result = function(payload)
        if inspect.isgenerator(result):
            for value in result:
                pipe.send(("part", value))
        else:
            pipe.send(("part", result))
    except ScanError as error:
        pipe.send(("failed", error))
    except (BrokenPipeError, EOFError):
        raise
    except MemoryError:
        pipe.send(
            ("failed", ScanError("needs more memory than allowed.", "Scan it again at 300 dpi."))
        )
    except PacketError as error:
        pipe.send(("failed", ScanError(str(error), "")))
    except Exception as error:
        if os.environ.get("PACKET_DEBUG"):
            import traceback

            traceback.print_exc()
        what = f"cannot be read (the reader failed with {type(error).__name__})."
        pipe.send(("failed", ScanError(what, "Scan it again, or save it as a plain JPEG or PDF.")))
    else:
        pipe.send(("done", None))


def _hush() -> None:
    """Native readers write about damaged files to standard error; the findings say it better."""
    if not os.environ.get("PACKET_DEBUG"):
        os.dup2(os.open(os.devnull, os.O_WRONLY), 2)


def _limit_memory() -> None:
    """Cap the address space at what the imports took plus the headroom, where POSIX has it."""
    if sys.platform == "win32":
        return
    import resource

    with contextlib.suppress(OSError, ValueError):
        pages = int(Path("/proc/self/statm").read_text("ascii").split()[0])
        limit = pages * resource.getpagesize() + MEMORY_HEADROOM_BYTES
        resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
