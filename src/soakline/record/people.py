"""The people who sign in: add one, change one, list them; every change is told to the log."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import Any, cast

from sqlalchemy import ColumnElement, Engine, delete, select
from sqlalchemy.orm import Session

from soakline.errors import Finding, InputRefused, StaleRecord
from soakline.record.acting import MAY, ROLES, Actor, Role
from soakline.record.log import Told, add_entry
from soakline.record.opening import reading_session, writing_session
from soakline.record.passwords import first_password, hash_password, is_password, say_weak
from soakline.record.schema import PersonRow, SessionRow

PERSON_ADDED, PERSON_CHANGED = "person added", "person changed"
MOST_WARD_LETTERS = 80
_NAME = re.compile(r"[a-z0-9][a-z0-9._-]{1,39}")


@dataclass(frozen=True, slots=True)
class Person:
    """One who may sign in; ``wards`` None sees every ward. ``subject`` is who they are at the site's provider."""

    id: int
    name: str
    role: Role
    wards: frozenset[str] | None
    subject: str | None
    has_password: bool
    has_first_password: bool
    is_locked: bool
    version_id: int

    @property
    def actor(self) -> Actor:
        """Who they are when they act."""
        return Actor(self.name, self.role, self.wards, self.id)


@dataclass(frozen=True, slots=True)
class NewPerson:
    """What is said of a person: all but the password. Raises InputRefused where it cannot be used."""

    name: str
    role: str
    wards: frozenset[str] | None = None
    subject: str | None = None
    is_locked: bool = False

    def __post_init__(self) -> None:
        """Hold name, role and wards against what they may be."""
        faults: list[Finding] = []
        if not _NAME.fullmatch(self.name):
            says = f'"{self.name}": allowed are 2 to 40 of a to z, 0 to 9, point, dash and underscore; name them so'
            faults.append(Finding("refuse", "name", says))
        if self.role not in ROLES:
            faults.append(Finding("refuse", "role", f'"{self.role}": allowed is one of {", ".join(ROLES)}; choose one'))
        elif "read" in MAY[self.role] and self.wards is not None and not self.wards:
            says = "none: who reads cases sees some wards or every ward; name them, or say every ward"
            faults.append(Finding("refuse", "wards", says))
        for ward in sorted(self.wards or ()):
            if not (0 < len(ward) <= MOST_WARD_LETTERS and ward == ward.strip() and ward.isprintable()):
                says = f'"{ward[:100]}": a ward has a name of 1 to {MOST_WARD_LETTERS} letters; write it so'
                faults.append(Finding("refuse", "wards", says))
        if faults:
            raise InputRefused(faults)


def list_people(engine: Engine) -> tuple[Person, ...]:
    """Return all who may sign in, by name."""
    with reading_session(engine) as session:
        return tuple(person_of(row) for row in session.scalars(select(PersonRow).order_by(PersonRow.name)))


def find_person(engine: Engine, name: str) -> Person | None:
    """Return the person of that name, or None."""
    return _find(engine, PersonRow.name == name)


def find_subject(engine: Engine, subject: str) -> Person | None:
    """Return the person whom the site's provider knows as ``subject``, or None."""
    return _find(engine, PersonRow.subject == subject)


def known_wards(engine: Engine) -> tuple[str, ...]:
    """Return every ward that a person is named for, in order."""
    return tuple(sorted({ward for person in list_people(engine) for ward in person.wards or ()}))


def add_person(engine: Engine, new: NewPerson, now: datetime) -> tuple[Person, str | None]:
    """Keep a person and return them with a first password to hand over, None where the provider signs them in.

    Raises InputRefused where the name or the subject is taken.
    """
    password = None if new.subject else first_password()
    with writing_session(engine) as session:
        _check_free(session, None, new.name, new.subject)
        row = PersonRow(
            name=new.name,
            **_said(new),
            password_hash=hash_password(password) if password else None,
            has_first_password=password is not None,
            version_id=1,
            changed_at=now,
        )
        session.add(row)
        session.flush()
        add_entry(session.connection(), PERSON_ADDED, now, told_of(row))
        return person_of(row), password


def change_person(
    engine: Engine, person_id: int, new: NewPerson, expected_version: int, now: datetime, *, renew: bool = False
) -> tuple[Person, str | None]:
    """Put what is said of a person in place of what was, end their sessions, and give a first password to ``renew``.

    Raises StaleRecord when somebody changed them meanwhile, InputRefused where nobody would be left who may look after
    people, or another has the subject. The name stays: it stands in the log.
    """
    password = first_password() if renew and not new.subject else None
    keys = _said(new)
    if password:
        keys |= {"password_hash": hash_password(password), "has_first_password": True}
    if new.subject:
        keys |= {"password_hash": None, "has_first_password": False}
    return _change(engine, person_id, keys, expected_version, now), password


def set_password(engine: Engine, person: Person, old: str, new: str, now: datetime) -> Person:
    """Put a person's own new password in place of the old and end their other sessions; raises InputRefused."""
    with reading_session(engine) as session:
        kept = session.scalar(select(PersonRow.password_hash).where(PersonRow.id == person.id))
    faults: list[Finding] = []
    if not is_password(old, kept):
        faults.append(Finding("refuse", "old", "it is not your password; type the one you signed in with"))
    weak = "it is the one you have; take another" if old == new else say_weak(new, person.name)
    if weak:
        faults.append(Finding("refuse", "new", weak))
    if faults:
        raise InputRefused(faults)
    keys = {"password_hash": hash_password(new), "has_first_password": False}
    return _change(engine, person.id, keys, person.version_id, now)


def told_of(row: PersonRow) -> Mapping[str, Told]:
    """Return what the log tells of a person; of the password only a hash of its hash."""
    return {
        "person": row.id,
        "name": row.name,
        "role": row.role,
        "wards": row.wards,
        "subject": row.subject,
        "is_locked": row.is_locked,
        "version": row.version_id,
        "password_sha256": sha256((row.password_hash or "").encode()).hexdigest(),
    }


def person_of(row: PersonRow) -> Person:
    """Return a kept person as they stand."""
    wards: list[str] | None = json.loads(row.wards)
    return Person(
        row.id,
        row.name,
        cast("Role", row.role),
        None if wards is None else frozenset(wards),
        row.subject,
        row.password_hash is not None,
        row.has_first_password,
        row.is_locked,
        row.version_id,
    )


def _find(engine: Engine, which: ColumnElement[bool]) -> Person | None:
    with reading_session(engine) as session:
        row = session.scalar(select(PersonRow).where(which))
        return person_of(row) if row else None


def _check_free(session: Session, person_id: int | None, name: str, subject: str | None) -> None:
    for key, column, value in (("name", PersonRow.name, name), ("subject", PersonRow.subject, subject)):
        other = session.scalar(select(PersonRow.id).where(column == value)) if value else None
        if other not in {None, person_id}:
            raise InputRefused([Finding("refuse", key, f'"{value}": somebody has it already; name another')])


def _change(engine: Engine, person_id: int, keys: Mapping[str, object], version: int, now: datetime) -> Person:
    with writing_session(engine) as session:
        row = session.get(PersonRow, person_id)
        if row is None or row.version_id != version:
            msg = "Somebody changed this person since you read the list. Open it again and look"
            raise StaleRecord(msg)
        for key, value in {**keys, "version_id": version + 1, "changed_at": now}.items():
            setattr(row, key, value)
        _check_free(session, row.id, row.name, row.subject)
        looks_after = select(PersonRow.id).where(PersonRow.role == "administrator", PersonRow.is_locked.is_(False))
        if session.scalar(looks_after.limit(1)) is None:
            says = "nobody would be left who may look after people; make another administrator first"
            raise InputRefused([Finding("refuse", "role", says)])
        # Whoever holds a cookie of before signs in again, as what they now are.
        session.execute(delete(SessionRow).where(SessionRow.person_id == person_id))
        add_entry(session.connection(), PERSON_CHANGED, now, told_of(row))
        return person_of(row)


def _said(new: NewPerson) -> dict[str, Any]:
    return {
        "role": new.role,
        "wards": json.dumps(None if new.wards is None else sorted(new.wards), ensure_ascii=False),
        "subject": new.subject or None,
        "is_locked": new.is_locked,
    }
