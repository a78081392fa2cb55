"""Who is let in: sign in, stay for a while, sign out; names are tried a few times and then wait."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256
from typing import NoReturn

from sqlalchemy import Engine, delete, func, insert, select, update

from soakline.errors import NotAllowed
from soakline.record.acting import AT_THIS_COMPUTER, NOBODY, Actor
from soakline.record.log import add_entry
from soakline.record.opening import reading_session, writing
from soakline.record.passwords import is_password
from soakline.record.people import Person, find_person, person_of
from soakline.record.schema import AttemptRow, PersonRow, SessionRow

SIGNED_IN, SIGNED_OUT, SIGN_IN_REFUSED = "signed in", "signed out", "sign-in refused"
LOCKED_FOR = timedelta(minutes=15)
MOST_OF_A_NAME, MOST_OF_AN_ADDRESS = 5, 25
"""Refused sign-ins within ``LOCKED_FOR`` after which a name, or an address, waits."""
HERE_FOR = timedelta(days=7)
"""How long the browser at this computer stays let in by one address that the command printed."""
# A drag asks many times a second; when somebody was last seen is written once a minute.
_SEEN_EVERY = timedelta(minutes=1)
_DO_NOT_FIT = (
    "Name and password do not fit together, or the account is locked. Type both again; after "
    f"{MOST_OF_A_NAME} refused tries a name waits {LOCKED_FOR // timedelta(minutes=1)} minutes. Who looks after the "
    "people here can give you a new password"
)
_PEOPLE, _SESSIONS, _ATTEMPTS = (row.metadata.tables[row.__tablename__] for row in (PersonRow, SessionRow, AttemptRow))


@dataclass(frozen=True, slots=True)
class Lasting:
    """How long somebody who signed in stays so: without a request, and at most."""

    idle: timedelta
    most: timedelta


@dataclass(frozen=True, slots=True)
class Admitted:
    """Who a cookie stands for; ``has_first_password`` must choose their own before anything else."""

    actor: Actor
    has_first_password: bool


@dataclass(frozen=True, slots=True)
class Opened:
    """One browser that a person is signed in with: since when, when last seen, whether it is this one."""

    since: datetime
    seen_at: datetime
    is_this: bool


def sign_in(engine: Engine, name: str, password: str, address: str, now: datetime) -> tuple[Person, str]:
    """Let a person in by name and password; return them with what their cookie holds.

    Raises NotAllowed, in the same words whether the name, the password or the account is at fault, and before the
    password is looked at where the name or the address was refused too often.
    """
    _check_tries(engine, name, address, now)
    person = find_person(engine, name)
    kept_hash = _hash_of(engine, person)
    if not is_password(password, kept_hash) or person is None or person.is_locked:
        refuse_sign_in(engine, name, address, now, person)
    return person, open_session(engine, person, now)


def refuse_sign_in(
    engine: Engine, name: str, address: str, now: datetime, person: Person | None = None, says: str = _DO_NOT_FIT
) -> NoReturn:
    """Write a refused sign-in down and raise NotAllowed with what is to be said."""
    with writing(engine) as connection:
        connection.execute(delete(_ATTEMPTS).where(_ATTEMPTS.c.at <= now - LOCKED_FOR))
        connection.execute(insert(_ATTEMPTS), {"at": now, "name_hash": _mark(name), "address": address[:100]})
        told = {"person": person.id if person else None, "address": address[:100]}
        add_entry(connection, SIGN_IN_REFUSED, now, told, who=NOBODY.name)
    raise NotAllowed(says)


def open_session(engine: Engine, person: Person | None, now: datetime) -> str:
    """Let a browser in, None at this computer, and return what its cookie holds; only its hash is kept."""
    token = secrets.token_urlsafe(32)
    with writing(engine) as connection:
        connection.execute(delete(_SESSIONS).where(_SESSIONS.c.opened_at <= now - HERE_FOR))
        values = {"person_id": person.id if person else None, "opened_at": now, "seen_at": now}
        connection.execute(insert(_SESSIONS), {"token_hash": _mark(token), **values})
        if person:
            connection.execute(delete(_ATTEMPTS).where(_ATTEMPTS.c.name_hash == _mark(person.name)))
            add_entry(connection, SIGNED_IN, now, {"person": person.id}, who=person.name)
    return token


def admit(engine: Engine, token: str, now: datetime, lasting: Lasting) -> Admitted | None:
    """Return who a cookie stands for, or None where it stands for nobody, or for too long."""
    with reading_session(engine) as session:
        opened = session.scalar(select(SessionRow).where(SessionRow.token_hash == _mark(token)))
        row = session.get(PersonRow, opened.person_id) if opened and opened.person_id else None
        person = person_of(row) if row else None
    if opened is None:
        return None
    if person is None:
        return Admitted(AT_THIS_COMPUTER, has_first_password=False) if now - opened.opened_at <= HERE_FOR else None
    if person.is_locked or now - opened.seen_at > lasting.idle or now - opened.opened_at > lasting.most:
        return None
    if now - opened.seen_at > _SEEN_EVERY:
        with writing(engine) as connection:
            connection.execute(update(_SESSIONS).where(_SESSIONS.c.id == opened.id).values(seen_at=now))
    return Admitted(person.actor, person.has_first_password)


def end_session(engine: Engine, token: str, now: datetime) -> None:
    """Let a browser out."""
    with writing(engine) as connection:
        ended = connection.execute(
            delete(_SESSIONS).where(_SESSIONS.c.token_hash == _mark(token)).returning(_SESSIONS.c.person_id)
        ).first()
        if ended:
            add_entry(connection, SIGNED_OUT, now, {"person": ended.person_id})


def list_sessions(engine: Engine, person: Person, token: str, now: datetime, lasting: Lasting) -> tuple[Opened, ...]:
    """Return the browsers that a person is signed in with, the longest first; ``token`` is this one's."""
    of_person = select(SessionRow).where(
        SessionRow.person_id == person.id,
        SessionRow.seen_at >= now - lasting.idle,
        SessionRow.opened_at >= now - lasting.most,
    )
    with reading_session(engine) as session:
        rows = session.scalars(of_person.order_by(SessionRow.opened_at))
        return tuple(Opened(row.opened_at, row.seen_at, row.token_hash == _mark(token)) for row in rows)


def end_others(engine: Engine, person: Person, token: str, now: datetime) -> None:
    """Sign a person out in every browser but the one whose cookie holds ``token``."""
    others = delete(_SESSIONS).where(_SESSIONS.c.person_id == person.id, _SESSIONS.c.token_hash != _mark(token))
    with writing(engine) as connection:
        if connection.execute(others).rowcount:
            add_entry(connection, SIGNED_OUT, now, {"person": person.id, "kept": "one browser"})


def _check_tries(engine: Engine, name: str, address: str, now: datetime) -> None:
    since = select(func.count()).select_from(_ATTEMPTS).where(_ATTEMPTS.c.at > now - LOCKED_FOR)
    with reading_session(engine) as session:
        of_name = session.scalar(since.where(_ATTEMPTS.c.name_hash == _mark(name))) or 0
        of_address = session.scalar(since.where(_ATTEMPTS.c.address == address[:100])) or 0
    if of_name >= MOST_OF_A_NAME or of_address >= MOST_OF_AN_ADDRESS:
        msg = (
            f"Too many sign-ins were refused within {_minutes(LOCKED_FOR)} minutes, so none is looked at now. Wait, "
            "then try again; who looks after the people here can give you a new password"
        )
        raise NotAllowed(msg)


def _hash_of(engine: Engine, person: Person | None) -> str | None:
    if person is None:
        return None
    with reading_session(engine) as session:
        return session.scalar(select(_PEOPLE.c.password_hash).where(_PEOPLE.c.id == person.id))


def _mark(token: str) -> str:
    return sha256(token.encode()).hexdigest()


def _minutes(span: timedelta) -> int:
    return span // timedelta(minutes=1)
