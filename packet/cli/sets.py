"""``packet check``, ``build``, ``count``, ``recount`` and ``status``."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
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
from packet.errors import EXIT_DISAGREES, EXIT_DONE, EXIT_FINDINGS, UsageError


@click.command("check")
@click.argument("folder", type=FOLDER)
@common
@reading
@caching
def check_command(
    *,
    folder: Path,
    as_json: bool,
    today: datetime | None,
    password_file: Path | None,
    no_read: bool,
    jobs: int | None,
    no_cache: bool,
) -> None:
    """List what is missing or doubtful.

    Worst first, each with its remedy.
    """
    from packet import pipeline
    from packet.checks.accept import apply_accepts
    from packet.checks.agreement import check_read_values
    from packet.checks.severity import ready, worst_first
    from packet.checks.values import check_values
    from packet.report.record import finding_json
    from packet.report.text import findings_text, summary_text

    day = day_of(today)
    read, notes = texts(no_read)
    with progress_bar() as progress:
        seen = pipeline.gather(
            folder,
            encode=True,
            preview=not no_cache,  # as build reads them: what is kept serves both
            jobs=jobs,
            password=password_from(password_file),
            progress=progress,
            use_cache=not no_cache,
            read=read,
        )
    said = check_read_values(seen.packet, seen.items, day)
    values = check_values(seen.packet, day)
    findings = worst_first((*seen.findings, *apply_accepts(seen.packet, said), *values, *notes))
    if as_json:
        print_json({"ready": ready(findings), "findings": [finding_json(f) for f in findings]})
    else:
        click.echo("\n\n".join(filter(None, (findings_text(findings), summary_text(findings)))))
    sys.exit(exit_code(findings))


@click.command("build")
@click.argument("folder", type=FOLDER)
@out_option
@common
@reading
@caching
def build_command(
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
    """Write the files to print.

    The envelope set, two identical copy sets, the print slip, the review page and the record.
    """
    from packet import pipeline
    from packet.report.text import built_text, findings_text

    read, notes = texts(no_read)
    with progress_bar() as progress:
        built = pipeline.build(
            folder,
            out,
            jobs=jobs,
            password=password_from(password_file),
            progress=progress,
            use_cache=not no_cache,
            read=read,
        )
    findings = (*built.findings, *notes)
    if findings:
        click.echo(findings_text(findings), err=True)
    if as_json:
        print_json(built.record)
    else:
        click.echo(built_text(built.record, out or folder / "out"))
    sys.exit(exit_code(findings))


@click.command("count")
@click.argument("folder", type=FOLDER)
@out_option
@common
@reading
@caching
def count_command(
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
    """Work out the number for box 25.

    The box asks for the total of sheets; the sum is written out term by term.
    """
    from packet import pipeline
    from packet.report.text import count_text, findings_text

    with progress_bar() as progress:
        counted, findings, stale = pipeline.count(
            folder,
            out,
            jobs=jobs,
            password=password_from(password_file),
            progress=progress,
            use_cache=not no_cache,
            read=texts(no_read)[0],
        )
    if stale:
        click.echo(f"{stale} The number below is worked out from the scans.", err=True)
    needing = [finding for finding in findings if finding.needs_user]
    if needing:
        click.echo(findings_text(needing), err=True)
    if as_json:
        print_json(counted)
    else:
        click.echo(count_text(counted, findings))
    sys.exit(exit_code(findings))


@click.command("recount")
@click.argument("folder", type=FOLDER)
@out_option
@click.option(
    "--written", type=click.IntRange(0), default=None, help="The number written on the form."
)
@click.option(
    "--paper",
    multiple=True,
    metavar="DOCUMENT=N",
    help="Sheets of one document counted on paper; give it once per document.",
)
@common
def recount_command(
    *,
    folder: Path,
    out: Path | None,
    written: int | None,
    paper: Sequence[str],
    as_json: bool,
    today: datetime | None,
) -> None:
    """Prove that files and number agree.

    Opens the written files with another reader, counts again, and prints a list to tick while
    thumbing through the paper. Exit code 4 when anything
    disagrees, 1 when the packet is not complete.
    """
    from packet.files import sweep
    from packet.report.text import recount_text
    from packet.sheets.recount import recount

    sweep(out or folder / "out")
    result = recount(
        folder, out or folder / "out", written=written, paper=dict(_paper(paper)) or None
    )
    if as_json:
        print_json(
            {
                "agrees": result.agrees,
                "complete": result.complete,
                "missing": [{"what": d.what, "remedy": d.remedy} for d in result.missing],
                "notes": list(result.notes),
                "box": result.box,
                "differences": [{"what": d.what, "remedy": d.remedy} for d in result.differences],
                "tick": [
                    {"title": title, "pages": pages, "sheets": sheets}
                    for title, pages, sheets in result.tick
                ],
            }
        )
    else:
        click.echo(recount_text(result))
    if not result.agrees:
        sys.exit(EXIT_DISAGREES)
    sys.exit(EXIT_DONE if result.complete else EXIT_FINDINGS)


def _paper(pairs: Sequence[str]) -> Iterator[tuple[str, int]]:
    for pair in pairs:
        name, sign, number = pair.rpartition("=")
        if not sign or not name or not number.isdecimal():
            raise UsageError(f"--paper takes DOCUMENT=N, such as passport=16, not {pair!r}.")
        yield name, int(number)


@click.command("status")
@click.argument("folder", type=FOLDER)
@out_option
@common
def status_command(folder: Path, out: Path | None, as_json: bool, today: datetime | None) -> None:
    """Show what is done, what is next, and by when."""
    from packet import standing
    from packet.guidance import days_of
    from packet.guides.calendar import days_json
    from packet.report.days import short_days_text
    from packet.report.text import status_text

    day = day_of(today)
    done, following = standing.status(folder, out, today=day)
    days = days_of(folder, day)
    if as_json:
        print_json({"done": list(done), "next": list(following), "dates": days_json(days, day)})
    else:
        click.echo(status_text(done, following))
        if days:
            click.echo(f"\nDates\n{short_days_text(days, day)}")
