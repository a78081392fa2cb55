"""A case file is read whole, or refused with everything there is to say about it."""

import hashlib
import time
from datetime import datetime
from pathlib import Path

import pytest

from soakline.casefile.read import read_case
from soakline.errors import Finding
from soakline.fluid.posture import Posture
from soakline.units import Range
from soakline.wound.entry import check_wound

EXAMPLES = sorted((Path(__file__).parents[3] / "examples").glob("*.toml"))
HEAD = 'format = "soakline-case/1"\nlabel = "x"\npurpose = "care"\n'
WOUND = '[wound]\nface = "front"\npart = "trunk"\ngirth_cm = 100\nmidline_offset_cm = 0\n'
OPENING = "[wound.opening]\nlength_cm = 6\nwidth_cm = 6\ndepth_cm = 2\n"


def refusals(text):
    reading = read_case(text)
    assert (reading.case is None) == any(f.level == "refuse" for f in reading.findings)
    return {f.where: f.says for f in reading.findings if f.level == "refuse"}


def only(text):
    found = refusals(text)
    assert len(found) == 1, found
    return next(iter(found.items()))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_reads_without_a_refusal(path):
    reading = read_case(path.read_bytes())
    assert reading.case is not None, reading.findings
    found = check_wound(reading.case.wound, reading.case.assumptions, reading.case.confirmed)
    assert [f for f in (*reading.findings, *found) if f.level in {"refuse", "ask"}] == []


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_opens_with_its_scenario(path):
    first, *_ = path.read_text("utf-8").split("\n\n")
    assert all(line.startswith("#") for line in first.splitlines())
    assert first.startswith(("# Invented. ", "# Published, not invented: "))


def test_ten_examples_are_there():
    assert len(EXAMPLES) == 10


def test_the_published_wound_invents_no_answer_of_the_gate():
    case = read_case((EXAMPLES[0].parent / "published-abdominal-wound.toml").read_text("utf-8")).case
    assert case.purpose == "teaching"
    assert case.gate.answers == {}
    assert case.wound.girth_cm is None
    assert (case.unit[0].fill_ml, case.unit[0].dwell_min, case.unit[0].suction_min) == (50, 10, 210)


def test_what_is_written_arrives_in_the_case():
    text = (
        HEAD
        + 'time_zone = "Europe/Oslo"\nrecorded_at = 2026-11-20T14:10:00\n'
        + WOUND
        + OPENING
        + "[[wound.undermining]]\nfrom = 12\nto = 6\nreach_cm = 4\nheight_cm = {low = 1, likely = 1.5, high = 1.8}\n"
        + "[wound.probed]\nnone_found = [7.5, 8]\n"
        + '[[port]]\nname = "I1"\nkind = "instillation"\nclock = 3\nfrom_edge_cm = 3\nunit = "A"\n'
        + '[[unit]]\nname = "A"\nfill_ml = 60\n[unit.exudate]\nml_per_h = 12\n'
        + '[posture]\nallowed = ["supine", "Left  30"]\n'
        + '[gate]\neschar = "no"\n[[gate.answered]]\nstop = "malignancy"\nby_role = "surgeon"\nreason = "clear"\n'
        + "at = 2026-11-20T13:00:00\n"
        + '[[foam]]\nname = "A1"\nkind = "foam"\n'
        + "[model]\nfoam_share = 1\ncapillary_height_cm = 0\n"
    )
    case = read_case(text).case
    undermining = case.wound.undermining[0]
    assert (undermining.from_clock, undermining.to_clock, undermining.clock) == (12.0, 6.0, None)
    assert undermining.height_cm == Range(1.0, 1.5, 1.8)
    assert case.wound.none_found == (7.5, 8.0)
    assert isinstance(case.wound.opening.length_cm, float)
    assert case.recorded_at == datetime(2026, 11, 20, 14, 10)
    assert case.port[0].unit == case.unit[0].name == "A"
    assert case.unit[0].exudate.ml_per_h == 12
    assert case.posture == (Posture("supine"), Posture("left 30", roll_deg=30))
    assert case.gate.answers == {"eschar": "no"}
    assert case.gate.answered[0].reason == "clear"
    assert case.measured == ()
    assert [piece.name for piece in case.foam] == ["A1"]
    assert case.assumptions.foam_share == 1
    assert case.assumptions.permeability_m2 == Range(1e-9, 3e-9, 1e-8)
    assert case.content_hash == hashlib.sha256(text.encode()).hexdigest()


def test_everything_is_said_at_once():
    text = (
        'format = "soakline-case/1"\nlabel = 7\ntime_zone = "Europe/Osl"\n'
        '[wound]\nface = "frnt"\npart = "trunk"\ngirth_cm = nan\n'
        "[wound.opening]\ndepht_cm = 2\nlength_cm = true\nwidth_cm = {low = 3, likely = 2, high = 4}\n"
        '[posture]\nallowed = ["suppine"]\n[patient]\nweight = 70\n[[unit]]\nname = "A"\n[[unit]]\nname = "A"\n'
    )
    assert set(refusals(text)) == {
        "label",
        "time_zone",
        "wound.face",
        "wound.girth_cm",
        "wound.opening.depht_cm",
        "wound.opening.length_cm",
        "wound.opening.width_cm",
        "posture.allowed.0",
        "patient.weight",
        "unit.1.name",
    }


def test_what_is_left_of_a_refused_file_is_kept_to_be_checked():
    text = HEAD + WOUND + "[wound.opening]\nlength_cm = 110\nwidth_cm = 45\nwidht_cm = 4\ndepth_cm = 20\n"
    reading = read_case(text)
    assert reading.case is None
    assert reading.refused_keys == ("wound.opening.widht_cm",)
    assert reading.rest.wound.opening.length_cm == 110


@pytest.mark.parametrize(
    ("text", "where", "words"),
    [
        (HEAD + "lable = 'x'\n", "lable", "lable is not a key of the file's top; did you mean label?"),
        (
            HEAD + WOUND + "[wound.opening]\ndepht_cm = 2\n",
            "wound.opening.depht_cm",
            "depht_cm is not a key of wound.opening; did you mean depth_cm?",
        ),
        (
            HEAD + WOUND + "depth_cm = 2\n",
            "wound.depth_cm",
            "depth_cm is not a key of wound; it belongs in [wound.opening]",
        ),
        (HEAD + WOUND + "zzz = 2\n", "wound.zzz", "its keys are face, part, limb_side"),
        (HEAD + "[port]\nname = 'I1'\n", "port", "written as [port]; write [[port]]"),
        (HEAD + "wound = 3\n", "wound", "a section with keys belongs here, under its heading [wound]"),
        (
            HEAD + "port = 9\n",
            "port",
            "9 given; write each one under its own heading [[port]], with name, kind, clock, from_edge_cm",
        ),
        (HEAD + "port = [9]\n", "port.0", "9 given; a section with keys belongs here, under its heading [[port]]"),
        (
            HEAD + WOUND + "undermining = 3\n",
            "wound.undermining",
            "3 given; write each one under its own heading [[wound.undermining]], with from, to, clock, reach_cm",
        ),
        (
            HEAD + "[[unit]]\nname = 'A'\nport = 'two'\n",
            "unit.0.port",
            "it belongs in [[port]]. It was read in [[unit]]: a key belongs to the heading above it",
        ),
        (
            HEAD + "[[unit]]\nname = 'A'\n[unit.exudate]\nml_per_h = 3\ntime_zone = 'UTC'\n",
            "unit.0.exudate.time_zone",
            "it belongs in the file's top, above the first heading. It was read in [unit.exudate]",
        ),
        (HEAD + "clock = 3\n", "clock", "it belongs in [[wound.undermining]] or [[wound.tunnel]]"),
        (
            HEAD + "[gate]\nport = 'two'\n",
            "gate.port",
            "allowed: yes, no, unknown; as a key it belongs in [[port]]. It was read in [gate]",
        ),
        (HEAD + WOUND + OPENING.replace("6", "'deep'", 1), "wound.opening.length_cm", "is not a number"),
        (HEAD + WOUND.replace("100", "inf"), "wound.girth_cm", "inf is not a number that can be measured"),
        (HEAD + WOUND.replace("100", "true"), "wound.girth_cm", "true is not a number"),
        (HEAD + WOUND.replace("100", "1" + "0" * 400), "wound.girth_cm", "cannot be measured"),
        (HEAD + WOUND.replace("100", "0x" + "f" * 5000), "wound.girth_cm", "cannot be measured"),
        (HEAD + WOUND.replace("100", "[1]"), "wound.girth_cm", "a list is not a number"),
        (HEAD + WOUND.replace("100", "{low = 1}"), "wound.girth_cm", "a section is not a number"),
        (HEAD + WOUND.replace('"front"', '"belly"'), "wound.face", "allowed: front, back, left, right"),
        (HEAD + WOUND.replace('face = "front"\n', ""), "wound.face", "missing; write it"),
        (HEAD + "recorded_at = 2026-11-20T14:10:00Z\n", "recorded_at", "without Z or offset"),
        (HEAD + "recorded_at = 2026-11-20\n", "recorded_at", "not a date with a time"),
        (HEAD + "recorded_at = '2026-11-20T14:10:00'\n", "recorded_at", "without quotes"),
        (HEAD + "recorded_at = 0001-01-01T00:00:00\n", "recorded_at", "outside 2000 to 2100"),
        (HEAD + "[patient]\nadult = 'yes'\n", "patient.adult", "write true or false"),
        (HEAD + "[patient]\nweighed_on = 2026-11-20T14:10:00\n", "patient.weighed_on", "is not a date"),
        (HEAD + "[patient]\nweight_kg = -3\n", "patient.weight_kg", "a bound of entry, not a clinical limit"),
        (HEAD + "[gate]\neschar = false\n", "gate.eschar", "allowed: yes, no, unknown"),
        (HEAD + "[[store]]\nkind = 'kit'\ncount = 1.5\n", "store.0.count", "not a whole number"),
        (HEAD + "[[store]]\nkind = 'kit'\ncount = true\n", "store.0.count", "not a whole number"),
        (HEAD.replace("x", r"a\u0000b"), "label", "cannot be printed"),
        (HEAD.replace("x", r"a\u202Eb"), "label", "cannot be printed"),
        (HEAD.replace('"x"', '" "'), "label", "blank"),
        (HEAD.replace("x", "x" * 500), "label", "500 characters given; at most 400"),
        (HEAD.replace("x", "x", 1).replace("case/1", "case/2"), "format", 'this version reads "soakline-case/1"'),
        ('label = "x"\n', "format", "missing; write it"),
        ("format = 1\n", "format", 'this version reads "soakline-case/1"'),
    ],
)
def test_what_cannot_be_used_is_refused_by_its_key(text, where, words):
    found = only(text)
    assert found[0] == where
    assert words in found[1]


def test_a_range_needs_all_three_in_order():
    text = (
        HEAD
        + WOUND
        + "[wound.opening]\nlength_cm = {low = 1, high = 2}\nwidth_cm = {low = 1, likely = nan, high = 2}\n"
    )
    found = refusals(text + "depth_cm = {low = 3, likely = 2, high = 4}\n")
    assert "a range needs all three" in found["wound.opening.length_cm.likely"]
    assert "not a number that can be measured" in found["wound.opening.width_cm.likely"]
    assert "must rise from low to high" in found["wound.opening.depth_cm"]


def test_half_a_range_in_words_leaves_the_whole_range_open():
    text = HEAD + WOUND + '[wound.opening]\nlength_cm = {low = "1,5", likely = 2, high = 3}\n'
    reading = read_case(text)
    assert reading.case.wound.opening.length_cm is None
    assert (
        Finding(
            "ask",
            "wound.opening.length_cm.low",
            '1,5 may be read as 1.5; confirm by adding "wound.opening.length_cm.low" to confirmed, or write 1.5',
        )
        in reading.findings
    )
    text = text.replace("label", 'confirmed = ["wound.opening.length_cm.low"]\nlabel')
    assert read_case(text).case.wound.opening.length_cm == Range(1.5, 2, 3)


def test_a_place_in_words_is_refused_until_it_is_confirmed():
    text = HEAD + '[[port]]\nname = "I1"\nkind = "suction"\nclock = "2,5"\nfrom_edge_cm = 3\n'
    assert refusals(text) == {
        "port.0.clock": "nothing can be shown without this number; confirm it, or write it with a point"
    }
    text = text.replace("label", 'confirmed = ["port.0.clock"]\nlabel')
    assert read_case(text).case.port[0].clock == 2.5


def test_a_confirmed_number_is_still_checked():
    text = HEAD + '[[port]]\nname = "I1"\nkind = "suction"\nclock = "13,5"\nfrom_edge_cm = 3\n'
    text = text.replace("label", 'confirmed = ["port.0.clock"]\nlabel')
    assert "13.5 is not on the clock" in refusals(text)["port.0.clock"]


def test_an_hour_in_words_inside_a_list_moves_no_other():
    text = HEAD + WOUND + OPENING + '[wound.probed]\nnone_found = ["7,5", 14]\n'
    assert set(refusals(text)) == {"wound.probed.none_found.0", "wound.probed.none_found.1"}


@pytest.mark.parametrize("section", ["port", "unit", "foam"])
def test_one_name_for_two_things_is_refused(section):
    item = {
        "port": 'kind = "suction"\nclock = 3\nfrom_edge_cm = 1\n',
        "unit": "",
        "foam": 'kind = "gauze"\n',
    }[section]
    text = HEAD + f'[[{section}]]\nname = "A"\n{item}' * 2
    assert only(text) == (f"{section}.1.name", f'"A" is already the name of {section}.0; give each its own name')


def test_too_many_of_anything_are_refused():
    found = only(HEAD + "".join(f'[[unit]]\nname = "{i}"\n' for i in range(201)))
    assert found == ("unit", "201 given; at most 200 are taken: split the file")


def test_a_point_of_a_traced_edge_has_two_numbers():
    text = HEAD + WOUND + "[wound.opening]\noutline_cm = [[0, 0], [1], [1, 2, 3]]\n"
    found = refusals(text)
    assert found["wound.opening.outline_cm.1"] == "1 given; a point is [x, y] in cm"
    assert found["wound.opening.outline_cm.2"] == "3 given; a point is [x, y] in cm"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a = 2,5", "line 1, column 6: cannot be read: a = 2,5 — a decimal comma? Write the number with a point"),
        ("\n\nh = { low = 1,5, likely = 2, high = 3 }", "a decimal comma?"),
        ("face = front", "words need quotes around them"),
        ("a = 1\na = 2", "stands twice"),
        ("[a]\nb = 1\n[a]\nc = 1", "line 3, column 3"),
        ("a = 'x", "line 1"),
        ("a = " + "[" * 5000 + "]" * 5000, "brackets"),
        ("a = " + "{b = " * 40 + "1" + "}" * 40, "stand inside each other too many times"),
        ("\n".join(f"[{'.'.join('abcdefghijklmnop')}.k{i}]" for i in range(9)), "stand inside each other"),
        ("a = " + "9" * 5000, "too many digits"),
        (".".join("a" * 5000) + " = 1", "line 1: a key of more than 20 parts"),
        ('"a b".' * 5000 + '"c" = 1', "line 1: a key of more than 20 parts"),
        ("# it's\nx = ['''a'b\n''', {" + "a." * 5000 + "a = 1}]", "line 3: a key of more than 20 parts"),
        ("# ''' \"\n" + "a." * 5000 + "a = 1", "line 2: a key of more than 20 parts"),
    ],
)
def test_text_that_is_no_case_file_is_refused_with_its_line(text, words):
    where, says = only(text)
    assert where == ""
    assert words in says


def test_a_file_that_is_not_utf8_is_refused_with_its_line():
    assert only(b"a = 1\nb = '\xe9'")[1] == "line 2: a character that is not UTF-8; save the file as UTF-8 text"
    assert only("a = 1\nb = '\ud800'")[1].startswith("line 2: a character that is not UTF-8")


def test_a_file_of_ten_megabytes_is_refused_unread():
    began = time.perf_counter()
    says = only(b"[[log]]\n" * 1_250_000)[1]
    assert "10,000,000 bytes; at most 1,000,000" in says
    assert time.perf_counter() - began < 1


def test_a_file_full_of_nonsense_is_refused_briefly():
    reading = read_case(HEAD + "".join(f"k{i} = 1\n" for i in range(20_000)))
    assert reading.case is None
    assert len(reading.findings) <= 110
    assert "19,900 more" in reading.findings[100].says


def test_a_mark_before_the_first_character_and_other_line_ends_are_taken():
    text = "\ufeff" + (HEAD + WOUND + OPENING).replace("\n", "\r\n")
    assert read_case(text.encode()).case is not None
    assert read_case(text.encode()).case.content_hash == hashlib.sha256(text.encode()).hexdigest()


def test_a_gap_in_the_file_is_said_not_filled_silently():
    text = 'format = "soakline-case/1"\n[wound]\nface = "back"\n' + OPENING + '[[unit]]\nname = "A"\n'
    said = {f.where: f.level for f in read_case(text + "started_at = 2026-11-20T19:00:00\n").findings}
    assert said == {
        "label": "note",
        "purpose": "note",
        "time_zone": "warn",
        "wound.part": "ask",
        "wound.midline_offset_cm": "note",
        "wound.opening.bed": "note",
    }


def test_a_posture_written_twice_stands_once():
    reading = read_case(HEAD + '[posture]\nallowed = ["left 30", "LEFT 30"]\n')
    assert len(reading.case.posture) == 1
    assert "stands twice" in reading.findings[0].says


def test_model_values_in_a_care_case_are_pointed_out():
    reading = read_case(HEAD + "[model]\nclosed = true\n")
    assert reading.case.assumptions.closed
    assert ("warn", "model") in {(f.level, f.where) for f in reading.findings}
