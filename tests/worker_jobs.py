"""Small jobs for the tests of the worker pool; each is named by a spawned process."""

from __future__ import annotations

import os
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
    return wish


def count_up(limit):
    yield from range(limit)


def stop_after_two(_):
    yield 0
    yield 1
    os._exit(3)


def secret(_):
    return os.environ.get("PACKET_PASSWORD")
