"""Ctrl-C, a closed terminal and a polite kill end a command alike: unfinished files go."""

import contextlib
import signal

_signals_seen: list[int] = []


class Interrupted(KeyboardInterrupt):
    """A command was ended from outside.

    A class of its own, for a KeyboardInterrupt as such that passes through ``exec`` of a text (the
    standard library makes dataclasses so, and modules are loaded while a command runs) has the
    interpreter kill itself by the signal at its end, whatever exit code was given
    (``unhandled_keyboard_interrupt`` in CPython's pythonrun.c).
    """


def was_asked_for() -> bool:
    """Whether a signal asked this process to end: an error after it is the end it asked for.

    What is interrupted in the middle of loading a module may arrive as another error (Python 3.11
    makes a RuntimeError of what is raised within ``__set_name__``).
    """
    return bool(_signals_seen)


def end_tidily() -> None:
    """Have the signals that end a command raise :class:`Interrupted`."""

    def interrupt(number: int, _: object) -> None:
        _signals_seen.append(number)
        raise Interrupted

    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        # one that is ignored (nohup) stays so; outside the main thread none can be set
        with contextlib.suppress(ValueError, OSError):
            if number is not None and signal.getsignal(number) in (
                signal.SIG_DFL,
                signal.default_int_handler,
            ):
                signal.signal(number, interrupt)
