"""A new process of our own code, and the line to it. ``packet.workers`` alone uses this.

On POSIX systems a bare interpreter is started: it does not look through the installed packages
(``-S``), does not load the command that was run, and nothing else is started beside it, as
``multiprocessing`` does. Elsewhere ``multiprocessing`` starts it. Either way it inherits the few
variables of ``confine.small_environment`` and no open file but the line.
"""

from __future__ import annotations

import contextlib
import io
import os
import pickle
import sys
from collections.abc import Callable, Sequence
from dataclasses import is_dataclass
from enum import Enum
from pathlib import Path
from typing import Any

from packet.confine import small_environment
from packet.errors import PacketError

_HEAD_BYTES = 8  # the length of a message goes before it
_MOST_BYTES = 1 << 31  # of one message; a page and its pictures are some tens of MB
_PLAIN = {("datetime", "date"), ("pathlib", "PosixPath")}  # a task has the path of its scan
_CODE = (
    "import gc, sys; gc.set_threshold(20_000); "  # modules are no cycles either
    "handle, function, limit, *sys.path = sys.argv[1:]; "
    "from packet.workers import serve_line; serve_line(int(handle), function, limit == '1')"
)


class _Values(pickle.Unpickler):
    """Makes plain values, and records, words and errors of this package, and nothing else."""

    def find_class(self, module: str, name: str) -> Any:
        if (module, name) in _PLAIN or module.split(".", maxsplit=1)[0] == __package__:
            found = super().find_class(module, name)
            if isinstance(found, type) and (
                is_dataclass(found)
                or issubclass(found, Enum | PacketError)
                or (module, name) in _PLAIN
            ):
                return found
        raise pickle.UnpicklingError(f"{module}.{name}")


class Line:
    """One end of a pair of connected sockets: whole values, one after another."""

    def __init__(self, handle: int) -> None:
        self._handle = handle

    def fileno(self) -> int:
        """The file descriptor, for ``select``."""
        return self._handle

    def close(self) -> None:
        """Close this end, once."""
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1

    def send(self, value: Any) -> None:
        """Write a value; OSError where nobody listens any more."""
        data = pickle.dumps(value, pickle.HIGHEST_PROTOCOL)
        for part in (len(data).to_bytes(_HEAD_BYTES, "big"), data):
            rest = memoryview(part)
            while rest:
                rest = rest[os.write(self._handle, rest) :]

    def recv(self) -> Any:
        """Wait for a value and read it; EOFError where the other end is closed, or sends what is
        no plain value: a worker that a scan has taken over runs nothing here."""
        size = int.from_bytes(self._read(_HEAD_BYTES), "big")
        if size > _MOST_BYTES:
            raise EOFError
        data = self._read(size)
        try:
            return _Values(io.BytesIO(data)).load()
        except Exception:
            raise EOFError from None

    def _read(self, size: int) -> bytes:
        parts = []
        while size:
            part = os.read(self._handle, min(size, 1 << 20))
            if not part:
                raise EOFError
            parts.append(part)
            size -= len(part)
        return b"".join(parts)


class Child:
    """A started process: what the pool needs of it."""

    def __init__(self, command: Sequence[str], *, line: int) -> None:
        import subprocess

        null = subprocess.DEVNULL
        with small_environment():
            self._process = subprocess.Popen(
                command,
                stdin=null,
                stdout=null,
                stderr=None if os.environ.get("PACKET_DEBUG") else null,
                pass_fds=(line,),
            )
        self.pid = self._process.pid

    def is_alive(self) -> bool:
        """Whether it has not ended."""
        return self._process.poll() is None

    def kill(self) -> None:
        """End it at once."""
        self._process.kill()

    def join(self, timeout_s: float) -> None:
        """Wait for its end."""
        import subprocess

        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(timeout_s)


def start(
    serve: Callable[[Any, str, bool], None], function: str, *, limit_address_space: bool
) -> tuple[Any, Any]:
    """(process, our end of the line): there ``serve`` is called with the other end, the job's
    MODULE:NAME and the limit; on POSIX ``packet.workers.serve_line`` does that."""
    if sys.platform == "win32":
        return _by_multiprocessing(serve, function, limit_address_space)
    import socket

    here, there = (one.detach() for one in socket.socketpair())
    try:
        command = [
            *_interpreter(),
            "-c",
            _CODE,
            str(there),
            function,
            str(int(limit_address_space)),
        ]
        return Child([*command, *_places()], line=there), Line(here)
    except BaseException:
        os.close(here)
        raise
    finally:
        os.close(there)


def _interpreter() -> list[str]:
    """This interpreter, decoding file names and keeping compiled files as it does here."""
    command = [sys.executable, "-S", "-X", f"utf8={sys.flags.utf8_mode}"]
    if sys.dont_write_bytecode:
        command.append("-B")
    if sys.flags.optimize:
        command.append("-" + "O" * sys.flags.optimize)
    return command


def _places() -> list[str]:
    """Where modules lie; this package too, where it was found by other ways than a path."""
    own = str(Path(__file__).resolve().parents[1])
    return [*sys.path, *([] if own in sys.path else [own])]


def wait(lines: Sequence[Any], timeout_s: float) -> list[Any]:
    """Those of the lines from which something can be read, or that are closed."""
    if sys.platform == "win32":
        import multiprocessing.connection

        return list(multiprocessing.connection.wait(lines, timeout=timeout_s))
    import select

    poll = select.poll()
    by_handle = {line.fileno(): line for line in lines}
    for handle in by_handle:
        poll.register(handle, select.POLLIN)
    return [by_handle[handle] for handle, _ in poll.poll(1000 * timeout_s)]


def _by_multiprocessing(
    serve: Callable[[Any, str, bool], None], function: str, limit_address_space: bool
) -> tuple[Any, Any]:
    import multiprocessing

    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(
        target=serve,
        args=(theirs, function, limit_address_space),
        daemon=True,
        name="packet-worker",
    )
    with small_environment():
        process.start()
    theirs.close()
    return process, ours
