"""``packet worksheet``, ``counter`` and ``dates``: the form, the money, the dates."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

import click

from packet.cli.options import (
    FOLDER,
    caching,
    common,
    day_of,
    exit_code,
    out_option,
    password_from,
    print_json,
    progress_bar,
    reading,
    texts,
)
from packet.errors import EXIT_DONE, EXIT_FINDINGS


@click.command("worksheet")
@click.argument("folder", type=FOLDER)
@out_option
@common
@reading
@caching
def worksheet_command(
    *,
    folder: Path,
    out: Path | None,
    as_json: bool,
    today: datetime | None,
    password_file: Path | None,
    no_read: bool,
    jobs: int | None,
    no_cache: bool,
) -> None:
    """Write what goes into each box of the form.

    worksheet.pdf shows it cell by cell, to copy by hand, with the number for box 25.
    """
    from packet.guidance import make_worksheet
    from packet.report.text import findings_text

    with progress_bar() as progress:
        made = make_worksheet(
            folder,
            out,
            today=day_of(today),
            jobs=jobs,
            password=password_from(password_file),
            progress=progress,
            use_cache=not no_cache,
            read=texts(no_read)[0],
        )
    needing = [finding for finding in made.findings if finding.needs_user]
    if needing:
        click.echo(findings_text(needing), err=True)
    if as_json:
        print_json({**made.values, "files": [str(path) for path in made.files]})
    else:
        click.echo(f"Written: {made.files[0]}. Copy it by hand; it does not go into the envelope.")
    sys.exit(exit_code(made.findings))


@click.command("counter")
@click.argument("folder", type=FOLDER)
@out_option
@common
def counter_command(folder: Path, out: Path | None, as_json: bool, today: datetime | None) -> None:
    """Write what to carry, to pay and to ask.

    counter.pdf is for the post office, appointment.pdf for the police office.
    """
    from packet.guidance import make_counter
    from packet.report.days import counter_text

    made = make_counter(folder, out, today=day_of(today))
    if as_json:
        print_json({**made.values, "files": [str(path) for path in made.files]})
    else:
        click.echo(counter_text(made.values))
        click.echo(f"Written: {' and '.join(str(path) for path in made.files)}.")
    sys.exit(EXIT_FINDINGS if made.values["warnings"] else EXIT_DONE)


@click.command("dates")
@click.argument("folder", type=FOLDER)
@out_option
@common
def dates_command(folder: Path, out: Path | None, as_json: bool, today: datetime | None) -> None:
    """List the dates to keep.

    dates.ics holds the same for a calendar program. The office's word stands before all of them.
    """
    from packet.guidance import make_dates
    from packet.report.days import days_text

    day = day_of(today)
    made = make_dates(folder, out, today=day)
    if as_json:
        print_json({**made.values, "files": [str(path) for path in made.files]})
    else:
        click.echo(days_text(made.days, day))
        click.echo(f"\nWritten: {made.files[0]}")
    over = any(one.state in ("late", "missed") for one in made.days)
    sys.exit(EXIT_FINDINGS if over else EXIT_DONE)
