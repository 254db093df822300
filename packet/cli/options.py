"""What several commands share: option sets, JSON, the progress bar, the password."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from packet.errors import EXIT_DONE, EXIT_FINDINGS, UsageError

if TYPE_CHECKING:
    from packet.model import Finding
    from packet.reading import Progress

F = TypeVar("F", bound=Callable[..., Any])

FOLDER = click.Path(exists=False, file_okay=True, path_type=Path)


def common(function: F) -> F:
    """The two options that every command takes."""
    function = click.option(
        "--today",
        type=click.DateTime(["%Y-%m-%d"]),
        default=None,
        help="Take this day as today (default: the date in Europe/Rome).",
    )(function)
    return click.option("--json", "as_json", is_flag=True, help="Answer in JSON.")(function)


def day_of(today: datetime | None) -> date:
    """The day given with ``--today``, else the date in Europe/Rome (of this machine's clock)."""
    if today is not None:
        return today.date()
    try:
        from zoneinfo import ZoneInfo

        return datetime.now(ZoneInfo("Europe/Rome")).date()
    except (ImportError, KeyError):  # a system without a time zone table: its own date will do
        return datetime.now(UTC).astimezone().date()


def reading(function: F) -> F:
    """Options of the commands that read scans."""
    for option in (
        click.option(
            "--no-read",
            is_flag=True,
            envvar="PACKET_NO_READ",
            help="Do not read the text of the scans (or set PACKET_NO_READ=1).",
        ),
        click.option(
            "--password-file",
            type=click.Path(dir_okay=False, path_type=Path),
            help="File whose first line opens encrypted PDFs (or set PACKET_PASSWORD).",
        ),
        click.option(
            "--jobs",
            type=click.IntRange(1, 64),
            default=None,
            help="Scans read at once (default 2).",
        ),
    ):
        function = option(function)
    return function


def texts(no_read: bool) -> tuple[bool, tuple[Finding, ...]]:
    """(whether texts are read, what to say where they cannot be)."""
    if no_read:
        return False, ()
    from packet.model import Finding, Severity
    from packet.recognition.extra import missing_packages, why_not

    sentence = why_not()
    if sentence is None:
        return True, ()
    from packet.recognition.extra import PACKAGES

    absent = len(missing_packages()) == len(PACKAGES)
    note = Finding(
        code="texts-not-read",
        severity=Severity.NOTE if absent else Severity.WARNING,
        subject="packet[read]",
        message=sentence,
        remedy="Nothing else needs it; --no-read leaves the text unread without a word.",
    )
    return False, (note,)


def caching(function: F) -> F:
    """The option of the commands that may use what was read from the scans before."""
    return click.option(
        "--no-cache", is_flag=True, help="Read every scan anew and keep nothing for next time."
    )(function)


def out_option(function: F) -> F:
    """Where the outputs are."""
    return click.option(
        "--out",
        type=click.Path(path_type=Path),
        default=None,
        help="Output folder (default: FOLDER/out).",
    )(function)


def print_json(value: Any) -> None:
    text = json.dumps(value, ensure_ascii=True)
    click.echo(text)
    sys.stdout.flush()


def exit_code(findings: Sequence[Finding]) -> int:
    return EXIT_FINDINGS if any(finding.needs_user for finding in findings) else EXIT_DONE


class progress_bar:  # noqa: N801 -- reads as a verb where it is used
    """A bar on a terminal, nothing in a pipe."""

    def __enter__(self) -> Progress | None:
        self._bar: Any = None
        if not sys.stderr.isatty():
            return None
        return self._step

    def _step(self, done: int, total: int, name: str) -> None:
        if self._bar is None:
            self._bar = click.progressbar(
                length=total,
                label="Reading scans",
                show_pos=True,
                item_show_func=lambda shown_name: shown_name and shown_name[-40:],
                file=sys.stderr,
            )
            self._bar.__enter__()
        self._bar.length = total
        self._bar.update(done - self._bar.pos, name)

    def __exit__(self, *error: Any) -> None:
        if self._bar is not None:
            self._bar.__exit__(*error)


def password_from(file: Path | None) -> str | None:
    """The password for encrypted PDFs; it is taken out of the environment of later processes."""
    from_environment = os.environ.pop("PACKET_PASSWORD", None)
    if file is None:
        return from_environment
    try:
        return file.read_text("utf-8").split("\n")[0].rstrip("\r")
    except (OSError, UnicodeDecodeError):
        raise UsageError(f"{file}: the password file cannot be read as UTF-8 text.") from None
