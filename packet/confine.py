"""The walls of a worker process: what it inherits, what it may take, how much it holds.

A worker decodes files of strangers. It starts with a small environment and no open file of its
parent, can be given a limit of address space, writes no file and no core dump, opens no
connection, starts no process, and ends when its parent does. On systems that lack one of these
the others stand; ``packet.workers`` watches the resident size everywhere.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import signal
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

# What Python, its libraries and the system need to start; nothing that could hold a secret.
_KEPT = frozenset(
    (
        "PATH", "PYTHONHOME", "PYTHONPATH", "PYTHONUTF8", "PYTHONHASHSEED",
        "PYTHONDONTWRITEBYTECODE", "VIRTUAL_ENV", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH",
        "DYLD_FALLBACK_LIBRARY_PATH", "LANG", "LC_ALL", "LC_CTYPE", "TZ", "SYSTEMROOT",
        "SYSTEMDRIVE", "WINDIR", "TEMP", "TMP", "PACKET_DEBUG",
    )
)  # fmt: skip
# One thread each: a worker is one job, and every thread of a library takes address space.
# Large pages for large pictures, where glibc 2.35 or later and Linux give them: of the page faults
# of a photo, a tenth of its time, next to none is left.
_SET = {
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "GLIBC_TUNABLES": "glibc.malloc.hugetlb=1",
}
# Python's own audit events (PEP 578) of what a decoder never has to do.
_REFUSED_EVENTS = (
    "os.exec", "os.fork", "os.forkpty", "os.posix_spawn", "os.spawn", "os.startfile", "os.system",
    "pty.spawn", "socket.connect", "socket.sendto", "socket.getaddrinfo", "subprocess.Popen",
    "urllib.Request", "webbrowser.open",
)  # fmt: skip
_PR_SET_PDEATHSIG = 1  # Linux, prctl(2)

_environment = threading.Lock()


@contextlib.contextmanager
def small_environment() -> Iterator[None]:
    """While it lasts, processes that are started get the few variables they need to start."""
    with _environment:
        before = dict(os.environ)
        kept = {name: value for name, value in before.items() if name.upper() in _KEPT}
        os.environ.clear()
        os.environ.update(kept | _SET)
        try:
            yield
        finally:
            os.environ.clear()
            os.environ.update(before)


# --- inside a worker -------------------------------------------------------------------------


def settle(keep: int) -> None:
    """First steps of a worker: no interrupt key, no terminal, no file but ``keep``."""
    with contextlib.suppress(ValueError, OSError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    _end_with_parent()
    _hush()
    if sys.platform != "win32":  # there nothing is inherited that was not named
        os.closerange(3, keep)
        os.closerange(keep + 1, 1 << 16)


def give_up_rights() -> None:
    """Last step before the first job: no file written, no core dump, no process, no network."""
    sys.addaudithook(_refuse)
    if sys.platform != "win32":
        import resource

        for limit in (resource.RLIMIT_CORE, resource.RLIMIT_FSIZE):
            with contextlib.suppress(OSError, ValueError):
                resource.setrlimit(limit, (0, 0))


def limit_address_space(headroom_bytes: int) -> None:
    """Cap the address space at what is taken now plus the headroom, where POSIX has it."""
    if sys.platform == "win32":
        return
    import resource

    with contextlib.suppress(OSError, ValueError):
        pages = int(Path("/proc/self/statm").read_text("ascii").split()[0])
        limit = pages * resource.getpagesize() + headroom_bytes
        resource.setrlimit(resource.RLIMIT_AS, (limit, limit))


def _refuse(event: str, _: Any) -> None:
    if event in _REFUSED_EVENTS:
        raise PermissionError(f"a worker does not do this: {event}")


def _hush() -> None:
    """Native readers write about damaged files to the terminal; the findings say it better."""
    null = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        if stream < 2 or not os.environ.get("PACKET_DEBUG"):
            os.dup2(null, stream)
    if null > 2:
        os.close(null)


def _end_with_parent() -> None:
    """A worker caught in a long decode must not outlive a parent that was killed."""
    if sys.platform == "linux":
        with contextlib.suppress(OSError, AttributeError):
            ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL)
    elif sys.platform != "win32":
        threading.Thread(target=_watch_parent, args=(os.getppid(),), daemon=True).start()


def _watch_parent(parent: int) -> None:
    import time

    while os.getppid() == parent:
        time.sleep(1)
    os._exit(1)


def own_resident_bytes() -> int:
    """Memory that this process holds; where the system tells only the most it ever held, that.

    0 where it tells neither.
    """
    try:
        if sys.platform == "linux":
            pages = Path("/proc/self/statm").read_text("ascii").split()[1]
            return int(pages) * os.sysconf("SC_PAGE_SIZE")
        if sys.platform == "win32":
            return _resident_on_windows(-1) or 0  # the handle of the process itself
        import resource

        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss  # bytes on macOS
    except (OSError, ValueError, LookupError, AttributeError):
        return 0


# --- looked at from outside --------------------------------------------------------------------


def resident_bytes(process: Any) -> int | None:
    """Memory that a process of ``packet.spawn`` holds at this moment; None where unknown."""
    try:
        if sys.platform == "linux":
            pages = Path(f"/proc/{process.pid}/statm").read_text("ascii").split()[1]
            return int(pages) * os.sysconf("SC_PAGE_SIZE")
        if sys.platform == "win32":
            return _resident_on_windows(process.sentinel)
        return _resident_by_ps(process.pid)
    except (OSError, ValueError, LookupError, AttributeError):
        return None  # it has just ended, or the system does not say


def _resident_by_ps(process_id: int) -> int:
    """``ps`` gives kilobytes (POSIX.1-2017, ps, rss is common practice)."""
    import subprocess

    command = ["/bin/ps", "-o", "rss=", "-p", str(process_id)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=5)
    return int(done.stdout) * 1024


def _resident_on_windows(handle: int) -> int | None:
    """WorkingSetSize of PROCESS_MEMORY_COUNTERS (psapi); not tried on a Windows machine."""

    class Counters(ctypes.Structure):
        _fields_ = (
            ("cb", ctypes.c_uint32),
            ("faults", ctypes.c_uint32),
            ("peak", ctypes.c_size_t),
            ("resident", ctypes.c_size_t),
            ("others", ctypes.c_size_t * 6),
        )

    counters = Counters(cb=ctypes.sizeof(Counters))
    kernel: Any = ctypes.windll.kernel32  # type: ignore[attr-defined,unused-ignore]
    known = kernel.K32GetProcessMemoryInfo(
        ctypes.c_void_p(handle), ctypes.byref(counters), counters.cb
    )
    return int(counters.resident) if known else None
