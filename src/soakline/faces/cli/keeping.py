"""The commands about the record itself: hold it against its log, print a paper again, back it up and restore it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from soakline.errors import Finding, InputRefused
from soakline.settings import Settings

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from soakline.record.verify import Head, Verified
    from soakline.workflows.keep import Recomputed

BROKEN = 4
Database = Annotated[str | None, typer.Option(metavar="URL", help="Where the cases are kept.")]
PassphraseFile = Annotated[
    Path | None, typer.Option(metavar="FILE", help="A file whose first line is the passphrase of the backup.")
]


def verify(
    database: Database = None,
    head: Annotated[
        str | None, typer.Option(metavar="N:HASH", help="The last entry as it was written down earlier.")
    ] = None,
    *,
    plans: Annotated[bool, typer.Option("--plans", help="Work every kept plan out again, too.")] = False,
) -> None:
    """Hold the record against its log, entry by entry."""
    from soakline.record.verify import verify_record

    settings = Settings.from_environment(database_url=database)
    record = opened(settings)
    found = verify_record(record, _head(head))
    _tell(found)
    differs = _compare_plans(record, settings) if plans else False
    if found.broken or differs:
        raise typer.Exit(BROKEN)


def reprint(
    paper: Annotated[int, typer.Argument(metavar="PAPER", help="The number of the paper, from a case's history.")],
    out: Annotated[Path, typer.Option("-o", "--out", metavar="FILE", help="Where to write it.")],
    database: Database = None,
) -> None:
    """Write a kept paper again, byte for byte."""
    from soakline.record.plans import find_paper

    kept = find_paper(opened(Settings.from_environment(database_url=database)), paper)
    if kept is None:
        says = f"{paper}: no such paper in this record; the history of a case lists its papers"
        raise InputRefused([Finding("refuse", "PAPER", says)])
    out.write_bytes(kept.content)
    typer.echo(
        f"Paper {kept.id} written to {out}: {kept.kind} of case {kept.case_id}, version {kept.version_id}, "
        f"printed {kept.printed_at:%Y-%m-%d %H:%M} UTC by Soakline {kept.program_version}."
    )


def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A new file for the whole record.")],
    database: Database = None,
    passphrase_file: PassphraseFile = None,
) -> None:
    """Write the whole record to one file, while people work."""
    from soakline import __version__
    from soakline.record.backup import back_up

    record = opened(Settings.from_environment(database_url=database))
    found = back_up(record, file, datetime.now(UTC), __version__, _passphrase(passphrase_file))
    typer.echo(f"Backup written to {file}.")
    _tell(found)
    if found.broken:
        raise typer.Exit(BROKEN)


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A file that `soakline backup` wrote.")],
    database: Database = None,
    passphrase_file: PassphraseFile = None,
) -> None:
    """Fill an empty record from a backup, all or nothing."""
    from soakline.record.backup import restore as fill

    record = opened(Settings.from_environment(database_url=database))
    found = fill(record, file, _passphrase(passphrase_file))
    typer.echo(f"Record restored from {file}.")
    _tell(found)


def _passphrase(file: Path | None) -> str | None:
    if file is None:
        return None
    first_line = file.read_text("utf-8").partition("\n")[0].strip()
    if not first_line:
        says = f"{file}: its first line is empty; write the passphrase there"
        raise InputRefused([Finding("refuse", "--passphrase-file", says)])
    return first_line


def _tell(found: Verified) -> None:
    for line in _found(found):
        typer.echo(line)
    for broken in found.broken:
        typer.echo(f"Broken · {broken.where} {broken.says}", err=True)


def opened(settings: Settings) -> Engine:
    """Open the record that the settings name."""
    from soakline.record.opening import open_record

    return open_record(settings.database_url)


def _head(written: str | None) -> Head | None:
    from soakline.record.verify import Head

    if written is None:
        return None
    number, _, mark = written.partition(":")
    if not (number.isascii() and number.isdigit() and len(mark) == 64):
        says = f'"{written}": allowed is N:HASH, as an earlier check printed it after "head"'
        raise InputRefused([Finding("refuse", "--head", says)])
    return Head(int(number), mark)


def _found(found: Verified) -> list[str]:
    kept = f"{found.cases} cases, {found.versions} versions, {found.plans} plans, {found.papers} papers"
    lines = [
        f"{found.head.entry_id} entries; {kept}.",
        f"head {found.head.entry_id}:{found.head.hash}",
    ]
    if found.backward:
        lines.append(f"Note: {found.backward} entries are stamped earlier than the one before: a clock was set back.")
    if not found.broken:
        lines.append(
            "No break found: every entry carries the hash of the one before, and every row is as its entry tells. Not "
            "checked: that nobody wrote the whole log anew; write the head down elsewhere and name it with --head."
        )
    return lines


def _compare_plans(record: Engine, settings: Settings) -> bool:
    from soakline.record.plans import plans_kept
    from soakline.workflows.keep import recompute

    differs = False
    for kept in plans_kept(record):
        again = recompute(kept, settings)
        differs = differs or (again.same_rules and bool(again.differing_keys))
        typer.echo(_say_recomputed(again))
    return differs


def _say_recomputed(again: Recomputed) -> str:
    of = f"Plan {again.plan_id} of case {again.case_id}, version {again.version_id}"
    by = f"by Soakline {again.program_version}, rules {again.rules_version}"
    if not again.differing_keys:
        return f"{of}: the same when worked out again ({by})."
    why = "the program and its rules are the same" if again.same_rules else "the program or its rules changed since"
    return f"{of}: now different in {', '.join(again.differing_keys)} ({by}; {why})."
