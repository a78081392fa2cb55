import re
import subprocess
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from io import BytesIO
from pathlib import Path

import numpy as np
import pypdf
import pytest

from soakline.casefile.case import Case
from soakline.casefile.read import read_case
from soakline.errors import Finding, GateShut, InputRefused
from soakline.guard.gate import STOPS, GateState, Stop
from soakline.papers.card import make_card
from soakline.pictures.frame import map_frame, side_spots
from soakline.pictures.orientation import sides_of
from soakline.settings import Settings
from soakline.workflows.answers import Plan
from soakline.workflows.plan import plan_case

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))
CHANGE = next(path for path in EXAMPLES if path.stem.startswith("front-at"))
DEEP = next(path for path in EXAMPLES if path.stem.startswith("abdomen"))
TWO_UNITS = next(path for path in EXAMPLES if path.stem.startswith("two"))
PUBLISHED = next(path for path in EXAMPLES if path.stem.startswith("published"))
HALF = next(path for path in EXAMPLES if path.stem.startswith("phone"))
PRINTED = datetime(2026, 11, 20, 19, 5, tzinfo=UTC)
IN_ORDER = (
    "Written",
    "2 STOP AND CALL",
    "3 The hidden size",
    "4 Settings",
    "5 The picture",
    "6 Foam inside",
    "7 Lying",
    "8 Clock of this shift",
    "9 What you will see",
    "10 If it alarms",
    "11 Write down",
    "12 Off time",
    "13 Before scan, theatre, transport",
    "14 Next change",
    "15 Whom to call",
)
NEVER = r"\b(recommend\w*|optimal|best|safe|ok|approved|guarantee\w*)\b|✓|✔"


@cache
def _planned(path: Path) -> tuple[Case, Plan]:
    reading = read_case(path.read_bytes())
    assert reading.case is not None
    return reading.case, plan_case(reading.case, reading.findings, Settings.from_environment())


def _card(case: Case, plan: Plan) -> bytes:
    return make_card(case, plan, printed_at=PRINTED, version="0.1.0")


def _words(pdf: bytes) -> str:
    """Return all words of a card on one line; where a long word may break is no part of the word."""
    pages = pypdf.PdfReader(BytesIO(pdf)).pages
    return " ".join("\n".join(page.extract_text() for page in pages).replace("\u200b", "").split())


def _page_count(pdf: bytes) -> int:
    return len(pypdf.PdfReader(BytesIO(pdf)).pages)


def _letter_sizes(pdf: bytes) -> list[float]:
    """Return the size in points of each piece of text on the first page."""
    found: list[float] = []

    def note(text: str, to_page: list[float], to_text: list[float], _font: object, size: float) -> None:
        if text.strip():
            found.append(size * abs(to_text[3] * to_page[3]))

    pypdf.PdfReader(BytesIO(pdf)).pages[0].extract_text(visitor_text=note)
    return found


def _height_mm(pdf: bytes, word: str, folder: Path) -> float:
    """Return how far down the first page, in mm, the only place of a word begins."""
    (folder / "card.pdf").write_bytes(pdf)
    asked = ["pdftotext", "-bbox", "-l", "1", folder / "card.pdf", "-"]
    boxes = subprocess.run(asked, check=True, capture_output=True, text=True).stdout
    (top_pt,) = re.findall(rf'yMin="([\d.]+)"[^>]*>{word}<', boxes)
    return float(top_pt) * 25.4 / 72.0


def _teaching_behind_a_shut_gate() -> tuple[Case, Plan]:
    case, plan = _planned(DEEP)
    gate = GateState("shut", tuple(Stop(asked.key, asked.says, "unknown", asked.source) for asked in STOPS), ())
    return replace(case, purpose="teaching"), replace(plan, purpose="teaching", gate=gate)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_each_example_fits_one_page_and_holds_every_section_in_order(path):
    pdf = _card(*_planned(path))
    said = _words(pdf)
    places = [said.find(title) for title in IN_ORDER]
    assert -1 not in places
    assert places == sorted(places)
    assert _page_count(pdf) == 1
    assert not re.search(NEVER, said, re.IGNORECASE)
    assert re.search("PATIENT (LEFT|RIGHT)", said)
    assert "Draft for clinician review. Not an order until signed." in said


def test_every_letter_is_at_least_eleven_points_and_the_document_is_tagged_titled_and_in_english():
    pdf = _card(*_planned(TWO_UNITS))
    reader = pypdf.PdfReader(BytesIO(pdf))
    assert reader.metadata is not None
    assert reader.metadata.title == "Bedside card: Demo two pockets and a tunnel"
    root = reader.trailer["/Root"]
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"]
    sizes = _letter_sizes(pdf)
    assert len(sizes) > 50
    assert min(sizes) >= 10.99


def test_settings_are_written_as_the_ward_reads_them_and_each_ends_in_who_ordered_it():
    case, plan = _planned(TWO_UNITS)
    said = _words(_card(case, plan))
    assert "70 mL each fill, unit A: hypochlorous acid solution. Ordered by ____" in said
    assert "Unit B: fill 3 min, dwell 10 min, suction 167 min, −125 mmHg suction. Ordered by ____" in said
    assert said.count("Ordered by ____") == 2 * len(case.unit)


def test_a_fill_that_differs_from_the_signed_order_shows_both():
    case, plan = _planned(DEEP)
    charted = replace(case, unit=(replace(case.unit[0], fill_ml=20.0, ordered_fill_ml=60.0),))
    asked = Finding("ask", "unit.0.fill_ml", "20 mL is one third of the ordered 60 mL: who agreed?")
    said = _words(_card(charted, replace(plan, findings=(asked,))))
    assert "20 mL each fill (order signed: 60 mL), unit A" in said
    assert "Please confirm: 20 mL is one third of the ordered 60 mL: who agreed?" in said


def test_a_setting_that_nobody_gave_is_a_blank_and_no_number():
    case, plan = _planned(DEEP)
    said = _words(_card(replace(case, unit=(replace(case.unit[0], dwell_min=None),)), plan))
    assert "dwell ____ min" in said


def test_a_half_measured_wound_gives_extremes_and_no_middle():
    said = _words(_card(*_planned(HALF)))
    assert re.search(r"holds between \d+ and \d+ mL \(extremes, not everything is measured\)", said)
    assert "about" not in said.split("3 The hidden size")[1].split("4 Settings")[0]


def test_a_window_that_has_passed_says_look_now():
    case, plan = _planned(DEEP)
    later = make_card(case, plan, printed_at=datetime(2026, 11, 21, 12, tzinfo=UTC), version="0.1.0")
    assert "Look at canister A now: its change was due by Sat 21 Nov, 07:12." in _words(later)
    assert "Change canister A by Sat 21 Nov, 07:12." in _words(_card(case, plan))


def test_times_are_written_in_the_zone_of_the_case():
    assert "Written 2026-11-20 20:05 (Europe/Oslo)." in _words(_card(*_planned(DEEP)))


def test_care_behind_a_shut_gate_has_no_card():
    case, plan = _teaching_behind_a_shut_gate()
    with pytest.raises(GateShut, match="untreated osteomyelitis"):
        _card(replace(case, purpose="care"), replace(plan, purpose="care"))


@pytest.mark.parametrize("purpose", ["care", "teaching"])
def test_a_refused_case_has_no_card(purpose):
    case, plan = _planned(DEEP)
    refused = replace(plan, purpose=purpose, findings=(Finding("refuse", "unit.0.fill_ml", "−60 mL: write it"),))
    with pytest.raises(InputRefused, match="−60 mL"):
        _card(case, refused)


def test_teaching_prints_with_a_watermark_and_says_that_the_gate_is_not_answered():
    said = _words(_card(*_teaching_behind_a_shut_gate()))
    assert said.count("TEACHING — NOT FOR CARE") >= 2
    assert "GATE NOT ANSWERED: necrotic tissue with eschar present; untreated osteomyelitis" in said
    assert "TEACHING" not in _words(_card(*_planned(DEEP)))


def test_a_stop_that_was_answered_for_stays_printed():
    said = _words(_card(*_planned(TWO_UNITS)))
    assert re.search(r"Gate: exposed organs: yes\. Answered for by surgeon: .+ \(2026-11-20 13:00\)\.", said)


def _read(text: str) -> str:
    reading = read_case(text)
    assert reading.case is not None, reading.findings
    return _words(_card(reading.case, plan_case(reading.case, reading.findings, Settings.from_environment())))


def test_the_next_change_says_when_what_is_left_of_the_anaesthetic_its_wait_and_what_is_short():
    said = _words(_card(*_planned(CHANGE)))
    assert "14 Next change Mon 23 Nov, 09:00, by:" in said
    assert "Lidocaine ceiling 300 mg, left 300 mg, 30 mL of 1 % (10 mg/mL). Wait ordered: 30 min" in said
    assert "Tube that can be placed deep: 1 needed, 0 at hand, 1 short." in said
    assert "C1 contact layer, bed of the opening" in said


@pytest.mark.parametrize("unknown", ['liver_failure = "no"', "height_cm = 171"])
def test_no_ceiling_is_printed_while_an_exclusion_or_the_weight_is_not_answered(unknown):
    said = _read(CHANGE.read_text("utf-8").replace(unknown, ""))
    assert "Local anaesthetic: no ceiling is printed; the plan says why." in said
    assert "300 mg" not in said


def test_a_dose_asked_for_above_the_ceiling_stops_on_the_card_whatever_is_not_answered():
    text = CHANGE.read_text("utf-8").replace('liver_failure = "no"', "").replace("volume_ml = 10", "volume_ml = 60")
    assert "STOP: 60 mL of 1 % (10 mg/mL) = 600 mg, above the 300 mg left." in _read(text)


def test_solutions_that_conflict_and_what_to_watch_stand_on_the_card():
    text = CHANGE.read_text("utf-8").replace("saline 0.9 %", "sodium hypochlorite")
    said = _read(text.replace('anticoagulant = "yes"', 'circumferential_dressing = "yes"'))
    assert "Take care: sodium hypochlorite with chlorhexidine 2 %: conflict, precipitates at once" in said
    assert "watch colour, warmth, pulse and feeling beyond the dressing" in said


@pytest.mark.parametrize(
    "label",
    [
        "#emph[x] $a$ *b* _c_ @d <e>",
        "<script>alert(1)</script>",
        '"); #panic("x")',
        "\\ `raw` // no /* no */",
        "🦠 漢 ё",
    ],
)
def test_hostile_words_come_out_as_text(label):
    case, plan = _planned(DEEP)
    unit = replace(case.unit[0], solution=label)
    pdf = _card(replace(case, label=label, unit=(unit,)), replace(plan, label=label))
    said = _words(pdf)
    assert said.startswith(label)
    assert f"unit A: {label}. Ordered by" in said
    assert _page_count(pdf) == 1


def test_what_does_not_fit_runs_on_to_a_second_page_with_the_same_head_and_loses_nothing():
    case, plan = _planned(TWO_UNITS)
    label = "Long " * 30 + "x" * 200
    units = tuple(replace(case.unit[i % 2], name=name) for i, name in enumerate("ABCD"))
    pdf = _card(replace(case, unit=units), replace(plan, label=label, foam=None))
    first, second = (" ".join(page.extract_text().split()) for page in pypdf.PdfReader(BytesIO(pdf)).pages)
    for number, page in ((1, first), (2, second)):
        assert page.startswith("Long Long")
        assert f"Bedside card, {number} of 2" in page
        assert "PATIENT LEFT" in page
    said = _words(pdf)
    assert "x" * 200 in said.replace(" ", "")
    assert all(title in said for title in IN_ORDER)


def test_the_same_case_at_the_same_time_gives_the_same_file():
    assert _card(*_planned(DEEP)) == _card(*_planned(DEEP))


def _black_runs(pdf: bytes, folder: Path) -> np.ndarray:
    """Return the longest black run of every row of the first page at 300 dots an inch."""
    (folder / "card.pdf").write_bytes(pdf)
    subprocess.run(
        ["pdftoppm", "-r", "300", "-gray", "-singlefile", folder / "card.pdf", folder / "card"],
        check=True,
        capture_output=True,
    )
    data = (folder / "card.pgm").read_bytes()
    width, height = map(int, data.split(b"\n", 3)[1].split())
    black = np.frombuffer(data[-width * height :], dtype=np.uint8).reshape(height, width) < 64
    runs = np.zeros(height, dtype=int)
    longest = np.zeros(height, dtype=int)
    for column in black.T:
        runs = np.where(column, runs + 1, 0)
        longest = np.maximum(longest, runs)
    return longest


@pytest.mark.parametrize("path", [DEEP, PUBLISHED], ids=lambda path: path.stem)
def test_the_bar_on_paper_measures_100_mm(path, tmp_path):
    longest = _black_runs(_card(*_planned(path)), tmp_path)
    # 100 mm at 300 dots an inch is 1181.1 dots; the bar is 1.6 mm high, about 19 rows of dots.
    assert 15 <= np.count_nonzero(np.abs(longest - 1181) <= 2) <= 21


@pytest.mark.parametrize("path", [DEEP, PUBLISHED, HALF], ids=lambda path: path.stem)
def test_the_map_on_paper_has_the_scale_that_is_printed(path, tmp_path):
    case, plan = _planned(path)
    pdf = _card(case, plan)
    said = re.search(r"map at 1 : (\d+)", _words(pdf))
    assert said is not None
    one_to = int(said[1])
    assert f"Bar 100 mm (print at 100 %) = {10 * one_to} cm of wound" in _words(pdf)
    sides = sides_of(case.wound.face, case.wound.part)
    spots = {lines[0]: y_mm for lines, (_, y_mm) in side_spots(map_frame(plan.picture.sheet, sides, one_to), sides)}
    on_paper_mm = _height_mm(pdf, "FEET", tmp_path) - _height_mm(pdf, "HEAD", tmp_path)
    assert on_paper_mm == pytest.approx(spots["FEET"] - spots["HEAD"], abs=0.05)
