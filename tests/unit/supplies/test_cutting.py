"""The cut list: rectangles round the parts of a wound, in rows on sheets; what does not fit is named."""

import pytest

from soakline.supplies.cutting import Cut, cuts_of, lay_out
from soakline.wound.measurements import Opening, Undermining, Wound
from soakline.wound.sheet import lay_flat


def test_the_rectangles_are_those_of_a_circle_with_half_a_ring_by_hand():
    ring = (Undermining(from_clock=12, to_clock=6, reach_cm=4.0),)
    opening, pocket = cuts_of(lay_flat(Wound("front", "trunk", Opening(6.0, 6.0), undermining=ring)))
    assert (opening.length_cm, opening.width_cm) == (6.0, 6.0)
    assert (pocket.length_cm, pocket.width_cm) == pytest.approx((14.0, 7.0), abs=0.15)


def test_rows_go_on_to_a_second_sheet_and_what_is_left_adds_up():
    laid = lay_out([Cut(f"piece {i}", 9.0, 6.0) for i in range(3)], 20.0, 10.0)
    assert laid.sheet_count == 2
    assert laid.left_cm2 == pytest.approx(2 * 200 - 3 * 54)


def test_a_piece_larger_than_a_sheet_is_named_and_not_laid():
    laid = lay_out([Cut("pocket 1", 22.0, 6.0), Cut("opening", 5.0, 5.0)], 20.0, 10.0)
    assert [cut.what for cut in laid.too_large] == ["pocket 1"]
    assert laid.says.startswith("larger than a sheet")
    assert "a bounding layout" in laid.says
