"""What one step of reading a stranger's file may take, looked after from within the worker.

A native reader caught in a drawing hears nobody: no exception and no Python signal handler
reaches it. But it runs without the interpreter's lock, so a thread beside it goes on. The thread
looks at the process's own processor time and resident size; where a step takes more than was
allowed, it says that step's refusal to the parent and ends the process at once. The parent
(``packet.workers``) starts another one for the next job.

Outside a worker nothing is watched: an allowance is then without effect.
"""

from __future__ import annotations

import contextlib
import os
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import NoReturn

from packet.confine import own_resident_bytes
from packet.errors import ScanError

_LOOK_S = 0.02  # by the clock; a native reader can fill some 40 MB in it


@dataclass(slots=True)
class _Step:
    """The step under way. ``cpu_s``: process time at its end; ``resident_bytes``: the most."""

    cpu_s: float
    resident_bytes: float
    refusal: ScanError

    def is_beyond(self) -> bool:
        return time.process_time() > self.cpu_s or own_resident_bytes() > self.resident_bytes


class _Watch:
    """What is watched in this process; ``step`` is touched with ``changed`` held."""

    def __init__(self) -> None:
        self.on = False
        self.step: _Step | None = None
        self.changed = threading.Condition()

    def look_after(self, last_words: Callable[[ScanError], None]) -> NoReturn:
        while True:
            with self.changed:
                while self.step is None:
                    self.changed.wait()
                if self.step.is_beyond():
                    try:
                        last_words(self.step.refusal)
                    finally:
                        os._exit(1)
            time.sleep(_LOOK_S)


_watch = _Watch()


@contextlib.contextmanager
def allowance(*, cpu_s: float, memory_bytes: float, refusal: ScanError) -> Iterator[None]:
    """While it lasts the process may use so much processor time and add so much resident memory.

    Beyond it the process ends and ``refusal`` is what the job failed with. Not to be nested.
    """
    if not _watch.on:
        yield
        return
    with _watch.changed:
        _watch.step = _Step(
            cpu_s=time.process_time() + cpu_s,
            resident_bytes=own_resident_bytes() + memory_bytes,
            refusal=refusal,
        )
        _watch.changed.notify()
    try:
        yield
    finally:
        with _watch.changed:
            _watch.step = None


def widen(*, cpu_s: float = 0.0, memory_bytes: float = 0.0) -> None:
    """Allow the step under way that much more, where there is one."""
    with _watch.changed:
        if _watch.step is not None:
            _watch.step.cpu_s += cpu_s
            _watch.step.resident_bytes += memory_bytes


def watch(last_words: Callable[[ScanError], None]) -> None:
    """Begin to watch this process: once, in a worker. ``last_words`` tells the parent why."""
    threading.Thread(target=_watch.look_after, args=(last_words,), daemon=True).start()
    _watch.on = True
