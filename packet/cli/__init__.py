"""The command line: parse, call one function, print, exit.

Exit codes: 0 done; 1 done with findings that need the user; 2 could not be done; 4 the recount
disagrees; 130 interrupted. Results go to standard output, findings and progress to standard
error.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import Any

import click

from packet import __version__, ending
from packet.errors import (
    EXIT_DONE,
    EXIT_INTERRUPTED,
    EXIT_NOT_DONE,
    NothingBuiltError,
    PacketError,
    PacketFileError,
    UsageError,
)

# In the order in which a user needs them: name, module of packet.cli, what the list of commands
# says. A command's module is imported when that command runs, so the list pays for click alone.
COMMANDS = (
    ("new", "new", "Make a packet folder."),
    ("sort", "sort", "Assign the scans of one heap to documents."),
    ("check", "sets", "List what is missing or doubtful."),
    ("build", "sets", "Write the files to print."),
    ("count", "sets", "Work out the number for box 25."),
    ("worksheet", "guides", "Write what goes into each box of the form."),
    ("recount", "sets", "Prove that files and number agree."),
    ("counter", "guides", "Write what to carry, to pay and to ask."),
    ("dates", "guides", "List the dates to keep."),
    ("status", "sets", "Show what is done, what is next, and by when."),
    ("inspect", "scans", "Show what is seen in a scan."),
    ("normalise", "scans", "Write each item as a straight PNG."),
    ("batch", "batch", "Build every packet below a folder."),
    ("cache", "batch", "Show or empty the store of scans read before."),
    ("archive", "trust", "Write one encrypted PDF to keep."),
    ("forget", "trust", "List and remove scans and outputs."),
)
_MODULES = {name: module for name, module, _ in COMMANDS}


class InOrder(click.Group):
    """Lists the commands in the order of ``COMMANDS`` and imports only the one that runs."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_MODULES)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _MODULES:
            return None
        from importlib import import_module

        module = import_module(f"packet.cli.{_MODULES[cmd_name]}")
        found: click.Command = getattr(module, f"{cmd_name}_command")
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, said) for name, _, said in COMMANDS])


@click.group(
    cls=InOrder, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}
)
@click.version_option(__version__, prog_name="packet")
def command() -> None:
    """Scans in; checked, straightened, ordered and counted copies for the postal kit out.

    Start with: packet new FOLDER. The office's own instructions always come first.
    """


def _stop(error: PacketError, as_json: bool) -> int:
    if as_json:
        from packet.cli.options import print_json

        print_json({"error": str(error), "findings": _findings(error)})
    click.echo(f"packet: {error}", err=True)
    return error.exit_code


def _findings(error: PacketError) -> list[dict[str, Any]]:
    """What an error carries beside its sentence, as findings."""
    from packet.model import Finding, Severity
    from packet.report.record import finding_json

    if isinstance(error, PacketFileError):
        return [
            finding_json(
                Finding(
                    code="packet-file",
                    severity=Severity.ERROR,
                    subject=error.file,
                    message=problem,
                )
            )
            for problem in error.problems
        ]
    if isinstance(error, NothingBuiltError):
        return [finding_json(one) for one in error.findings if isinstance(one, Finding)]
    return []


def _dashed(words: Sequence[str]) -> str:
    """A hint where a file's name was taken for an option."""
    names = [word for word in words if word.startswith("-") and os.path.lexists(word)]
    return f" To name the file {names[0]}, write ./{names[0]}" if names else ""


def main(arguments: Sequence[str] | None = None) -> None:
    """Entry point: every way to end becomes a sentence and an exit code."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    try:
        code = command.main(words, prog_name="packet", standalone_mode=False)
        code = code if isinstance(code, int) else EXIT_DONE
    except (click.exceptions.Abort, KeyboardInterrupt):
        code = _interrupted()
    except Exception as error:
        code = _interrupted() if ending.was_asked_for() else _stopped_by(error, words)
    sys.exit(code)


def _interrupted() -> int:
    click.echo("packet: interrupted; nothing half-written was left.", err=True)
    return EXIT_INTERRUPTED


def _stopped_by(error: Exception, words: Sequence[str]) -> int:
    """One sentence for ``error``, and the exit code."""
    if isinstance(error, click.ClickException):
        error = UsageError(error.format_message() + _dashed(words))
    elif isinstance(error, BrokenPipeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return EXIT_NOT_DONE
    elif isinstance(error, OSError):
        error = PacketError(
            f"{error.filename or 'a file'}: the system says: {error.strerror or error}."
        )
    elif not isinstance(error, PacketError):
        if os.environ.get("PACKET_DEBUG"):
            raise error
        error = PacketError(
            f"a fault of packet itself ({type(error).__name__}); nothing was written. Run it "
            "again with PACKET_DEBUG=1 in the environment and report what it prints."
        )
    return _stop(error, "--json" in words)
