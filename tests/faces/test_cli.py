"""The commands answer on standard output, say findings on standard error, and end with the status they promise."""

import json
import re
import subprocess
import sys
from dataclasses import fields

import pytest

from soakline.workflows.answers import Plan

ANSWERED, REFUSED, SHUT = 0, 2, 3


@pytest.fixture(scope="module")
def shown(soakline, case_text, tmp_path_factory):
    """The case's plan on the terminal, run once."""
    file = tmp_path_factory.mktemp("shown") / "case.toml"
    file.write_text(case_text)
    return soakline("plan", file)


def test_plan_shows_size_reach_settings_and_gate_with_the_range_first(shown):
    assert shown.returncode == ANSWERED
    headings = re.findall(r"^[A-Z][A-Z :]+$", shown.stdout, re.MULTILINE)
    assert headings[:2] == ["THE HIDDEN SIZE", "REACH: HOW MUCH IS SOAKED"]
    assert {"SETTINGS AND WINDOWS", "GATE", "NOT CONSIDERED"} <= set(headings)
    assert re.search(r"Void +about 1\d\d mL, \d+–\d+", shown.stdout)
    assert "180 min, 8 cycles a day" in shown.stdout
    assert "A draft for" in shown.stdout


def test_plan_fits_eighty_columns_and_writes_no_colour_into_a_pipe(shown):
    assert max(map(len, shown.stdout.splitlines())) <= 80
    assert "\x1b" not in shown.stdout


def test_each_posture_of_the_case_has_its_row_by_each_model(shown):
    settled, spread = re.split("60 mL, port I1, .*", shown.stdout)[1:]
    for model in (settled, spread):
        for posture in ("supine", "left 30", "right 30"):
            assert re.search(rf"^ +{posture} +(all|most|about|little|none)", model, re.MULTILINE)
    assert "passed:" in spread
    assert ("passed:" in settled, "or moist:" in settled) == (False, True)
    assert "to find its level" in spread
    assert re.search(r"Gas that cannot leave .* vent: *supine none; left 30", " ".join(spread.split()))


@pytest.mark.parametrize(("model", "heading"), [("settled", "once settled"), ("spread", "as it spreads in time")])
def test_one_model_alone_can_be_asked_for(soakline, case_file, model, heading):
    said = soakline("plan", "--model", model, case_file).stdout
    assert re.findall("60 mL, port I1, (.*)", said) == [heading]


def test_words_in_square_brackets_are_shown_as_typed(soakline, case_file):
    case_file.write_text(case_file.read_text().replace('"Demo abdomen"', '"[red]Demo[/red] :smile:"'))
    assert soakline("plan", case_file).stdout.startswith("[red]Demo[/red] :smile:")


def test_json_has_the_keys_of_the_answer_and_only_finite_numbers(soakline, case_file):
    done = soakline("plan", "--json", case_file)
    assert done.returncode == ANSWERED
    answer = json.loads(done.stdout, parse_constant=lambda name: pytest.fail(f"{name} in the answer"))
    assert set(answer) == {field.name for field in fields(Plan)} - {"picture"}
    assert set(answer["wound"]["void_ml"]) == {"low", "likely", "high"}
    assert answer["therapy"]["units"][0]["cycles_per_day"] == 8
    assert answer["therapy"]["units"][0]["canister"]["due"].startswith("2026-11-21T14:12")
    rows = [(row["model"], row["posture"]) for row in answer["reach"]]
    assert rows == [(m, p) for m in ("settled", "spread") for p in ("supine", "left 30", "right 30")]


def test_a_shut_gate_gives_findings_and_gate_alone(soakline, case_file):
    case_file.write_text(case_file.read_text().replace('malignancy = "no"', 'malignancy = "unknown"'))
    done = soakline("plan", case_file)
    assert done.returncode == SHUT
    assert "STOP  malignancy in the wound: not known" in done.stdout
    assert "mL" not in done.stdout
    answer = soakline("plan", "--json", case_file)
    assert answer.returncode == SHUT
    assert set(json.loads(answer.stdout)) == {"label", "purpose", "findings", "gate"}


def test_a_teaching_case_with_a_shut_gate_is_answered_and_marked(soakline, case_file):
    text = case_file.read_text().replace('malignancy = "no"', 'malignancy = "yes"')
    case_file.write_text(text.replace('purpose = "care"', 'purpose = "teaching"'))
    done = soakline("plan", case_file)
    assert done.returncode == ANSWERED
    assert "TEACHING, NOT FOR CARE" in done.stdout
    assert "Shut: a stop is yes" in done.stdout


def test_check_says_the_findings_and_nothing_else(soakline, case_file):
    case_file.write_text(case_file.read_text().replace("none_found = [7, 8, 9, 10, 11]", "none_found = [7]"))
    done = soakline("check", case_file)
    assert done.returncode == ANSWERED
    assert done.stdout == ""
    assert "Take care · wound.probed.none_found: not probed: 8, 9, 10, 11 o'clock" in done.stderr


def test_check_tells_a_shut_gate_by_its_status(soakline, case_file):
    case_file.write_text(case_file.read_text().replace('malignancy = "no"', ""))
    assert soakline("check", case_file).returncode == SHUT


def test_card_writes_a_pdf(soakline, case_file, tmp_path):
    done = soakline("card", case_file, "-o", tmp_path / "card.pdf")
    assert done.returncode == ANSWERED
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF")


def test_no_card_leaves_a_shut_gate(soakline, case_file, tmp_path):
    case_file.write_text(case_file.read_text().replace('malignancy = "no"', ""))
    done = soakline("card", case_file, "-o", tmp_path / "card.pdf")
    assert done.returncode == SHUT
    assert not (tmp_path / "card.pdf").exists()


def test_a_card_that_cannot_be_written_is_said_in_words(soakline, case_file, tmp_path):
    done = soakline("card", case_file, "-o", tmp_path / "no" / "such" / "card.pdf")
    assert done.returncode == REFUSED
    assert "No such file or directory" in done.stderr
    assert "Traceback" not in done.stderr


def test_warm_says_how_long_it_took(soakline):
    done = soakline("warm")
    assert done.returncode == ANSWERED
    assert re.search(r"\d+\.\d s", done.stdout)


def test_what_is_left_at_the_end_is_not_taken_apart_but_what_waits_for_the_end_still_runs(case_file):
    last = "atexit.register(lambda: print(f'frozen: {gc.get_freeze_count() > 0}'))"
    code = f"import atexit, gc; {last}; from soakline.faces.cli.main import main; main()"
    done = subprocess.run([sys.executable, "-c", code, "check", case_file], capture_output=True, check=False, text=True)
    assert done.returncode == ANSWERED
    assert done.stdout.splitlines()[-1] == "frozen: True"


BAD_FILES = {
    "an empty file": b"",
    "malformed TOML": b"[wound\nface = ",
    "a letter": b"Dear colleague, the wound is small.",
    "bytes that are no UTF-8": b'label = "\xff\xfe"',
    "not a number": b'format = "soakline-case/1"\nlabel = "x"\n[wound.opening]\nlength_cm = nan',
    "infinity": b'format = "soakline-case/1"\nlabel = "x"\n[wound.opening]\nlength_cm = inf',
    "a word for a number": b'format = "soakline-case/1"\nlabel = "x"\n[wound.opening]\nlength_cm = "six"',
    "a key that is not known": b'format = "soakline-case/1"\nlabel = "x"\nlable = "y"',
    "ten million bytes": b"# " + b"x" * 10_000_000,
    "control characters": b'label = "\x00"',
}


@pytest.mark.parametrize("given", BAD_FILES.values(), ids=BAD_FILES.keys())
def test_a_file_that_cannot_be_used_is_refused_in_words(soakline, tmp_path, given):
    file = tmp_path / "case.toml"
    file.write_bytes(given)
    done = soakline("plan", file)
    assert done.returncode == REFUSED
    assert done.stdout == ""
    assert done.stderr.startswith("Refused")
    assert "Traceback" not in done.stderr


def test_refused_json_still_holds_the_findings(soakline, tmp_path):
    file = tmp_path / "case.toml"
    file.write_bytes(BAD_FILES["a key that is not known"])
    done = soakline("plan", "--json", file)
    assert done.returncode == REFUSED
    assert {finding["level"] for finding in json.loads(done.stdout)["findings"]} >= {"refuse"}
    assert any("did you mean label?" in finding["says"] for finding in json.loads(done.stdout)["findings"])


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["plan", "no-such-file.toml"], "no-such-file.toml: No such file or directory"),
        (["check", "."], "Is a directory"),
        (["plan", "--model", "guess", "x.toml"], "allowed are settled, spread, both"),
        (["plan"], "Missing argument"),
        (["serve", "--port", "70000"], "--port"),
        (["serve", "--database", "mysql://localhost/x"], "kept in SQLite or PostgreSQL"),
        (["optimise"], "No such command"),
    ],
)
def test_a_command_that_cannot_be_done_is_refused_in_words(soakline, words, says):
    done = soakline(*words)
    assert done.returncode == REFUSED
    assert says in " ".join(done.stderr.split())
    assert "Traceback" not in done.stderr


def test_a_port_that_is_taken_is_said_in_words(soakline, server):
    done = soakline("serve", "--port", server.rpartition(":")[2])
    assert done.returncode == REFUSED
    assert "already in use" in done.stderr


def test_a_setting_that_cannot_be_used_is_refused_in_words(surroundings, command, case_file):
    wrong = surroundings | {"SOAKLINE_DRAWS": "many"}
    done = subprocess.run(
        [*command, "plan", case_file], env=wrong, capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == REFUSED
    assert done.stderr.startswith("Refused · SOAKLINE_DRAWS")


def test_a_reader_that_leaves_early_gets_no_traceback(surroundings, command, case_file):
    with subprocess.Popen(
        [*command, "plan", "--json", case_file], env=surroundings, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        process.stdout.close()
        said = process.stderr.read().decode()
    assert "Traceback" not in said
    assert "BrokenPipe" not in said
    assert process.returncode == ANSWERED
