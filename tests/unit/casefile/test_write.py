"""A case file is written back with its comments and its order."""

import re
from pathlib import Path

import pytest

from soakline.casefile.read import read_case
from soakline.casefile.write import write_case
from soakline.errors import InputRefused
from soakline.units import Range

TEXT = (Path(__file__).parents[3] / "examples" / "flank-that-wraps.toml").read_text("utf-8")


def comments(text):
    return re.findall(r"#.*", text)


def test_a_changed_number_leaves_everything_else_as_it_stood():
    written = write_case(TEXT, {"wound.girth_cm": 101.5})
    assert written == TEXT.replace("girth_cm = 98", "girth_cm = 101.5")


def test_a_changed_number_in_a_list_is_found_by_its_position():
    written = write_case(TEXT, {"wound.undermining.1.reach_cm": 9, "unit.0.fill_ml": 100})
    case = read_case(written).case
    assert case.wound.undermining[1].reach_cm == 9
    assert case.unit[0].fill_ml == 100
    assert comments(written) == comments(TEXT)


def test_a_number_becomes_a_range_and_back():
    written = write_case(TEXT, {"wound.opening.depth_cm": Range(2, 3, 4)})
    assert read_case(written).case.wound.opening.depth_cm == Range(2, 3, 4)
    assert write_case(written, {"wound.opening.depth_cm": 3}) == TEXT


def test_none_takes_a_key_out():
    written = write_case(TEXT, {"wound.undermining.0.height_cm": None, "unit.0.priming_ml": None, "wound.gone": None})
    case = read_case(written).case
    assert case.wound.undermining[0].height_cm is None
    assert case.unit[0].priming_ml is None


def test_the_position_after_the_last_appends():
    written = write_case(
        TEXT, {"port.3.name": "S9", "port.3.kind": "suction", "port.3.clock": 4, "port.3.from_edge_cm": 1}
    )
    assert read_case(written).case.port[3].name == "S9"
    assert comments(written) == comments(TEXT)


def test_a_section_that_was_not_there_is_made():
    bare = 'format = "soakline-case/1"\n'
    written = write_case(bare, {"wound.opening.length_cm": 5, "wound.face": "front", "port.0.name": "I1"})
    assert "[wound.opening]" in written
    assert "[[port]]" in written


def test_an_answer_that_was_confirmed_falls_with_the_number_it_was_about():
    key = "wound.undermining.0.reach_cm"
    assert key in read_case(TEXT).case.confirmed
    assert key not in read_case(write_case(TEXT, {key: 22})).case.confirmed
    assert key not in read_case(write_case(TEXT, {f"{key}": Range(1, 2, 3)})).case.confirmed
    assert key in read_case(write_case(TEXT, {"wound.girth_cm": 99})).case.confirmed
    assert key in read_case(write_case(TEXT, {key: 22, "confirmed": [key]})).case.confirmed


@pytest.mark.parametrize("key", ["wound.face.left", "port.9.name", "port.x.name", "label.0", "port.-1.name"])
def test_a_key_that_leads_nowhere_is_refused(key):
    with pytest.raises(InputRefused, match="leads nowhere"):
        write_case(TEXT, {key: 1})


def test_text_that_cannot_be_read_is_refused():
    with pytest.raises(InputRefused, match="decimal comma"):
        write_case("depth_cm = 2,5", {"label": "x"})
