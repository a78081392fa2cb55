"""A wound as entered is held against the body and each measure against the others, in words that name the key."""

from dataclasses import replace

import pytest

from soakline.units import Range
from soakline.wound.entry import GIRTH_CM, LONGEST_CM, check_wound, with_answers
from soakline.wound.measurements import (
    Assumptions,
    KeepClear,
    Opening,
    Pocket,
    Tunnel,
    Undermining,
    Wound,
)

SQUARE = ((-5.0, -5.0), (5.0, -5.0), (5.0, 5.0), (-5.0, 5.0))
OPENING = Opening(6, 6, 3)
POCKET = Undermining(1, 5, reach_cm=4, height_cm=1.5)
PROBED = (6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0)
UNPROBED = "worked out as without undermining, may be larger: probe there"
WOUND = Wound("front", "trunk", OPENING, girth_cm=100, undermining=(POCKET,), none_found=PROBED)


def said(wound, assumptions=None, confirmed=()):
    return [(f.level, f.where, f.says) for f in check_wound(wound, assumptions or Assumptions(), frozenset(confirmed))]


def levels(wound, where, assumptions=None):
    return {level for level, key, _ in said(wound, assumptions) if key == where}


def with_opening(**changes):
    return replace(WOUND, opening=replace(OPENING, **changes))


def with_pocket(**changes):
    return replace(WOUND, undermining=(replace(POCKET, **changes),))


def test_a_wound_fully_measured_leaves_nothing_to_say():
    assert said(WOUND) == []


@pytest.mark.parametrize(
    ("wound", "level", "where"),
    [
        (with_opening(length_cm=0.0), "refuse", "wound.opening.length_cm"),
        (with_opening(width_cm=-2.0), "refuse", "wound.opening.width_cm"),
        (with_opening(width_cm=None), "warn", "wound.opening.width_cm"),
        (with_opening(depth_cm=Range(-1, 2, 3)), "refuse", "wound.opening.depth_cm"),
        (with_opening(depth_cm=16.0), "refuse", "wound.opening.depth_cm"),
        (with_opening(width_cm=55.0), "ask", "wound.opening.width_cm"),
        (with_opening(bed="bowl"), "refuse", "wound.opening.bed"),
        (with_opening(outline_cm=SQUARE), "refuse", "wound.opening.outline_cm"),
        (with_pocket(reach_cm=None), "warn", "wound.undermining.0.reach_cm"),
        (with_pocket(reach_cm=0.0), "refuse", "wound.undermining.0.reach_cm"),
        (with_pocket(reach_cm=51.0), "refuse", "wound.undermining.0.reach_cm"),
        (with_pocket(reach_cm=Range(5, 10, 51)), "ask", "wound.undermining.0.reach_cm"),
        (with_pocket(height_cm=None), "warn", "wound.undermining.0.height_cm"),
        (with_pocket(height_cm=3.0), "refuse", "wound.undermining.0.height_cm"),
        (with_pocket(height_cm=Range(1, 3.5, 4)), "refuse", "wound.undermining.0.height_cm"),
        (with_pocket(to_clock=None), "refuse", "wound.undermining.0"),
        (with_pocket(clock=3.0), "refuse", "wound.undermining.0"),
        (with_pocket(from_clock=None, to_clock=None), "refuse", "wound.undermining.0"),
        (replace(WOUND, girth_cm=None), "warn", "wound.girth_cm"),
        (replace(WOUND, girth_cm=900.0), "refuse", "wound.girth_cm"),
        (replace(WOUND, girth_cm=-1.0), "refuse", "wound.girth_cm"),
        (replace(WOUND, midline_offset_cm=26.0), "ask", "wound.midline_offset_cm"),
        (replace(WOUND, midline_offset_cm=-51.0), "refuse", "wound.midline_offset_cm"),
        (replace(WOUND, part="thigh", girth_cm=60.0), "ask", "wound.limb_side"),
        (replace(WOUND, limb_side="left"), "warn", "wound.limb_side"),
        (replace(WOUND, none_found=(3.0, *PROBED)), "refuse", "wound.probed.none_found"),
        (replace(WOUND, none_found=(5.0, *PROBED)), "ask", "wound.probed.none_found"),
        (replace(WOUND, undermining=(), none_found=()), "warn", "wound.probed.none_found"),
        (replace(WOUND, pocket=Pocket(SQUARE, 1.0)), "refuse", "wound.pocket"),
        (replace(WOUND, tunnel=(Tunnel(3, 90, 1),)), "refuse", "wound.tunnel.0.length_cm"),
        (replace(WOUND, tunnel=(Tunnel(3, 30, 1, down_deg=90),)), "refuse", "wound.tunnel.0.length_cm"),
        (replace(WOUND, tunnel=(Tunnel(3, 5, 1, down_deg=91),)), "refuse", "wound.tunnel.0.down_deg"),
        (replace(WOUND, tunnel=(Tunnel(3, 5, 1, down_deg=-5),)), "refuse", "wound.tunnel.0.down_deg"),
        (replace(WOUND, tunnel=(Tunnel(3, None, 1),)), "warn", "wound.tunnel.0.length_cm"),
        (replace(WOUND, tunnel=(Tunnel(3, 5, None),)), "warn", "wound.tunnel.0.diameter_cm"),
        (replace(WOUND, tunnel=(Tunnel(3, 5, 4),)), "ask", "wound.tunnel.0.diameter_cm"),
        (replace(WOUND, tunnel=(Tunnel(3, 5, 11),)), "refuse", "wound.tunnel.0.diameter_cm"),
        (replace(WOUND, keep_clear=(KeepClear("bowel", 9, -2, 1),)), "ask", "wound.keep_clear.0.from_edge_cm"),
        (replace(WOUND, keep_clear=(KeepClear("bowel", 9, 90, 1),)), "refuse", "wound.keep_clear.0.from_edge_cm"),
        (replace(WOUND, keep_clear=(KeepClear("bowel", 9, 2, 0),)), "refuse", "wound.keep_clear.0.radius_cm"),
    ],
)
def test_what_does_not_fit_is_said_at_its_key(wound, level, where):
    assert levels(wound, where) == {level}


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("foam_porosity", 0.0),
        ("foam_porosity", 1.1),
        ("foam_share", Range(0.5, 0.8, 1.2)),
        ("capillary_height_cm", -1.0),
        ("permeability_m2", 0.0),
    ],
)
def test_an_assumption_that_no_foam_has_is_refused(name, value):
    assert levels(WOUND, f"model.{name}", Assumptions(**{name: value})) == {"refuse"}


def test_a_flat_model_needs_no_girth():
    assert levels(replace(WOUND, girth_cm=None), "wound.girth_cm", Assumptions(curvature="flat")) == set()


def test_bounds_are_said_to_be_no_clinical_limits():
    (_, _, says) = next(f for f in said(with_opening(length_cm=81.0)) if f[0] == "refuse")
    assert "a bound of entry, not a clinical limit" in says


@pytest.mark.parametrize("part", LONGEST_CM)
def test_an_ordinary_wound_of_each_part_passes(part):
    low, high = GIRTH_CM[part]
    side = None if part == "trunk" else "left"
    wound = Wound(
        "front", part, Opening(5, 3, 1), girth_cm=(low + high) / 2, limb_side=side, none_found=tuple(range(1, 13))
    )
    assert said(wound) == []


def test_a_pocket_height_that_is_missing_names_its_hours():
    (_, _, says) = next(f for f in said(with_pocket(height_cm=None)) if f[1] == "wound.undermining.0.height_cm")
    assert "measure the pocket height at 1 to 5 o'clock first" in says


def test_hours_in_neither_list_are_said_not_to_be_probed():
    assert ("warn", "wound.probed.none_found", f"not probed: 7, 8 o'clock: {UNPROBED}") in said(
        replace(WOUND, none_found=(6.0, 9.0, 10.0, 11.0, 12.0))
    )


def test_one_hour_stands_for_itself_alone():
    wound = replace(WOUND, undermining=(Undermining(clock=3, reach_cm=4, height_cm=1),), none_found=())
    assert said(wound) == [
        ("warn", "wound.probed.none_found", f"not probed: 1, 2, 4, 5, 6, 7, 8, 9, 10, 11, 12 o'clock: {UNPROBED}"),
    ]


def test_a_tapering_end_agrees_with_nothing_found_there():
    wound = replace(with_pocket(ends="taper"), none_found=(1.0, 5.0, *PROBED))
    assert said(wound) == []


def test_undermining_all_round_leaves_no_hour_free():
    wound = replace(with_pocket(from_clock=4, to_clock=4), none_found=(4.0,))
    assert levels(wound, "wound.probed.none_found") == {"refuse"}


@pytest.mark.parametrize(
    ("other", "overlaps"),
    [
        (Undermining(5, 8, reach_cm=3, height_cm=1), False),
        (Undermining(4, 8, reach_cm=3, height_cm=1), True),
        (Undermining(clock=5, reach_cm=3, height_cm=1), True),
        (Undermining(clock=5.5, reach_cm=3, height_cm=1), False),
        (Undermining(8, 1, reach_cm=3, height_cm=1), False),
        (Undermining(7, 7, reach_cm=3, height_cm=1), True),
    ],
)
def test_ranges_that_overlap_say_how_they_are_read(other, overlaps):
    wound = replace(WOUND, undermining=(POCKET, other), none_found=())
    found = [says for _, where, says in said(wound) if where == "wound.undermining.1"]
    assert bool(found) == overlaps
    assert all("the farther reach and the higher pocket height" in says for says in found)


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        (11, 1, "through 12 (head), 60°"),
        (1, 11, "through 6 (feet), 300°"),
        (12, 6, None),
        (6, 12, None),
        (9, 12, None),
        (12, 12, None),
        (12.5, 3, None),
        (9, 12.5, "through 12 (head), 105°"),
    ],
)
def test_a_range_that_can_be_misread_is_echoed(first, last, words):
    wound = replace(with_pocket(from_clock=first, to_clock=last), none_found=())
    echoes = [says for _, where, says in said(wound) if where == "wound.undermining.0.from"]
    assert (len(echoes) == 1 and words in echoes[0]) if words else echoes == []


def test_on_a_limb_twelve_is_proximal():
    wound = replace(with_pocket(from_clock=11, to_clock=1), part="thigh", limb_side="left", girth_cm=60, none_found=())
    assert any("12 (proximal)" in says for _, _, says in said(wound))


@pytest.mark.parametrize(
    ("outline", "words"),
    [
        (((0.0, 0.0), (1.0, 1.0)), "at least 3"),
        (((0.0, 0.0), (1.0, 1.0), (1.0, 1.0), (0.0, 0.0)), "2 different points"),
        (((0.0, 0.0), (1.0, 1.0), (2.0, 2.0)), "on one line"),
        (((0.0, 0.0), (4.0, 3.0), (4.0, 0.0), (0.0, 3.0)), "crosses or touches itself"),
        (((0.0, 0.0), (4.0, 0.0), (2.0, 2.0), (4.0, 4.0), (0.0, 4.0), (2.0, 2.0)), "crosses or touches itself"),
        (((0.0, 0.0), (60.0, 0.0), (60.0, 400.0)), "Millimetres?"),
    ],
)
def test_a_traced_edge_that_does_not_hold_together_is_refused(outline, words):
    wound = with_opening(length_cm=None, width_cm=None, outline_cm=outline)
    found = [says for level, where, says in said(wound) if (level, where) == ("refuse", "wound.opening.outline_cm")]
    assert len(found) == 1
    assert words in found[0]


def test_a_traced_edge_in_order_passes_closed_or_not():
    for outline in (SQUARE, (*SQUARE, SQUARE[0])):
        assert said(with_opening(length_cm=None, width_cm=None, outline_cm=outline)) == []


def test_a_pocket_that_holds_none_of_the_openings_edge_is_refused():
    bare = replace(WOUND, undermining=(), none_found=())
    away = tuple((x + 20, y) for x, y in SQUARE)
    assert said(replace(bare, pocket=Pocket(SQUARE, 1.0))) == []
    assert levels(replace(bare, pocket=Pocket(away, 1.0)), "wound.pocket.outline_cm") == {"refuse"}


def test_a_marked_pocket_past_the_flank_is_asked_about():
    wide = ((0.0, -4.0), (20.0, -4.0), (20.0, 4.0), (0.0, 4.0))
    wound = replace(WOUND, undermining=(), none_found=(), pocket=Pocket(wide, 1.0))
    assert levels(wound, "wound.pocket.outline_cm") == set()
    assert levels(replace(wound, midline_offset_cm=5.5), "wound.pocket.outline_cm") == {"ask"}
    assert levels(replace(wound, midline_offset_cm=-5.5), "wound.pocket.outline_cm") == set()


def test_the_answer_to_another_key_confirms_nothing():
    wound = replace(WOUND, midline_offset_cm=26.0)
    asked = [f for f in check_wound(wound, Assumptions(), frozenset({"wound.girth_cm"})) if f.level == "ask"]
    assert any(f.where == "wound.midline_offset_cm" for f in asked)
    assert with_answers(asked, frozenset(f.where for f in asked))[0].says.startswith("confirmed: ")
    assert "?" not in with_answers(asked, frozenset(f.where for f in asked))[0].says
