"""What native code says on standard error while it works, for faults it tells nowhere else.

libtiff decodes damaged Group 4 data to a page of streaks, reports success, and writes one line
about it. A worker runs one job in one thread, so its standard error may be borrowed for a while.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator

_MOST_BYTES = 1 << 16


@contextlib.contextmanager
def overheard() -> Iterator[list[bytes]]:
    """A list that holds, after the block, what was written to file descriptor 2 inside it.

    Empty where the system has no such thing. At most the first 64 KiB are kept.
    """
    heard: list[bytes] = []
    if os.name != "posix":
        yield heard
        return
    try:
        saved = os.dup(2)
    except OSError:  # there is no standard error
        yield heard
        return
    reading, writing = os.pipe()
    os.set_blocking(reading, False)
    os.set_blocking(writing, False)  # a full pipe loses words, it never waits
    os.dup2(writing, 2)
    os.close(writing)
    try:
        yield heard
    finally:
        os.dup2(saved, 2)
        os.close(saved)
        with contextlib.suppress(BlockingIOError):
            heard.append(os.read(reading, _MOST_BYTES))
        os.close(reading)
