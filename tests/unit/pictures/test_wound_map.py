import itertools
import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from soakline.layout.ports import Port
from soakline.pictures.frame import TEXT_MM, map_frame
from soakline.pictures.hours import hour_states
from soakline.pictures.labels import text_box
from soakline.pictures.orientation import sides_of
from soakline.pictures.soaked import columns_path, shown_of
from soakline.pictures.wound_map import PAPER, SCALES, describe_map, draw_map, map_size
from soakline.wound.measurements import KeepClear, Opening, Undermining, Wound

SVG = "{http://www.w3.org/2000/svg}"
FACES = ("front", "back", "left", "right")
DEEP = Port("I1", "instillation", 3, 3.5, "A")
OVER = Port("S1", "suction", 8, -1.0, "A")


def _read(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314  # our own drawing


def _texts(root: ET.Element) -> dict[str, tuple[float, float]]:
    return {
        " ".join(part.strip() for part in text.itertext()): (float(text.get("x", "")), float(text.get("y", "")))
        for text in root.iter(f"{SVG}text")
    }


def _extent_of(data: str) -> tuple[float, float]:
    points = np.array(re.findall(r"(-?[\d.]+) (-?[\d.]+)", data), dtype=float)
    width, height = np.ptp(points, axis=0)
    return float(width), float(height)


def test_the_map_is_drawn_to_scale_in_mm(half_pocket, picture_of):
    for one_to in (1, 2):
        root = _read(draw_map(picture_of(half_pocket), half_pocket, None, one_to=one_to))
        opening = next(p for p in root.iter(f"{SVG}path") if p.get("stroke-width") == "1")
        assert _extent_of(opening.get("d", "")) == pytest.approx((60 / one_to, 60 / one_to), abs=0.1)
        assert root.get("viewBox") == f"0 0 {root.get('width', '')[:-2]} {root.get('height', '')[:-2]}"
        assert root.get("width", "").endswith("mm")


# measuring.handedness: 3 o'clock is the patient's left on the front and right on the back; sides follow by turning.
@pytest.mark.parametrize(
    ("face", "three", "nine"),
    [
        ("front", "PATIENT LEFT", "PATIENT RIGHT"),
        ("back", "PATIENT RIGHT", "PATIENT LEFT"),
        ("left", "BACK", "FRONT"),
        ("right", "FRONT", "BACK"),
    ],
)
def test_each_side_of_the_picture_names_the_side_of_the_patient(face, three, nine, half_pocket, picture_of):
    wound = replace(half_pocket, face=face)
    root = _read(draw_map(picture_of(wound), wound, None))
    places = _texts(root)
    middle = float(root.get("width", "0mm")[:-2]) / 2
    assert places[three][0] > middle > places[nine][0]
    assert places["HEAD"][1] < places["12"][1] < places["6"][1] < places["FEET"][1]


def test_a_limb_has_proximal_and_distal_ends():
    assert (sides_of("left", "forearm").twelve, sides_of("left", "forearm").six) == ("PROXIMAL", "DISTAL")


def test_the_numerals_run_clockwise_from_the_top(half_pocket, picture_of):
    spots = map_frame(picture_of(half_pocket).sheet, sides_of("front", "trunk"), 1)
    x, y = spots.origin_mm
    for hour, (at_x, at_y) in spots.numerals().items():
        assert np.degrees(np.arctan2(at_x - x, y - at_y)) % 360 == pytest.approx(hour * 30 % 360)


def test_an_hour_not_probed_is_not_an_hour_with_none_found(half_pocket, picture_of):
    states = hour_states(half_pocket)
    assert states[11] == "not probed"
    assert states[10] == "none found"
    assert {states[hour] for hour in (12, 3, 6)} == {"undermined"}
    shown = _texts(_read(draw_map(picture_of(half_pocket), half_pocket, None)))
    assert {"probed, none found", "not probed"} <= set(shown)
    all_probed = replace(half_pocket, none_found=(7, 8, 9, 10, 11))
    assert "not probed" not in _texts(_read(draw_map(picture_of(all_probed), all_probed, None)))


def test_undermining_whose_reach_nobody_measured_is_marked_unsure(half_pocket):
    half_known = replace(half_pocket, undermining=(Undermining(from_clock=2, to_clock=5),))
    assert hour_states(half_known)[3] == "reach not measured"


def test_what_stands_on_the_map_is_said_in_words(crowded, picture_of):
    said = describe_map(picture_of(crowded, DEEP), crowded, 0)
    for words in (
        "Pocket from 10 o'clock through 12 o'clock to 2 o'clock, 6 cm beyond the edge, estimated",
        "on the PATIENT'S RIGHT and towards the feet",
        "Not probed: 3, 6, 8, 9 o'clock.",
        "Probed, none found: 4, 7 o'clock.",
        "Tunnel at 5 o'clock: length 6 cm, diameter 1 cm, 15° below the skin's plane, end felt.",
        "Keep clear: bowel under mesh, at 9 o'clock",
        "Instillation port I1, unit A at 3 o'clock, 3.5 cm into the pocket.",
        "floor: 60 mL from I1, left 30, settled model; dotted as soaked.",
    ):
        assert words in said


def test_the_soaked_path_covers_the_soaked_columns_and_no_more(half_pocket, picture_of):
    picture = picture_of(half_pocket)
    cavity, wet = picture.cavities["settled"], picture.maps[0].floor_wet
    runs = re.findall(
        r"M(-?[\d.]+) (-?[\d.]+)H(-?[\d.]+)V(-?[\d.]+)H",
        columns_path(cavity, wet >= 0.5, lambda at: (at[0] * 10, -at[1] * 10)),
    )
    boxes = np.array(runs, dtype=float) / 10
    inside = (
        (cavity.u_cm[:, None] > boxes[:, 0])
        & (cavity.u_cm[:, None] < boxes[:, 2])
        & (-cavity.v_cm[:, None] > boxes[:, 1])
        & (-cavity.v_cm[:, None] < boxes[:, 3])
    ).any(axis=1)
    whole = cavity.floor_cm2 > 0.9 * cavity.spacing_cm**2
    assert np.array_equal(inside[whole], wet[whole] > 0.5)


def test_what_plausible_wounds_disagree_on_is_drawn_apart(half_pocket, picture_of):
    found = picture_of(half_pocket).maps[0]
    count = len(found.floor_wet)
    often = np.column_stack([np.linspace(0.0, 1.0, count), np.ones(count)])
    areas = shown_of(found.over_wounds(often, often), "floor")
    assert areas.soaked.sum() == (often[:, 0] >= 0.9).sum()
    assert areas.second.sum() == ((often[:, 0] > 0.1) & (often[:, 0] < 0.9)).sum()
    assert not (areas.soaked & areas.second).any()


def test_soaked_and_unsure_are_patterns_not_colours_alone(half_pocket, picture_of):
    root = _read(draw_map(picture_of(half_pocket), half_pocket, 0, prefix="one"))
    patterns = {pattern.get("id") for pattern in root.iter(f"{SVG}pattern")}
    assert patterns == {"one-soaked", "one-second", "one-unsure"}
    fills = {element.get("fill") for element in root.iter()}
    assert {"url(#one-soaked)", "url(#one-unsure)"} <= fills


def test_ports_differ_in_shape_and_carry_their_label(half_pocket, picture_of):
    picture = picture_of(half_pocket, DEEP, OVER)
    root = _read(draw_map(picture, half_pocket, None, inks=PAPER))
    assert {"I1 (A)", "S1 (A)"} <= set(_texts(root))
    filled = [c for c in root.iter(f"{SVG}circle") if c.get("r") == "1.8" and c.get("fill") == "#000"]
    hollow = [r for r in root.iter(f"{SVG}rect") if r.get("width") == "3.6" and r.get("fill") == "#fff"]
    assert (len(filled), len(hollow)) == (2, 2)  # one on the map, one in the legend


def test_words_do_not_cover_each_other(crowded, picture_of):
    ports = (Port("I1", "instillation", 12, 5, "A"), Port("I2", "instillation", 5, 4, "B"), OVER)
    for one_to in (1, 2):
        root = _read(draw_map(picture_of(crowded, *ports), crowded, 0, one_to=one_to))
        single = [t for t in root.iter(f"{SVG}text") if t.get("text-anchor") == "middle" and len(t) == 0]
        places = [(t.text or "", (float(t.get("x", "")), float(t.get("y", "")))) for t in single]
        boxes = [text_box([said], at, TEXT_MM * 0.9) for said, at in places]
        assert not [pair for pair in itertools.combinations(boxes, 2) if pair[0].overlaps(pair[1])]


@pytest.mark.parametrize("words", ["<script>alert(1)</script>", '"><b>', "a&b", "\x00\x1b[31m", "🦠 " * 40, "]]>"])
def test_hostile_words_come_out_as_text(words, crowded, picture_of):
    wound = replace(crowded, keep_clear=(KeepClear(words, 9, 3, 2),))
    port = Port(words, "instillation", 12, 5, words)
    root = _read(draw_map(picture_of(wound, port), wound, 0))
    known = {"svg", "title", "desc", "defs", "pattern", "rect", "circle", "path", "clipPath", "text", "tspan"}
    assert {element.tag.removeprefix(SVG) for element in root.iter()} <= known


def test_no_attribute_offends_a_strict_policy_and_every_id_has_the_prefix(crowded, picture_of):
    root = _read(draw_map(picture_of(crowded, DEEP), crowded, 0, prefix="night"))
    for element in root.iter():
        assert not any(name == "style" or name.startswith("on") for name in element.attrib)
        assert element.get("id", "night").startswith("night")


def test_the_map_of_a_large_pocket_stays_small(picture_of):
    wide = Wound(
        "front", "trunk", Opening(8, 12, 3), 110, undermining=(Undermining(12, 12, reach_cm=10, height_cm=1.5),)
    )
    assert len(draw_map(picture_of(wide, DEEP), wide, 0).encode()) < 60_000


def test_the_size_told_beforehand_is_the_size_drawn(half_pocket, picture_of):
    picture = picture_of(half_pocket, DEEP)
    for one_to in SCALES:
        root = _read(draw_map(picture, half_pocket, 0, one_to=one_to, inks=PAPER))
        told = map_size(picture, half_pocket, 0, one_to)
        assert told == pytest.approx((float(root.get("width", "")[:-2]), float(root.get("height", "")[:-2])), abs=0.01)
