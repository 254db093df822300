"""``packet sort``: a heap of scans becomes a plan in packet.toml."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

import click

from packet.cli.options import (
    FOLDER,
    caching,
    common,
    password_from,
    print_json,
    progress_bar,
    reading,
    texts,
)
from packet.errors import EXIT_DONE, EXIT_FINDINGS


@click.command("sort")
@click.argument("folder", type=FOLDER)
@click.option("--dry-run", is_flag=True, help="Show the plan and write nothing.")
@common
@reading
@caching
def sort_command(
    *,
    folder: Path,
    dry_run: bool,
    as_json: bool,
    today: datetime | None,
    password_file: Path | None,
    no_read: bool,
    jobs: int | None,
    no_cache: bool,
) -> None:
    """Assign the scans of one heap to documents.

    Put all scans, in any order, into scans/ beside packet.toml. What each one is, where it
    belongs, the order of the passport, what is there twice and what is missing is proposed and
    written into packet.toml, as lines for you to correct. What is not sure is listed, never
    decided. No scan is moved or renamed.
    """
    from packet.report.text import findings_text
    from packet.sorting.run import sort_packet
    from packet.sorting.text import needs_user, sort_json, sort_text

    read, notes = texts(no_read)
    with progress_bar() as progress:
        result = sort_packet(
            folder,
            write=not dry_run,
            jobs=jobs,
            password=password_from(password_file),
            progress=progress,
            use_cache=not no_cache,
            read=read,
        )
    findings = (*result.findings, *notes)
    if findings:
        click.echo(findings_text(findings), err=True)
    if as_json:
        print_json(sort_json(result))
    else:
        click.echo(sort_text(result))
    sys.exit(EXIT_FINDINGS if needs_user(result) else EXIT_DONE)
