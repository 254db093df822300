"""Small jobs for the tests of the worker pool; each is named by a spawned process."""

from __future__ import annotations

import hashlib
import os
import socket
import subprocess
import time

from packet.errors import ScanError


def double(number):
    return 2 * number


def misbehave(wish):
    if wish == "sleep":
        time.sleep(60)
    if wish == "die":
        os._exit(3)
    if wish == "refuse":
        raise ScanError("is not a picture.", "Scan it again.", "not-a-scan")
    if wish == "break":
        raise RuntimeError("an inner fault with /a/path in it")
    if wish == "eat":
        return len(bytearray(4 << 30))
    if wish == "nibble":
        held = []
        while len(held) < 80:  # 64 MiB a bite, each page of it touched
            held.append(bytearray(os.urandom(1 << 20) * 64))
    if wish == "end-of-file":
        raise EOFError
    return wish


class _Trap:
    """What a process that was taken over might send: it makes a file where it is unpacked."""

    def __init__(self, path):
        self.path = path

    def __reduce__(self):
        return open, (self.path, "w")


def answer_with_code(path):
    return _Trap(path) if path else "good"


def count_up(limit):
    yield from range(limit)


def drip(pause_s):
    while True:
        time.sleep(pause_s)
        yield None


def stop_after_two(_):
    yield 0
    yield 1
    os._exit(3)


def environment(_):
    return dict(os.environ)


def open_files(_):
    """What each open file of this process is (Linux, proc(5))."""
    return {int(name): _target(name) for name in os.listdir("/proc/self/fd")}


def _target(name):
    try:
        return os.readlink(f"/proc/self/fd/{name}")
    except OSError:
        return "gone"


def forbidden(deed):
    """What a decoder never has to do."""
    if deed == "write":
        with open("written-by-a-worker", "wb") as file:
            file.write(b"x" * 10)
    elif deed == "process":
        subprocess.run(["true"], check=True)
    elif deed == "shell":
        os.system("true")
    elif deed == "network":
        socket.create_connection(("127.0.0.1", 9), timeout=1)
    elif deed == "name":
        socket.getaddrinfo("localhost", 80)
    return "done"


def own_id(_):
    yield os.getpid()
    time.sleep(60)


def overdo(wish):
    """What a step of a job may take, and a native call that takes more and hears nobody."""
    from packet.allowance import allowance, widen

    refusal = ScanError("takes too much.", "Print it.", "not-a-scan")
    with allowance(cpu_s=0.2, memory_bytes=50_000_000, refusal=refusal):
        if wish == "widened":
            widen(cpu_s=60.0, memory_bytes=400_000_000)
        if wish in ("time", "widened"):
            hashlib.pbkdf2_hmac("sha256", b"", b"", 500_000 if wish == "widened" else 10**9)
        if wish in ("memory", "widened"):
            held = bytearray(os.urandom(1 << 20) * 200)
            time.sleep(0.3)
            del held
    if wish == "after":  # nothing is watched between two steps
        hashlib.pbkdf2_hmac("sha256", b"", b"", 500_000)
    return wish
