"""The commands of the archive: close a case with the reason and what is left open, open it again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated, cast

import typer

from soakline.errors import Finding, InputRefused
from soakline.faces.cli.keeping import Database, opened
from soakline.settings import Settings

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from soakline.record.cases import ClosedKind, KeptCase

CaseNumber = Annotated[
    int, typer.Argument(metavar="CASE", help="The number of the case, from its address /cases/CASE.")
]
Says = Annotated[str, typer.Option(metavar="WORDS", help="In words: what happened, where to, who goes on.")]
ByRole = Annotated[str, typer.Option("--by", metavar="ROLE", help="The role of whoever decides it, not a name.")]
_OPTIONS = {"kind": "--kind", "known": "--known", "says": "--says", "by_role": "--by"}


def close(
    case: CaseNumber,
    kind: Annotated[
        str, typer.Option(metavar="REASON", help="Why it is closed; without it, the reasons are named.")
    ] = "",
    says: Says = "",
    by_role: ByRole = "",
    known: Annotated[
        int | None, typer.Option(metavar="VERSION", help="What is not resolved at this version is known.")
    ] = None,
    database: Database = None,
) -> None:
    """Close a case with the reason; what is not resolved is said first."""
    from soakline.record.cases import NewClosing, close_case
    from soakline.workflows.closing import against_closing

    settings = Settings.from_environment(database_url=database)
    record = opened(settings)
    kept = _kept(record, case)
    still = _left_open(kept, settings)
    for line in still if kept.closing is None else ():
        typer.echo(f"Not resolved · {line}", err=True)
    is_known = known == kept.version_id
    _refuse(against_closing(kind, says.strip(), by_role.strip(), still, is_known=is_known), kept, known)
    new = NewClosing(cast("ClosedKind", kind), says.strip(), by_role.strip(), still)
    close_case(record, kept, new, datetime.now(UTC))
    typer.echo(f"Case {kept.id}, {kept.label}, version {kept.version_id}: closed, {kind}. By: {new.by_role}.")


def reopen(case: CaseNumber, says: Says = "", by_role: ByRole = "", database: Database = None) -> None:
    """Open a closed case again, with the reason."""
    from soakline.record.cases import reopen_case
    from soakline.workflows.closing import against_reopening

    record = opened(Settings.from_environment(database_url=database))
    kept = _kept(record, case)
    _refuse(against_reopening(says.strip(), by_role.strip()), kept, None)
    reopen_case(record, kept, says.strip(), by_role.strip(), datetime.now(UTC))
    typer.echo(f"Case {kept.id}, {kept.label}, version {kept.version_id}: open again. By: {by_role.strip()}.")


def _kept(record: Engine, case_id: int) -> KeptCase:
    from soakline.record.cases import find_case

    kept = find_case(record, case_id)
    if kept is None:
        says = f"{case_id}: no such case in this record; its number stands in the address of its page"
        raise InputRefused([Finding("refuse", "CASE", says)])
    return kept


def _left_open(kept: KeptCase, settings: Settings) -> tuple[str, ...]:
    from soakline.casefile.read import read_case
    from soakline.workflows.closing import left_open
    from soakline.workflows.plan import Asked, plan_case

    reading = read_case(kept.text)
    if reading.case is None:
        return left_open(None, None)
    try:
        return left_open(reading.case, plan_case(reading.case, reading.findings, settings, Asked(models=())))
    except InputRefused:
        return left_open(None, None)


def _refuse(against: Sequence[Finding], kept: KeptCase, known: int | None) -> None:
    """Raise all that stands against it, by the options of the command."""
    if against:
        raise InputRefused([replace(one, where=_OPTIONS[one.where], says=_says(one, kept, known)) for one in against])


def _says(found: Finding, kept: KeptCase, known: int | None) -> str:
    if found.where != "known":
        return found.says
    given = "" if known is None else f"{known} given, the case is at version {kept.version_id}; "
    return f"{given}something is left open: read it above, then add --known {kept.version_id}, or resolve it first"
