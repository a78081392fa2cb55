"""The commands about the record: hold it against its log, print again what was printed."""

import re
import sqlite3
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from soakline.record.cases import NewCase, add_case, find_case, save_case
from soakline.record.opening import open_record
from soakline.record.plans import NewPaper, find_paper, keep_paper, plans_kept
from soakline.settings import Settings
from soakline.workflows.keep import plan_to_keep, recompute
from soakline.workflows.plan import Asked, plan_text

ANSWERED, REFUSED, BROKEN = 0, 2, 4
NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


@pytest.fixture
def ward(tmp_path, case_text) -> tuple[str, Path]:
    """The address and file of a record with one planned case and one printed paper."""
    file = tmp_path / "ward.db"
    url = f"sqlite:///{file}"
    record = open_record(url)
    kept = add_case(record, NewCase("Demo abdomen", "care", case_text), NOW)
    settings = Settings.from_environment({"SOAKLINE_DRAWS": "16"})
    plan = plan_to_keep(plan_text(case_text, settings, Asked(models=())), settings)
    keep_paper(record, kept, plan, NewPaper("bedside card", "application/pdf", b"%PDF-\xff"), NOW)
    record.dispose()
    return url, file


def test_verify_counts_what_it_read_and_prints_the_head_to_write_down(soakline, ward):
    done = soakline("verify", "--database", ward[0])
    assert done.returncode == ANSWERED
    assert "3 entries; 1 cases, 1 versions, 1 plans, 1 papers" in done.stdout
    head = re.search(r"^head (3:[0-9a-f]{64})$", done.stdout, re.MULTILINE)[1]
    assert soakline("verify", "--database", ward[0], "--head", head).returncode == ANSWERED
    assert soakline("verify", "--database", ward[0], "--head", "3:" + "0" * 64).returncode == BROKEN
    assert soakline("verify", "--database", ward[0], "--head", "three").returncode == REFUSED


def test_verify_finds_a_tampered_row_and_ends_with_its_own_status(soakline, ward):
    with sqlite3.connect(ward[1]) as connection:
        connection.execute("UPDATE cases SET text = replace(text, 'fill_ml = 60', 'fill_ml = 90')")
    connection.close()
    done = soakline("verify", "--database", ward[0])
    assert done.returncode == BROKEN
    assert "Broken · case 1 is not what its last entry in the log tells" in done.stderr
    assert "No break" not in done.stdout


def test_a_card_of_an_older_version_is_reprinted_byte_for_byte(soakline, ward, tmp_path, case_text):
    record = open_record(ward[0])
    save_case(record, 1, NewCase("Demo abdomen", "care", case_text + "# later\n"), 1, NOW)
    record.dispose()
    done = soakline("reprint", 1, "-o", tmp_path / "again.pdf", "--database", ward[0])
    assert done.returncode == ANSWERED
    assert (tmp_path / "again.pdf").read_bytes() == b"%PDF-\xff"
    assert "case 1, version 1" in done.stdout
    assert soakline("reprint", 2, "-o", tmp_path / "no.pdf", "--database", ward[0]).returncode == REFUSED


def test_the_card_of_the_page_comes_back_the_same_after_the_case_has_changed(client, kept_case, token, case_text):
    printed = client.get(f"{kept_case}/card.pdf").content
    later = case_text.replace("fill_ml = 60", "fill_ml = 50")
    sent = {"token": (None, token), "text": (None, later), "version": (None, "1")}
    assert client.post(f"{kept_case}/file", files=sent).status_code == 303
    page = client.get(f"{kept_case}/history").text
    assert "unit.0.fill_ml</code>: 60 → 50" in page
    again = client.get(re.search(r'href="(/papers/\d+)"', page)[1])
    assert again.content == printed
    assert again.headers["content-type"] == "application/pdf"
    assert client.get(f"{kept_case}/card.pdf").content != printed


def test_a_kept_plan_is_the_same_when_worked_out_again_and_a_planted_other_answer_is_not(ward, case_text):
    record = open_record(ward[0])
    settings = Settings.from_environment()
    kept = next(plans_kept(record))
    assert find_paper(record, 1).plan_id == kept.id
    record.dispose()
    whole = plan_to_keep(plan_text(case_text, Settings.from_environment({"SOAKLINE_DRAWS": "16"})), settings)
    now = replace(kept, answer=whole.answer)
    assert recompute(now, settings).differing_keys == ()
    planted = replace(now, answer=whole.answer.replace('"label": "Demo abdomen"', '"label": "another"'))
    assert recompute(planted, settings).differing_keys == ("label",)
    other_seed = replace(now, settings=kept.settings.replace("20261120", "7"))
    assert "wound" in recompute(other_seed, settings).differing_keys


def test_a_record_is_backed_up_and_restored_with_a_passphrase(soakline, ward, tmp_path):
    (tmp_path / "words").write_text("four invented words here\n")
    key = ("--passphrase-file", tmp_path / "words")
    done = soakline("backup", tmp_path / "ward.age", "--database", ward[0], *key)
    assert done.returncode == ANSWERED, done.stderr
    other = f"sqlite:///{tmp_path / 'other.db'}"
    assert soakline("restore", tmp_path / "ward.age", "--database", other).returncode == REFUSED
    again = soakline("restore", tmp_path / "ward.age", "--database", other, *key)
    assert again.returncode == ANSWERED, again.stderr
    assert re.search(r"^head .*$", again.stdout, re.MULTILINE)[0] in done.stdout
    assert "3 entries; 1 cases, 1 versions, 1 plans, 1 papers" in again.stdout


OUT = """
[[foam]]
name = "A1"
kind = "foam"
place = "left pocket"
placed_at = 2026-11-20T13:30:00
state = "out whole"
out_at = 2026-11-23T09:00:00
"""
BY = ("--says", "sutured in theatre", "--by", "wound nurse")


def case_of(url, case_id=1):
    record = open_record(url)
    kept = find_case(record, case_id)
    record.dispose()
    return kept


def changed(url, text):
    record = open_record(url)
    kept = save_case(record, 1, NewCase("Demo abdomen", "care", text), case_of(url).version_id, NOW)
    record.dispose()
    return kept


def test_a_case_is_closed_and_reopened_by_command(soakline, ward, case_text):
    changed(ward[0], case_text + OUT)
    done = soakline("close", 1, "--kind", "wound closed", *BY, "--database", ward[0])
    assert done.returncode == ANSWERED, done.stderr
    assert done.stdout == "Case 1, Demo abdomen, version 2: closed, wound closed. By: wound nurse.\n"
    why = case_of(ward[0]).closing
    assert (why.kind, why.says, why.by_role, why.left_open) == ("wound closed", "sutured in theatre", "wound nurse", ())
    again = soakline("close", 1, "--kind", "wound closed", *BY, "--database", ward[0])
    assert again.returncode == REFUSED
    assert "it is closed now" in again.stderr
    done = soakline("reopen", 1, "--says", "the edge came apart", "--by", "surgeon", "--database", ward[0])
    assert done.returncode == ANSWERED, done.stderr
    assert case_of(ward[0]).closing is None
    assert soakline("reopen", 1, *BY, "--database", ward[0]).returncode == REFUSED
    assert soakline("verify", "--database", ward[0]).returncode == ANSWERED


def test_what_is_not_resolved_is_closed_over_by_command_only_where_it_is_known_as_it_stands(soakline, ward, case_text):
    close = ("close", 1, "--kind", "died", "--database", ward[0])
    refused = soakline(*close, *BY)
    assert refused.returncode == REFUSED
    assert "Not resolved · no piece of foam was ever entered" in refused.stderr
    assert "then add --known 1" in refused.stderr
    changed(ward[0], case_text.replace('malignancy = "no"', 'malignancy = "yes"'))
    stale = soakline(*close, *BY, "--known", 1)
    assert stale.returncode == REFUSED
    assert "1 given, the case is at version 2" in stale.stderr
    assert "Not resolved · gate shut: malignancy in the wound: yes, not answered for" in stale.stderr
    assert soakline(*close, "--by", "surgeon", "--known", 2).returncode == REFUSED
    assert case_of(ward[0]).closing is None
    assert soakline(*close, *BY, "--known", 2).returncode == ANSWERED
    assert len(case_of(ward[0]).closing.left_open) == 2


def test_all_that_a_closing_lacks_is_said_at_once_by_its_options(soakline, ward, case_text):
    changed(ward[0], case_text + OUT)
    refused = soakline("close", 1, "--kind", "healed", "--database", ward[0])
    assert refused.returncode == REFUSED
    assert "Refused · --kind: no reason chosen: choose one of wound closed, other dressing" in refused.stderr
    assert "Refused · --by: nobody named" in refused.stderr
    refused = soakline("reopen", 1, "--database", ward[0])
    assert "Refused · --says: no words" in refused.stderr
    for command in (("close", 9, "--kind", "died"), ("reopen", 9)):
        refused = soakline(*command, *BY, "--database", ward[0])
        assert refused.returncode == REFUSED
        assert "CASE: 9: no such case in this record" in refused.stderr


def test_a_file_that_is_refused_hides_what_is_left_open_and_says_so(soakline, ward, case_text):
    changed(ward[0], case_text.replace("depth_cm = 2.5", "depth_cm = 0"))
    refused = soakline("close", 1, "--kind", "died", *BY, "--database", ward[0])
    assert "Not resolved · the case file is refused: neither foam nor gate could be looked at" in refused.stderr
