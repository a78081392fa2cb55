"""The sheet and the body in words and figures."""

import numpy as np
import pytest

from soakline.errors import GridRefused
from soakline.wound.body import frame_of, side_words
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, KeepClear, Opening, Tunnel, Undermining, Wound
from soakline.wound.sheet import hours_words, lay_flat
from soakline.wound.volume import hand_sums, void

FLAT = Assumptions(curvature="flat")


def wound_of(*undermining, **more):
    return Wound("front", "trunk", Opening(6.0, 4.0, 2.0), undermining=undermining, **more)


@pytest.mark.parametrize(
    ("part", "direction_deg", "words"),
    [
        ("trunk", 0.0, "towards the head"),
        ("trunk", 45.0, "PATIENT'S LEFT and towards the head"),
        ("trunk", 180.0, "towards the feet"),
        ("thigh", 180.0, "distal"),
        ("thigh", 300.0, "PATIENT'S RIGHT and proximal"),
    ],
)
def test_a_direction_is_told_as_a_side_of_the_patient(part, direction_deg, words):
    assert side_words(Wound("front", part, Opening()), direction_deg) == words


def test_a_curved_frame_needs_the_girth():
    with pytest.raises(ValueError, match="girth"):
        frame_of(wound_of(), Assumptions())


def test_an_opening_that_was_not_measured_cannot_be_laid_flat():
    with pytest.raises(ValueError, match="opening was not measured"):
        lay_flat(Wound("front", "trunk", Opening(length_cm=5.0)))


def test_a_cavity_needs_depth_and_every_height():
    frame = frame_of(wound_of(), FLAT)
    with pytest.raises(ValueError, match="pocket height"):
        build_cavity(lay_flat(wound_of(Undermining(12, 3, reach_cm=2.0))), frame, 0.5)
    with pytest.raises(ValueError, match="depth"):
        build_cavity(lay_flat(Wound("front", "trunk", Opening(6.0, 4.0))), frame, 0.5)


def test_a_grid_beyond_memory_is_refused_with_what_to_do():
    with pytest.raises(GridRefused, match="take a wider grid"):
        build_cavity(lay_flat(wound_of()), frame_of(wound_of(), FLAT), 0.1, most_count=100)


def test_no_void_where_a_height_was_not_measured():
    assert void(lay_flat(wound_of(Undermining(12, 3, reach_cm=2.0)))) is None


def test_a_tunnel_starts_at_the_far_edge_of_the_pocket_half_way_up():
    pocket = Undermining(12, 6, reach_cm=3.0, height_cm=1.0)
    for clock, start in ((3, (5.0, 0.0)), (6, (0.0, -6.0)), (12, (0.0, 6.0)), (9, (-2.0, 0.0))):
        track = lay_flat(wound_of(pocket, tunnel=(Tunnel(clock, 2.0, 0.5),))).tunnels[0]
        assert track.start_cm == pytest.approx(start, abs=1e-9)
        assert track.start_height_cm == (1.0 if clock == 9 else 0.5)


def test_a_tunnel_of_unknown_length_is_left_out():
    assert lay_flat(wound_of(tunnel=(Tunnel(3, None, 1.0),))).tunnels == ()


def test_a_structure_to_keep_clear_lies_from_the_edge():
    zone = lay_flat(wound_of(keep_clear=(KeepClear("mesh", 9, 3.0, 2.0),))).keep_clear[0]
    assert zone.centre_cm == pytest.approx((-5.0, 0.0))


def test_where_pockets_overlap_the_higher_counts_as_far_as_it_reaches():
    high, low = Undermining(12, 12, reach_cm=1.0, height_cm=1.5), Undermining(12, 12, reach_cm=2.0, height_cm=0.5)
    round_ = Wound("front", "trunk", Opening(4.0, 4.0, 2.0), undermining=(low, high))
    by_hand = np.pi * ((9 - 4) * 1.5 + (16 - 9) * 0.5)
    assert void(lay_flat(round_)).pocket_ml == pytest.approx(by_hand, rel=1e-6)
    cavity = build_cavity(lay_flat(round_), frame_of(round_, FLAT), 0.2)
    assert cavity.void_ml == pytest.approx(by_hand + 8 * np.pi, rel=0.005)


def test_each_sum_by_hand_gives_what_the_volume_gives():
    pocket = Undermining(12, 6, reach_cm=4.0, height_cm=1.5)
    wound = Wound("front", "trunk", Opening(6.0, 6.0, 2.0), undermining=(pocket,), tunnel=(Tunnel(5, 4.0, 1.0),))
    told = {done.what: done.result for done in hand_sums(lay_flat(wound))}
    assert told["opening as a circle"] == "28.3 cm²"
    assert told["pocket as part of a ring"] == "62.8 cm²"
    assert (told["well"], told["pocket as a slab"], told["tunnel as a tube"]) == ("56.5 mL", "94.2 mL", "3.1 mL")


def test_a_sealed_pocket_is_roofed_at_its_height():
    pocket = Undermining(12, 12, reach_cm=6.0, height_cm=1.0)
    sheet = lay_flat(Wound("front", "trunk", Opening(4.0, 4.0, 2.0), undermining=(pocket,)))
    assert void(sheet, closed=True).total_ml == pytest.approx(64 * np.pi, rel=1e-6)


@pytest.mark.kernel
def test_a_port_site_is_found_by_its_cell():
    cavity = build_cavity(lay_flat(wound_of()), frame_of(wound_of(), FLAT), 1.0)
    found = cavity.nearest(0.9, -2.1)
    assert abs(cavity.u_cm[found] - 0.9) < 1.0
    assert abs(cavity.v_cm[found] + 2.1) < 1.0


def test_hours_are_told_in_words():
    assert hours_words(Undermining(clock=4.5)) == "at half past 4"
    assert hours_words(Undermining(from_clock=4, to_clock=4)) == "all round"
