"""One file after another through a real worker: how each ended, and what it took."""

from __future__ import annotations

import contextlib
import os
import resource
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from packet.workers import Failed, Workers

_LOOK_S = 0.005


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """How a job ended: read, or the reason of its failure (refused, timeout, memory, died).

    ``cpu_s``: processor time of the worker, which a busy machine does not stretch; ``seconds``:
    by the clock. ``peak_mb``: its highest resident size, VmHWM reset before the job (Linux,
    proc(5)); of a worker that ended, as last seen some milliseconds before. None elsewhere.
    """

    end: str
    words: str
    seconds: float
    cpu_s: float | None
    peak_mb: float | None


class Measured:
    """One worker for ``function``, a new one where it was lost: ``with Measured(f, 60) as run``.

    ``warm``: a payload that is run in every new worker first, so that its start is not counted.
    """

    def __init__(self, function: Callable[[Any], Any], time_limit_s: float, warm: Any) -> None:
        self._pool = Workers(function, jobs=1, time_limit_s=time_limit_s)
        self._warm = warm
        self._peaks: dict[int, float] = {}
        self._over = threading.Event()

    def __enter__(self) -> Measured:
        if sys.platform == "linux":
            threading.Thread(target=self._look, daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._pool.__exit__()

    def __call__(self, payload: Any) -> Taken:
        if self._worker() is None:
            list(self._pool.run([self._warm]))
        worker = self._worker()
        assert worker is not None, "what a new worker does first must not end it"
        before, children = _cpu_s(worker), _children_s()
        if sys.platform == "linux":
            Path(f"/proc/{worker}/clear_refs").write_text("5")
            self._peaks[worker] = 0.0
        began = time.monotonic()
        end, words = "read", ""
        for answer in self._pool.run([payload]):
            if isinstance(answer, Failed):
                end, words = answer.reason, str(answer.error)
        seconds = time.monotonic() - began
        if self._worker() == worker:
            after, peak = _cpu_s(worker), _peak_mb(worker)
        else:  # what a child took is known to the system once it has ended
            after, peak = _children_s() - children, self._peaks.get(worker)
        cpu_s = None if before is None or after is None else max(0.0, after - before)
        return Taken(end=end, words=words, seconds=seconds, cpu_s=cpu_s, peak_mb=peak)

    def _worker(self) -> int | None:
        return self._pool._workers[0].process.pid if self._pool._workers else None

    def _look(self) -> None:
        while not self._over.wait(_LOOK_S):
            worker = self._worker_seen()
            if worker is not None and (peak := _peak_mb(worker)) is not None:
                self._peaks[worker] = max(self._peaks.get(worker, 0.0), peak)

    def _worker_seen(self) -> int | None:
        with contextlib.suppress(IndexError):  # it is exchanged at this moment
            return self._worker()
        return None


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _cpu_s(worker: int) -> float | None:
    if sys.platform != "linux":
        return None
    fields = Path(f"/proc/{worker}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _peak_mb(worker: int) -> float | None:
    if sys.platform != "linux":
        return None
    with contextlib.suppress(OSError):
        return next(_high_water(Path(f"/proc/{worker}/status").read_text()), None)
    return None


def _high_water(status: str) -> Iterator[float]:
    for line in status.splitlines():
        if line.startswith("VmHWM"):
            yield int(line.split()[1]) / 1000
