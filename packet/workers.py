"""The only place that starts processes: untrusted files are decoded here and nowhere else.

A worker is a new process (``packet.spawn``) that imports one module once, then takes one job
after another. It is replaced, alone, when it dies, goes past a time limit or holds too much memory;
that job fails with a sentence and all others go on. At most one job a worker is in flight, so
memory does not grow with the number of jobs. What a worker inherits and may do is in
``packet.confine``.

A job is ``function(payload)``, a module-level function. A generator function answers with one
``Part`` per value; the time limit counts from one value to the next, and ``JOB_TIMES`` as long
is the limit for all values of a job.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import os
import time
from collections.abc import Callable, Generator, Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Literal

from packet import allowance
from packet.confine import (
    give_up_rights,
    limit_address_space,
    resident_bytes,
    settle,
)
from packet.errors import PacketError, ScanError
from packet.spawn import Line, start, wait

MEMORY_HEADROOM_BYTES = 1 << 30  # address space, and resident size, a worker may add to its imports
JOB_TIMES = 20  # a job of many values may take this many times the limit of one
WATCH_S = 0.2  # how often the resident size of a busy worker is looked at
_START_S = 60.0  # a worker that has not finished its imports by then is given up


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
    reason: Literal["refused", "timeout", "memory", "died"]
    error: ScanError


Answer = Part | Done | Failed


@dataclass(slots=True)
class _Worker:
    process: Any
    line: Any
    job: int | None = None
    deadline: float = float("inf")  # for the next value
    job_deadline: float = float("inf")
    most_bytes: float = float("inf")  # resident


class Workers:
    """A pool for one function: ``with Workers(function, jobs=2, time_limit_s=60) as pool``."""

    def __init__(
        self,
        function: Callable[[Any], Any],
        *,
        jobs: int | None = None,
        time_limit_s: float,
        limit_address_space: bool = True,
    ) -> None:
        """``limit_address_space``: False leaves the memory to the watch alone, for its test."""
        self._function = f"{function.__module__}:{function.__qualname__}"
        self._size = max(1, jobs or os.cpu_count() or 1)
        self._time_limit_s = time_limit_s
        self._limit_address_space = limit_address_space
        self._workers: list[_Worker] = []

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
        process, line = start(serve, self._function, limit_address_space=self._limit_address_space)
        return _Worker(process=process, line=line)

    def _give(self, worker: _Worker, number: int, payload: Any) -> None:
        worker.job = number
        self._set_limits(worker, _START_S if worker.most_bytes == float("inf") else 0.0)
        with contextlib.suppress(OSError):  # a dead worker is seen in _listen
            worker.line.send(payload)

    def _set_limits(self, worker: _Worker, later_s: float = 0.0) -> None:
        now = time.monotonic() + later_s
        worker.deadline = now + self._time_limit_s
        worker.job_deadline = now + JOB_TIMES * self._time_limit_s

    def _listen(self, busy: list[_Worker]) -> Iterator[Answer]:
        now = time.monotonic()
        first = min(min(worker.deadline, worker.job_deadline) for worker in busy)
        ready = wait([worker.line for worker in busy], max(0.0, min(first - now, WATCH_S)))
        for worker in busy:
            now = time.monotonic()
            if worker.line in ready and now < worker.job_deadline:
                answer = self._take(worker)
                if answer is not None:
                    yield answer
            elif now >= min(worker.deadline, worker.job_deadline):
                yield self._fail(worker, "timeout")
            elif (resident_bytes(worker.process) or 0) > worker.most_bytes:
                yield self._fail(worker, "memory")

    def _take(self, worker: _Worker) -> Answer | None:
        """The answer that a worker has sent; None for the word that its imports are done."""
        assert worker.job is not None
        job = worker.job
        try:
            message, value = worker.line.recv()
        except (EOFError, OSError):
            return self._fail(worker, "died")
        worker.deadline = time.monotonic() + self._time_limit_s
        if message == "ready":
            self._set_limits(worker)
            worker.most_bytes = (resident_bytes(worker.process) or 0) + MEMORY_HEADROOM_BYTES
            return None
        if message == "part":
            return Part(job=job, value=value)
        if message == "last words":
            self._let_go(worker)
            return Failed(job=job, reason="refused", error=value)
        worker.job = None
        if message == "done":
            return Done(job=job)
        return Failed(job=job, reason="refused", error=value)

    def _fail(self, worker: _Worker, reason: Literal["timeout", "memory", "died"]) -> Failed:
        assert worker.job is not None
        job = worker.job
        self._let_go(worker)
        plain = "Scan it again, or save it as a plain JPEG or PDF."
        if reason == "timeout":
            error = ScanError("took too long to read and was given up.", plain)
        elif reason == "memory":
            error = too_much_memory()
        else:
            error = ScanError(
                "made the reading process stop: the file is damaged or needs too much memory.",
                "Scan it again at 300 dpi, or save it as a plain JPEG or PDF.",
            )
        return Failed(job=job, reason=reason, error=error)

    def _let_go(self, worker: _Worker) -> None:
        self._workers.remove(worker)
        _end(worker)


def too_much_memory() -> ScanError:
    """The error for a scan that takes more memory than a worker may."""
    return ScanError("needs more memory than one scan may take.", "Scan it again at 300 dpi.")


def _end(worker: _Worker) -> None:
    worker.line.close()
    worker.process.kill()
    worker.process.join(5)


# --- inside a worker -----------------------------------------------------------------------


def serve_line(handle: int, function_name: str, address_space: bool) -> None:
    """A worker's life, with the file descriptor of its end of the line."""
    serve(Line(handle), function_name, address_space)


def serve(line: Any, function_name: str, address_space: bool) -> None:
    """A worker's life: import, limit, then job after job until the line closes."""
    settle(keep=line.fileno())
    gc.set_threshold(20_000)  # pictures are no cycles: few looks for them
    module_name, _, name = function_name.partition(":")
    function = getattr(importlib.import_module(module_name), name)
    warm = getattr(importlib.import_module(module_name), "warm_up", None)
    if warm is not None:
        warm()
    allowance.watch(lambda refusal: line.send(("last words", refusal)))
    if address_space:
        limit_address_space(MEMORY_HEADROOM_BYTES)
    give_up_rights()
    try:
        line.send(("ready", None))
        while True:
            _answer(line, function, line.recv())
    except (EOFError, OSError):  # the parent has ended or let go of us
        return


def _answer(line: Any, function: Callable[[Any], Any], payload: Any) -> None:
    try:
        result = function(payload)
        if isinstance(result, Generator):
            for value in result:
                line.send(("part", value))
        else:
            line.send(("part", result))
    except ScanError as error:
        line.send(("failed", error))
    except BrokenPipeError:
        raise
    except MemoryError:
        line.send(("failed", too_much_memory()))
    except PacketError as error:
        line.send(("failed", ScanError(str(error), "")))
    except Exception as error:
        if os.environ.get("PACKET_DEBUG"):
            import traceback

            traceback.print_exc()
        what = f"cannot be read (the reader failed with {type(error).__name__})."
        line.send(("failed", ScanError(what, "Scan it again, or save it as a plain JPEG or PDF.")))
    else:
        line.send(("done", None))
