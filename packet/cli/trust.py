"""``packet archive`` and ``packet forget``: the packet's own file, and its end."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from packet.cli.options import FOLDER, common, out_option, print_json
from packet.errors import EXIT_DONE, EXIT_FINDINGS, UsageError

if TYPE_CHECKING:
    from packet.forget import Inventory


@click.command("archive")
@click.argument("folder", type=FOLDER)
@click.option(
    "-o",
    "--file",
    "target",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    help="The file to write (default: FOLDER-archive.pdf beside FOLDER).",
)
@click.option(
    "--password-file",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    help="File whose first line is the password (default: you are asked).",
)
@out_option
@common
def archive_command(
    *,
    folder: Path,
    target: Path | None,
    password_file: Path | None,
    out: Path | None,
    as_json: bool,
    today: datetime | None,
) -> None:
    """Write one encrypted PDF to keep.

    The copy set with packet.toml and the record attached, locked with a password (AES-256).
    Without the password nobody can open it, you neither.
    """
    from packet.archive import archive, check_password

    password = _password(password_file)
    check_password(password)
    written = archive(folder, target, password=password, out=out)
    if as_json:
        print_json({"file": str(written)})
    else:
        click.echo(f"{written}: locked. Open it once with the password before you rely on it.")
    sys.exit(EXIT_DONE)


def _password(file: Path | None) -> str:
    """From the file's first line, or asked for twice; never from the command line."""
    if file is not None:
        try:
            return file.read_text("utf-8").split("\n")[0].rstrip("\r")
        except (OSError, UnicodeDecodeError):
            raise UsageError(f"{file}: the password file cannot be read as UTF-8 text.") from None
    if not sys.stdin.isatty():
        raise UsageError("There is no terminal to ask for a password: give --password-file.")
    asked: str = click.prompt("Password", hide_input=True, confirmation_prompt=True, err=True)
    return asked


@click.command("forget")
@click.argument("folder", type=FOLDER)
@click.option("--yes", is_flag=True, help="Remove without asking.")
@click.option("--all", "everything", is_flag=True, help="Remove packet.toml too.")
@out_option
@common
def forget_command(
    *,
    folder: Path,
    yes: bool,
    everything: bool,
    out: Path | None,
    as_json: bool,
    today: datetime | None,
) -> None:
    """List and remove scans and outputs.

    Scans, sets, review page, record and cache of FOLDER, when you are done with them. Asks
    first. The archive and packet.toml stay.
    """
    from packet.forget import inventory, remove
    from packet.intake.names import shown

    listed = inventory(folder, out, everything=everything)
    if not as_json:
        _show(listed)
    if listed.removable and not yes:
        if as_json or not sys.stdin.isatty():
            raise UsageError("Nothing was removed: there is nobody to ask. Add --yes to remove.")
        if not click.confirm(f"Remove these {len(listed.removable)} files for ever?", err=True):
            click.echo("Nothing was removed.", err=True)
            sys.exit(EXIT_DONE)
    removed, failed = remove(folder, out, listed)
    for sentence in failed:
        click.echo(shown(sentence), err=True)
    if as_json:
        print_json(
            {
                "removed": [shown(name) for name in removed],
                "stays": [{"name": name, "why": why} for name, why in listed.stays],
                "failed": [shown(sentence) for sentence in failed],
            }
        )
    else:
        click.echo(f"{len(removed)} files removed.")
    sys.exit(EXIT_FINDINGS if failed else EXIT_DONE)


def _show(listed: Inventory) -> None:
    from packet.intake.names import shown

    for one in listed.removable:
        click.echo(f"  {one.what:11} {shown(one.name)}  ({one.size_bytes / 1e6:.1f} MB)")
    click.echo("  cache       what packet keeps of these scans from earlier runs")
    for name, why in listed.stays:
        click.echo(f"  {'stays':11} {name}: {why}")
    click.echo(listed.caution)
