"""A backup holds the whole record, and a changed one is refused with nothing written."""

import json
import threading
import zipfile
from datetime import UTC, datetime
from hashlib import sha256

import pytest

from soakline.errors import InputRefused
from soakline.record.backup import MANIFEST, back_up, restore
from soakline.record.cases import NewCase, add_case, list_cases, list_versions, save_case
from soakline.record.opening import open_record
from soakline.record.plans import NewPaper, NewPlan, find_paper, keep_paper
from soakline.record.verify import verify_record

NOW = datetime(2026, 11, 25, 9, 0, 0, 7, tzinfo=UTC)
TEXT = "label = 'Größe ≤ 3 cm'\r\n"


@pytest.fixture
def kept(engine):
    """A record of two versions, a plan and a paper."""
    case = add_case(engine, NewCase("Demo flank", "care", TEXT), NOW)
    case = save_case(engine, case.id, NewCase("Demo flank", "care", "two"), 1, NOW)
    paper = NewPaper("bedside card", "application/pdf", bytes(range(256)))
    keep_paper(engine, case, NewPlan("0.1.0", "rules 1", "{}", "{}"), paper, NOW)
    return engine


@pytest.fixture
def empty(tmp_path):
    opened = open_record(f"sqlite:///{tmp_path / 'empty.db'}")
    yield opened
    opened.dispose()


def rewritten(file, change):
    """Write the backup again as somebody would who knows how: with digests and counts that fit."""
    with zipfile.ZipFile(file) as packed:
        held = {name: packed.read(name) for name in packed.namelist()}
    change(held)
    with zipfile.ZipFile(file, "w") as packed:
        for name, content in held.items():
            packed.writestr(name, content)


def with_digest(held, table):
    manifest = json.loads(held[MANIFEST])
    content = held[f"{table}.jsonl"]
    manifest["tables"][table] = {"rows": content.count(b"\n"), "sha256": sha256(content).hexdigest()}
    held[MANIFEST] = json.dumps(manifest).encode()


def test_a_backup_gives_the_whole_record_back(kept, empty, tmp_path):
    back_up(kept, tmp_path / "ward.backup", NOW, "0.1.0")
    restore(empty, tmp_path / "ward.backup")
    assert list_cases(empty) == list_cases(kept)
    assert list_versions(empty, 1) == (TEXT, "two")
    assert find_paper(empty, 1) == find_paper(kept, 1)
    assert verify_record(empty) == verify_record(kept)


def test_a_backup_goes_back_into_either_database_and_counts_on(url, engine, empty, tmp_path):
    case = add_case(empty, NewCase("Demo flank", "care", TEXT), NOW)
    back_up(empty, tmp_path / "ward.zip", NOW, "0.1.0")
    restore(engine, tmp_path / "ward.zip")
    assert add_case(engine, NewCase("Demo back", "care", "b"), NOW).id == case.id + 1
    assert verify_record(engine).broken == ()


def test_a_backup_taken_during_saves_is_one_state_whose_chain_holds(kept, empty, tmp_path):
    stop = threading.Event()

    def save():
        version = 2
        while not stop.is_set():
            version = save_case(kept, 1, NewCase("Demo flank", "care", f"text {version}"), version, NOW).version_id

    writer = threading.Thread(target=save)
    writer.start()
    try:
        for number in range(5):
            assert back_up(kept, tmp_path / f"{number}.zip", NOW, "0.1.0").broken == ()
    finally:
        stop.set()
        writer.join()
    assert restore(empty, tmp_path / "4.zip").broken == ()
    assert len(list_versions(kept, 1)) >= len(list_versions(empty, 1)) >= 2


def forge_text(held):
    held["case_versions.jsonl"] = held["case_versions.jsonl"].replace(b"two", b"2wo")


def forge_text_and_digest(held):
    forge_text(held)
    with_digest(held, "case_versions")


def cut_the_log(held):
    held["entries.jsonl"] = b"".join(held["entries.jsonl"].splitlines(keepends=True)[:-1])
    with_digest(held, "entries")


def forge_who(held):
    held["entries.jsonl"] = held["entries.jsonl"].replace(b"this computer", b"somebody else")
    with_digest(held, "entries")


def drop_a_table(held):
    del held["papers.jsonl"]


def spoil_a_line(held):
    held["cases.jsonl"] = b"{" + held["cases.jsonl"]


def other_tables(held):
    held[MANIFEST] = held[MANIFEST].replace(b'"tables_version": "', b'"tables_version": "9')


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (forge_text, "case_versions.jsonl is not what its manifest says"),
        (forge_text_and_digest, "case 1, version 2 is not what its last entry in the log tells"),
        (cut_the_log, "entry 4 is gone"),
        (forge_who, "entry 1 was changed"),
        (drop_a_table, "damaged"),
        (spoil_a_line, "damaged"),
        (other_tables, "restore it with that Soakline"),
    ],
)
def test_a_tampered_backup_is_refused_and_leaves_the_record_empty(kept, empty, tmp_path, change, says):
    file = tmp_path / "ward.zip"
    back_up(kept, file, NOW, "0.1.0")
    rewritten(file, change)
    with pytest.raises(InputRefused, match=says):
        restore(empty, file)
    assert verify_record(empty).head.entry_id == 0
    assert list_cases(empty) == ()


def test_an_encrypted_backup_opens_to_its_passphrase_alone(empty, tmp_path):
    file, other = tmp_path / "ward.age", open_record(f"sqlite:///{tmp_path / 'other.db'}")
    add_case(empty, NewCase("Demo flank", "care", TEXT), NOW)
    back_up(empty, file, NOW, "0.1.0", "four invented words here")
    right = file.read_bytes()
    assert b"manifest" not in right
    for passphrase, says in ((None, "it is encrypted"), ("four words", "does not open it")):
        with pytest.raises(InputRefused, match=says):
            restore(other, file, passphrase)
    file.write_bytes(right[:-9] + bytes([right[-9] ^ 1]) + right[-8:])
    with pytest.raises(InputRefused, match="does not open it"):
        restore(other, file, "four invented words here")
    assert list_cases(other) == ()
    file.write_bytes(right)
    restore(other, file, "four invented words here")
    assert list_cases(other) == list_cases(empty)
    other.dispose()


def test_a_backup_goes_over_nothing_that_is_there(kept, tmp_path):
    file = tmp_path / "ward.zip"
    file.write_text("a letter")
    with pytest.raises(InputRefused, match="there already"):
        back_up(kept, file, NOW, "0.1.0")
    assert file.read_text() == "a letter"
    back_up(kept, tmp_path / "other.zip", NOW, "0.1.0")
    with pytest.raises(InputRefused, match="already holds something"):
        restore(kept, tmp_path / "other.zip")


def test_what_is_no_backup_is_refused_in_words(empty, tmp_path):
    (tmp_path / "letter.txt").write_text("Dear colleague")
    with pytest.raises(InputRefused, match="no backup"):
        restore(empty, tmp_path / "letter.txt")
