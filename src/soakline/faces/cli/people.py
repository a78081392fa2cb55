"""The commands about the people who sign in: list them, add one, give one a new first password."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated

import typer

from soakline.errors import Finding, InputRefused
from soakline.faces.cli.keeping import Database, opened
from soakline.settings import Settings

if TYPE_CHECKING:
    from soakline.record.people import Person

people = typer.Typer(
    help="The people who sign in at a site: list, add, give a new first password.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
Name = Annotated[str, typer.Argument(metavar="NAME", help="How they sign in, and what stands beside their entries.")]


@people.command(name="list")
def list_all(database: Database = None) -> None:
    """List who may sign in."""
    from soakline.record.people import list_people

    everybody = list_people(opened(Settings.from_environment(database_url=database)))
    for person in everybody:
        typer.echo(_line(person))
    if not everybody:
        typer.echo("Nobody yet. First: soakline people add NAME --role administrator")


@people.command()
def add(
    name: Name,
    role: Annotated[str, typer.Option(help="specialist, ward, reader or administrator.")],
    ward: Annotated[list[str] | None, typer.Option(metavar="WARD", help="A ward they see; may be repeated.")] = None,
    subject: Annotated[
        str | None, typer.Option(help="Whom the site's provider of identities knows them as; then no password.")
    ] = None,
    database: Database = None,
    *,
    every_ward: Annotated[bool, typer.Option("--every-ward", help="They see every ward.")] = False,
) -> None:
    """Add a person and print the first password once."""
    from soakline.record.people import NewPerson, add_person

    if every_ward and ward:
        says = "given beside --ward; give one of them: some wards, or every ward"
        raise InputRefused([Finding("refuse", "--every-ward", says)])
    record = opened(Settings.from_environment(database_url=database))
    new = NewPerson(name.lower(), role, None if every_ward else frozenset(ward or ()), subject)
    _tell(*add_person(record, new, datetime.now(UTC)))


@people.command()
def password(name: Name, database: Database = None) -> None:
    """Unlock a person, give them a new first password, print it once and end their sessions."""
    from soakline.record.people import NewPerson, change_person, find_person

    record = opened(Settings.from_environment(database_url=database))
    person = find_person(record, name.lower())
    if person is None:
        says = f'"{name}": no such person; `soakline people list` names all'
        raise InputRefused([Finding("refuse", "NAME", says)])
    if person.subject:
        says = f'"{name}": signs in at the site\'s provider, and has no password here; ask who runs that'
        raise InputRefused([Finding("refuse", "NAME", says)])
    same = NewPerson(person.name, person.role, person.wards)
    _tell(*change_person(record, person.id, same, person.version_id, datetime.now(UTC), renew=True))


def _tell(person: Person, first_password: str | None) -> None:
    typer.echo(_line(person))
    if first_password:
        typer.echo(f"First password, shown this once: {first_password}")
        typer.echo("Hand it over yourself. At the first sign-in a new one is asked for.")


def _line(person: Person) -> str:
    wards = "every ward" if person.wards is None else ", ".join(sorted(person.wards)) or "no ward"
    return f"{person.name} · {person.role} · {wards}{' · locked' if person.is_locked else ''}"
