"""The whole record in one file of open formats, taken while people work, and a record made from such a file again."""

from __future__ import annotations

import json
import os
import zipfile
from base64 import b64decode, b64encode
from collections.abc import Generator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from hashlib import sha256
from io import BytesIO
from itertools import islice
from pathlib import Path
from typing import Any, BinaryIO, cast

from alembic.migration import MigrationContext
from pyrage import (  # its compiled part brings no types
    DecryptError,  # pyright: ignore[reportAttributeAccessIssue, reportUnknownVariableType]
)
from pyrage import (
    passphrase as age,  # pyright: ignore[reportAttributeAccessIssue, reportUnknownVariableType]
)
from sqlalchemy import Column, Engine, LargeBinary, Table, func, insert, select, text
from sqlalchemy.orm import Session

from soakline.errors import Finding, InputRefused
from soakline.record.opening import reading_session, writing_session
from soakline.record.schema import UtcTime, lasting_tables
from soakline.record.verify import Head, Verified, verify_session

FORMAT = "soakline-record/1"
MANIFEST = "manifest.json"
_ENCRYPTED = b"age-encryption.org/"
_AT_ONCE = 200


@dataclass(frozen=True, slots=True)
class _Held:
    rows: int
    sha256: str


def back_up(engine: Engine, file: Path, now: datetime, program_version: str, passphrase: str | None = None) -> Verified:
    """Write one state of the record to a new file, encrypted where a passphrase is given, and say what was found in it.

    The file is on disk, whole, when this returns. Raises InputRefused where a file of that name is there already.
    """
    with reading_session(engine) as session, _new_file(file) as out:
        found = verify_session(session)
        target = BytesIO() if passphrase else out
        with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as packed:
            held = {table.name: _pack(session, table, packed) for table in lasting_tables()}
            manifest = {
                "format": FORMAT,
                "program": program_version,
                "tables_version": _tables_version(session),
                "made_at": now.astimezone(UTC).isoformat(),
                "head": asdict(found.head),
                "tables": {name: asdict(what) for name, what in held.items()},
            }
            packed.writestr(MANIFEST, json.dumps(manifest, indent=2) + "\n")
        if isinstance(target, BytesIO):
            out.write(_encrypt(target.getvalue(), passphrase or ""))
    return found


def restore(engine: Engine, file: Path, passphrase: str | None = None) -> Verified:
    """Fill an empty record from a backup, all or nothing, and hold it against its log before it is kept.

    Raises InputRefused where the record is not empty, the passphrase does not fit, or the file is not what its
    manifest and its log say.
    """
    with _readable(file), _opened(file, passphrase) as packed:
        manifest = json.loads(packed.read(MANIFEST))
        with writing_session(engine) as session:
            _check_fits(session, manifest, file)
            for table in lasting_tables():
                held = _unpack(session, table, packed)
                if held != _Held(**manifest["tables"][table.name]):
                    raise _refused(file, f"{table.name}.jsonl is not what its manifest says")
            _count_on(session)
            head = Head(**manifest["head"])
            found = verify_session(session, head)
            if found.broken or found.head != head:
                broken = "; ".join(f"{b.where} {b.says}" for b in found.broken[:10]) or "its last entry is another"
                raise _refused(file, f"it is not what its log says: {broken}")
    return found


@contextmanager
def _new_file(file: Path) -> Generator[BinaryIO, None, None]:
    """Give a file that appears under its name when it is whole and on disk, readable by its owner alone."""
    part = file.with_name(f"{file.name}.part")
    if file.exists():
        raise _refused(file, "a file of that name is there already; name another")
    descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    try:
        with os.fdopen(descriptor, "wb") as out:
            yield out
            out.flush()
            os.fsync(out.fileno())
        part.rename(file)
    finally:
        part.unlink(missing_ok=True)


def _pack(session: Session, table: Table, packed: zipfile.ZipFile) -> _Held:
    rows, mark = 0, sha256()
    found = session.execute(select(table).order_by(table.c.id).execution_options(yield_per=_AT_ONCE))
    with packed.open(f"{table.name}.jsonl", "w", force_zip64=True) as out:
        for row in found.mappings():
            written = {name: _written(row[name]) for name in table.c.keys()}  # noqa: SIM118 - columns, not keys
            line = json.dumps(written, ensure_ascii=False).encode() + b"\n"
            out.write(line)
            mark.update(line)
            rows += 1
    return _Held(rows, mark.hexdigest())


def _written(value: object) -> object:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    return b64encode(value).decode() if isinstance(value, bytes) else value


def _unpack(session: Session, table: Table, packed: zipfile.ZipFile) -> _Held:
    rows, mark = 0, sha256()
    with packed.open(f"{table.name}.jsonl") as lines:
        while some := list(islice(lines, _AT_ONCE)):
            for line in some:
                mark.update(line)
            rows += len(some)
            session.execute(insert(table), [_read(table, json.loads(line)) for line in some])
    return _Held(rows, mark.hexdigest())


def _read(table: Table, written: dict[str, Any]) -> dict[str, Any]:
    return {column.name: _value(column, written[column.name]) for column in table.c}


def _value(column: Column[Any], written: Any) -> Any:  # noqa: ANN401 - as the column says
    if isinstance(column.type, UtcTime):
        return datetime.fromisoformat(written)
    return b64decode(written, validate=True) if isinstance(column.type, LargeBinary) else written


def _check_fits(session: Session, manifest: dict[str, Any], file: Path) -> None:
    if manifest["format"] != FORMAT:
        raise _refused(file, f"its format is {manifest['format']}, and this version reads {FORMAT}")
    here = _tables_version(session)
    if manifest["tables_version"] != here:
        says = (
            f"it was made by Soakline {manifest['program']} with tables of version {manifest['tables_version']}, and "
            f"here they are of version {here}; restore it with that Soakline, then open the record with this one"
        )
        raise _refused(file, says)
    for table in lasting_tables():
        if session.scalar(select(func.count()).select_from(table)):
            says = "the record already holds something, and a backup never goes over it; name an empty database"
            raise _refused(file, says)


def _tables_version(session: Session) -> str:
    return str(MigrationContext.configure(session.connection()).get_current_revision())


def _count_on(session: Session) -> None:
    """Let PostgreSQL give the next numbers after the restored ones; SQLite does so by itself."""
    if session.get_bind().dialect.name == "sqlite":
        return
    for table in lasting_tables():
        sequence = session.scalar(select(func.pg_get_serial_sequence(table.name, "id")))
        if sequence:
            last = f"SELECT setval(:sequence, (SELECT max(id) FROM {table.name}))"  # noqa: S608 - our own table
            session.execute(text(last), {"sequence": sequence})


@contextmanager
def _readable(file: Path) -> Generator[None, None, None]:
    try:
        yield
    except (zipfile.BadZipFile, KeyError, TypeError, ValueError, AttributeError) as damaged:
        raise _refused(file, f"it is no backup of a record, or is damaged ({damaged})") from damaged


@contextmanager
def _opened(file: Path, passphrase: str | None) -> Generator[zipfile.ZipFile, None, None]:
    with file.open("rb") as plain:
        encrypted = plain.read(len(_ENCRYPTED)) == _ENCRYPTED
        if encrypted and not passphrase:
            raise _refused(file, "it is encrypted; name the file that holds its passphrase")
        plain.seek(0)
        source = BytesIO(_decrypt(file, passphrase or "")) if encrypted else plain
        with zipfile.ZipFile(source) as packed:
            yield packed


def _encrypt(plain: bytes, passphrase: str) -> bytes:
    return cast("bytes", age.encrypt(plain, passphrase))  # pyright: ignore[reportUnknownMemberType]


def _decrypt(file: Path, passphrase: str) -> bytes:
    try:
        return cast("bytes", age.decrypt(file.read_bytes(), passphrase))
    except DecryptError as wrong:  # pyright: ignore[reportUnknownVariableType]
        raise _refused(file, "the passphrase does not open it, or it was changed") from wrong


def _refused(file: Path, why: str) -> InputRefused:
    return InputRefused([Finding("refuse", str(file), f"{why}. Nothing was written.")])
