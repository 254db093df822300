"""``packet inspect`` and ``packet normalise``: one stage, shown by itself."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from packet.cli.options import common, password_from, print_json, reading, texts
from packet.errors import EXIT_DONE, EXIT_NOT_DONE, UsageError

if TYPE_CHECKING:
    from packet.model import Kind


def _kind(value: str | None) -> tuple[Kind, ...]:
    from packet.model import Kind

    if value is None:
        return tuple(Kind)
    try:
        return (Kind(value),)
    except ValueError:
        names = ", ".join(kind.value for kind in Kind)
        raise UsageError(f"--as takes one of: {names}.") from None


@click.command("inspect")
@click.argument("scans", nargs=-1, metavar="SCAN… | -")
@click.option("--as", "kind", default=None, metavar="KIND", help="What is on the scan.")
@common
@reading
def inspect_command(
    *,
    scans: Sequence[str],
    kind: str | None,
    as_json: bool,
    today: datetime | None,
    password_file: Path | None,
    no_read: bool,
    jobs: int | None,
) -> None:
    """Show what is seen in a scan.

    Items, corners, kind, size, turn and doubts.

    With - as the only SCAN, paths are read from standard input, one a line, and each is
    answered at once with one JSON line.
    """
    from packet.inspection import inspect_scans
    from packet.report.text import inspection_text

    paths = _paths(scans)
    failed = False
    answers = inspect_scans(
        paths, kinds=_kind(kind), password=password_from(password_file), read=texts(no_read)[0]
    )
    for answer in answers:
        failed = failed or "error" in answer
        if as_json or tuple(scans) == ("-",):
            print_json(answer)
        else:
            click.echo(inspection_text(answer))
    sys.exit(EXIT_NOT_DONE if failed else EXIT_DONE)


@click.command("normalise")
@click.argument("scans", nargs=-1, metavar="SCAN…")
@click.option("-o", "--out", required=True, type=click.Path(path_type=Path), metavar="DIR")
@click.option("--as", "kind", default=None, metavar="KIND", help="What is on the scan.")
@click.option("--tone", type=click.Choice(["grey", "colour", "bilevel"]), default="grey")
@common
@reading
def normalise_command(
    *,
    scans: Sequence[str],
    out: Path,
    kind: str | None,
    tone: Any,
    as_json: bool,
    today: datetime | None,
    password_file: Path | None,
    no_read: bool,
    jobs: int | None,
) -> None:
    """Write each item as a straight PNG.

    Upright, at true scale with its dpi set, into DIR; nothing is overwritten.
    """
    from packet.inspection import normalise_scans

    failed = False
    answers = normalise_scans(
        _paths(scans),
        out,
        kinds=_kind(kind),
        tone=tone,
        password=password_from(password_file),
        read=texts(no_read)[0],
    )
    for answer in answers:
        failed = failed or "error" in answer
        if as_json:
            print_json(answer)
        elif "error" in answer:
            click.echo(answer["error"], err=True)
        else:
            click.echo(answer["file"])
    sys.exit(EXIT_NOT_DONE if failed else EXIT_DONE)


def _paths(scans: Sequence[str]) -> Iterator[str]:
    if not scans:
        raise UsageError("Name at least one scan, or - to read paths from standard input.")
    if tuple(scans) == ("-",):
        return (line.rstrip("\r\n") for line in iter(sys.stdin.readline, "") if line.strip())
    return iter(scans)
