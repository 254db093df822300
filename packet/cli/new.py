"""``packet new``: the few questions, then the folder."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from packet.cli.options import FOLDER, common, day_of, password_from, print_json
from packet.errors import UsageError

if TYPE_CHECKING:
    from packet.intake.scaffold import Answers


@click.command("new")
@click.argument("folder", type=FOLDER, required=False)
@click.option("--rule-set", default=None, help="Name of a rule set, or a TOML file of your own.")
@click.option("--from", "old", type=FOLDER, default=None, help="Carry an older packet over.")
@click.option(
    "--list",
    "clients",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    metavar="CSV",
    help="Make one packet a line of this list, in FOLDER or here.",
)
@click.option(
    "--read",
    "scans",
    multiple=True,
    type=click.Path(dir_okay=False),
    metavar="SCAN",
    help="Propose the values that this scan of the passport says; may be given several times.",
)
@click.option(
    "--password-file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="File whose first line opens an encrypted PDF named with --read.",
)
@common
def new_command(
    *,
    folder: Path | None,
    rule_set: str | None,
    old: Path | None,
    clients: Path | None,
    scans: Sequence[str],
    password_file: Path | None,
    as_json: bool,
    today: datetime | None,
) -> None:
    """Make a packet folder.

    It holds packet.toml and one sub-folder per document, each with a SCAN-ME.txt. A list is a
    CSV file whose first line names its columns: folder, and where wanted rule_set, from, surname,
    given_names, booklet_pages, form_leaves, not_held.
    """
    from packet.intake.scaffold import FIRST_ISSUE, new_packet
    from packet.model import HEAP_FOLDER
    from packet.rules.reader import load_rule_set

    if clients is not None:
        if scans:
            raise UsageError("--read does not go with --list: a passport is of one packet.")
        if old is not None:
            raise UsageError("--from does not go with --list: the list has a column for it.")
        _many(clients, folder or Path(), rule_set=rule_set, as_json=as_json, today=day_of(today))
        return
    if folder is None:
        raise UsageError("Name the folder to make, or a list of clients with --list.")
    day = day_of(today)
    read = _identity(scans, password_file, day)
    asks = sys.stdin.isatty() and not as_json and old is None
    answers = _ask(load_rule_set(rule_set or FIRST_ISSUE).documents) if asks else None
    made = new_packet(folder, rule_set=rule_set, answers=answers, old=old, today=day, read=read)
    if as_json:
        print_json({"made": [str(path) for path in made.paths]})
        return
    folders = sum(path.is_dir() for path in made.paths[1:])
    others = len(made.paths) - folders - 2  # without the folder itself and packet.toml
    click.echo(f"Made {folder}: packet.toml, {folders} sub-folders and {others} other files.")
    if read:
        click.echo(
            "What the passport says stands in packet.toml as comments: compare each with the "
            "passport, then take its # away. Nothing of it is used before."
        )
    for line in made.again:
        click.echo(f"  scan anew: {line}")
    for line in made.check:
        click.echo(f"  carried over, look at it: {line}")
    click.echo(f"Next: read SCAN-ME.txt in each sub-folder, scan, then: packet check {folder}")
    click.echo(f"Or put all scans into {folder / HEAP_FOLDER}, then: packet sort {folder}")


def _identity(scans: Sequence[str], password_file: Path | None, day: date) -> dict[str, Any]:
    if not scans:
        return {}
    from packet.identity import read_identity

    return read_identity(scans, password=password_from(password_file), today=day)


def _many(clients: Path, place: Path, *, rule_set: str | None, as_json: bool, today: date) -> None:
    """One packet a line; each is said as soon as it is made."""
    from packet.intake.client_list import make_clients, read_clients

    paths: list[str] = []
    for name, made in make_clients(read_clients(clients), place, rule_set=rule_set, today=today):
        if made is None:
            click.echo(f"{place / name}: is there already and was left as it is.", err=True)
            continue
        paths += [str(path) for path in made.paths]
        if not as_json:
            click.echo(f"Made {place / name}.")
            for line in (*made.again, *made.check):
                click.echo(f"  look at it: {line}")
    if as_json:
        print_json({"made": paths})
    else:
        click.echo(f"Next: scan into the folders, then: packet batch {place}")


def _ask(documents: Sequence[Any]) -> Answers:
    """The few questions, on a terminal; an empty answer is a value not given."""
    from packet.intake.scaffold import Answers

    click.echo("A few questions; press Enter to leave one open and fill it in later.")
    surname = click.prompt("Surname, as in the passport", default="", show_default=False)
    given = click.prompt("Given names, as in the passport", default="", show_default=False)
    booklet = _ask_number("Numbered pages of the passport booklet (28, 32, 48 …)", 8, 200)
    leaves = _ask_number(
        "Leaves of paper of the form, counted in your hand (a leaf printed on two sides is one)",
        1,
        99,
    )
    absent = tuple(
        spec.folder
        for spec in documents
        if spec.need == "if-held"
        and not click.confirm(f"Do you hold this: {spec.title_en}?", default=True)
    )
    return Answers(
        surname=surname,
        given_names=given,
        booklet_pages=booklet,
        form_leaves=leaves,
        not_held=absent,
    )


def _ask_number(question: str, low: int, high: int) -> int | None:
    while True:
        text = click.prompt(question, default="", show_default=False).strip()
        if not text:
            return None
        if text.isdecimal() and low <= int(text) <= high:
            return int(text)
        click.echo(f"A whole number from {low} to {high}, or nothing.")
