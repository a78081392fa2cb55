"""Which hour lies lowest, face by posture, told by hand: ``measuring.handedness`` and ``measuring.clock``."""

import numpy as np
import pytest

from soakline.fluid.posture import parse_posture
from soakline.wound.body import frame_of, side_words
from soakline.wound.measurements import Assumptions, Opening, Wound

# Hours whose place on the skin lies lowest. On the front 3 o'clock is the patient's left, on the back the right; on the
# left side 3 o'clock is the back, on the right side the front; 12 is always the head.
LOWEST = {
    ("front", "left 30"): 3,
    ("front", "right 30"): 9,
    ("front", "head up 30"): 6,
    ("front", "head down 30"): 12,
    ("back", "prone left 30"): 9,
    ("back", "prone right 30"): 3,
    ("back", "prone head up 20"): 6,
    ("back", "prone head down 20"): 12,
    ("left", "supine"): 3,
    ("left", "prone"): 9,
    ("left", "right 60"): 3,
    ("left", "right 90 head up 30"): 6,
    ("right", "supine"): 9,
    ("right", "prone"): 3,
    ("right", "left 60"): 9,
    ("right", "left 90 head down 30"): 12,
}
LEVEL = {"front": "supine", "back": "prone", "left": "right 90", "right": "left 90"}
# Body axes: right, front, head.
UP = {
    "supine": (0, 1, 0),
    "prone": (0, -1, 0),
    "left 90": (1, 0, 0),
    "right 90": (-1, 0, 0),
    "head up 90": (0, 0, 1),
    "head down 90": (0, 0, -1),
    "left 30": (0.5, 0.866, 0),
    "prone left 30": (0.5, -0.866, 0),
    "left 30 head up 20": (0.470, 0.814, 0.342),
}
THREE_OCLOCK = {
    "front": "PATIENT'S LEFT",
    "back": "PATIENT'S RIGHT",
    "left": "PATIENT'S BACK",
    "right": "PATIENT'S FRONT",
}
HOURS = (12, 3, 6, 9)


def heights_cm(face, posture):
    """Give how high 12, 3, 6 and 9 o'clock lie, 5 cm from the middle, on a flat sheet."""
    frame = frame_of(Wound(face, "trunk", Opening(4.0, 4.0)), Assumptions(curvature="flat"))
    u, v = np.array([0.0, 5.0, 0.0, -5.0]), np.array([5.0, 0.0, -5.0, 0.0])
    return frame.place(u, v, np.zeros(4)) @ parse_posture(posture).up()


def lowest_hour(heights):
    return HOURS[int(np.argmin(heights))]


@pytest.mark.parametrize(("face", "posture"), LOWEST)
def test_the_lowest_hour_is_the_one_told_by_hand(face, posture):
    assert lowest_hour(heights_cm(face, posture)) == LOWEST[face, posture]


@pytest.mark.parametrize("face", LEVEL)
def test_the_face_that_looks_up_lies_level(face):
    assert heights_cm(face, LEVEL[face]) == pytest.approx(np.zeros(4), abs=1e-9)


@pytest.mark.parametrize("posture", UP)
def test_up_points_where_the_hand_points(posture):
    assert parse_posture(posture).up() == pytest.approx(np.array(UP[posture]), abs=0.001)


@pytest.mark.parametrize("face", THREE_OCLOCK)
def test_three_oclock_is_named_in_words(face):
    assert side_words(Wound(face, "trunk", Opening(4.0, 4.0)), 90.0) == THREE_OCLOCK[face]


def test_a_planted_mirror_image_fails():
    mirrored = heights_cm("front", "left 30")[[0, 3, 2, 1]]
    assert lowest_hour(mirrored) != LOWEST["front", "left 30"]


def test_a_wound_off_the_middle_leans_to_its_own_side():
    # Front, 10 cm towards 3 o'clock (patient's left) of a trunk of 22 cm radius: supine its outer side is the lower.
    wound = Wound("front", "trunk", Opening(4.0, 4.0), girth_cm=44 * np.pi, midline_offset_cm=10.0)
    frame = frame_of(wound, Assumptions())
    inner, outer = frame.place(np.array([-3.0, 3.0]), np.zeros(2), np.zeros(2))[:, 1]
    assert inner - outer == pytest.approx(22 * (np.cos(7 / 22) - np.cos(13 / 22)), abs=1e-9)
