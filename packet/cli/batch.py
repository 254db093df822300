"""``packet batch`` and ``packet cache``: many packets at once, and what is kept between runs."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

import click

from packet.cli.options import (
    FOLDER,
    caching,
    common,
    day_of,
    password_from,
    print_json,
    progress_bar,
    reading,
    texts,
)
from packet.errors import EXIT_DONE, EXIT_FINDINGS, EXIT_NOT_DONE, UsageError


@click.command("batch")
@click.argument("root", type=FOLDER)
@click.option(
    "--only", multiple=True, metavar="NAME", help="This packet only; may be given several times."
)
@click.option("--changed", is_flag=True, help="Leave out packets whose files are current.")
@click.option(
    "--print-to",
    type=click.Path(file_okay=False, path_type=Path),
    default=None,
    metavar="DIR",
    help="Gather the files to print in DIR, named after their packets.",
)
@click.option("--one-file", is_flag=True, help="There: both copy sets of a packet in one file.")
@common
@reading
@caching
def batch_command(
    *,
    root: Path,
    only: Sequence[str],
    changed: bool,
    print_to: Path | None,
    one_file: bool,
    as_json: bool,
    today: datetime | None,
    password_file: Path | None,
    no_read: bool,
    jobs: int | None,
    no_cache: bool,
) -> None:
    """Build every packet below a folder.

    One row a packet: ready or not, the number for box 25, what is missing or doubtful, the next
    date; and one plan for the printer. batch.csv, batch.json and batch.html are written into
    ROOT. A packet that fails is a row, never a stop; what is current is not built again.
    """
    from packet.batch import Choice, batch
    from packet.batch_out import gather_prints, refuse_inside_packet, write_summary
    from packet.report.batch_files import batch_text
    from packet.report.batch_rows import row_json

    if one_file and print_to is None:
        raise UsageError("--one-file goes with --print-to DIR.")
    if print_to is not None:
        refuse_inside_packet(print_to)
    choice = Choice(
        only=tuple(only),
        changed=changed,
        jobs=jobs,
        use_cache=not no_cache,
        read=texts(no_read)[0],
        password=password_from(password_file),
    )
    day = day_of(today)
    with progress_bar() as progress:
        rows = batch(root, choice, today=day, progress=progress)
    summary = write_summary(root, rows, day)
    printed: tuple[Path, ...] = ()
    if print_to is not None:
        printed = gather_prints(root, rows, print_to, one_file=one_file)
    if as_json:
        for row in rows:
            print_json(row_json(row))
    else:
        click.echo(batch_text(rows))
        click.echo(f"\nWritten: {summary[-1]}, and batch.csv and batch.json beside it.")
        if print_to is not None:
            click.echo(f"Gathered in {print_to}: {len(printed)} files to print.")
    states = {row.state for row in rows}
    if "failed" in states:
        sys.exit(EXIT_NOT_DONE)
    sys.exit(EXIT_FINDINGS if "needs-you" in states else EXIT_DONE)


@click.command("cache")
@click.option("--clear", is_flag=True, help="Remove everything that is kept.")
@common
def cache_command(*, clear: bool, as_json: bool, today: datetime | None) -> None:
    """Show or empty the store of scans read before.

    It holds pictures of identity papers, on this machine, for you alone; it makes the next build
    fast and changes no result.
    """
    from packet.cache import Cache, cache_folder

    kept = Cache(cache_folder())
    removed = kept.clear() if clear else 0
    entries, size = kept.size()
    if as_json:
        print_json(
            {
                "folder": str(kept.folder),
                "entries": entries,
                "bytes": size,
                "limit_bytes": kept.limit_bytes,
                "removed": removed,
            }
        )
        return
    if clear:
        click.echo(f"{removed} files removed.")
    click.echo(
        f"{kept.folder}: {entries} scans, {size / 1e6:.1f} MB of at most "
        f"{kept.limit_bytes / 1e9:.1f} GB."
    )
