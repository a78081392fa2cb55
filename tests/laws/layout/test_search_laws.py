"""Laws of the search: mirrors, order, more places; on wounds drawn small enough to try everything."""

from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from soakline.fluid.posture import Posture, parse_posture
from soakline.fluid.spread import Soak
from soakline.layout.candidates import find_places
from soakline.layout.ensemble import Question
from soakline.layout.front import front_of, may_lead, worst_tenth
from soakline.layout.search import Sought, UnitFill, run_all
from soakline.wound.body import frame_of
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.plausible import draw_measures
from soakline.wound.sheet import lay_flat

ASSUMED = Assumptions()
SPACING_CM = 1.0
SMALL = st.tuples(
    st.integers(1, 9), st.integers(2, 4), st.sampled_from((3.0, 4.0, 5.0)), st.sampled_from(("front", "back"))
)
GOALS = st.lists(st.tuples(*[st.sampled_from((0.1, 0.2, 0.4, 0.8))] * 4), min_size=1, max_size=12)


def wound(start, wide, reach_cm, face, *, mirrored=False):
    hours = (start, start + wide)
    if mirrored:
        hours = (12 - hours[1], 12 - hours[0])
    first, last = (float(hour % 12 or 12) for hour in hours)
    return Wound(
        face,
        "trunk",
        Opening(5.0, 5.0, 2.5),
        girth_cm=90.0,
        midline_offset_cm=-2.0 if mirrored else 2.0,
        undermining=(Undermining(first, last, reach_cm=reach_cm, height_cm=1.2),),
    )


def everywhere(made, postures):
    """Return each place of a wound by (hour, cm from the edge), with its goals in every plausible wound."""
    sheet, frame = lay_flat(made), frame_of(made, ASSUMED)
    places = find_places(sheet, frame, postures).ports
    question = Question(made, ASSUMED, (), postures, "spread", SPACING_CM)
    sought = Sought(question, places, (UnitFill("A", 30.0),), Soak(60.0, 300.0))
    measures = draw_measures(made, ASSUMED, 2, 3)
    errands = [(k, tuple((place,) for place in range(len(places)))) for k in range(len(measures))]
    goals = np.array([tried.goal_share for tried in run_all(sought, measures, None, errands, lambda _: None)])
    return {(port.clock, port.from_edge_cm): goals[:, k] for k, port in enumerate(places)}


def other_side(posture: Posture) -> Posture:
    return replace(posture, roll_deg=-posture.roll_deg)


def places_of(made, postures):
    found = find_places(lay_flat(made), frame_of(made, ASSUMED), postures)
    return {(port.clock, port.from_edge_cm) for port in found.ports}


def lying_free(face):
    lying = "supine" if face == "front" else "prone"
    return (parse_posture(lying), replace(parse_posture("right 30"), prone=face == "back"))


@given(SMALL)
def test_a_mirrored_wound_has_the_mirrored_places(small):
    postures = lying_free(small[3])
    here = places_of(wound(*small), postures)
    there = places_of(wound(*small, mirrored=True), tuple(map(other_side, postures)))
    assert {(-clock % 12.0 or 12.0, away) for clock, away in here} == there


def test_in_a_mirrored_wound_the_mirrored_place_leads():
    small = (2, 3, 5.0, "front")
    postures = lying_free(small[3])
    here = everywhere(wound(*small), postures)
    there = everywhere(wound(*small, mirrored=True), tuple(map(other_side, postures)))
    worst = {place: worst_tenth(goals[:, None])[0] for place, goals in there.items()}
    for goal in range(4):
        clock, away = max(here, key=lambda place: worst_tenth(here[place][:, None])[0][goal])
        # Cells fall otherwise on a mirrored wound: what the grid decides is a few points.
        assert worst[-clock % 12.0 or 12.0, away][goal] >= max(told[goal] for told in worst.values()) - 0.05


@given(GOALS, GOALS)
def test_more_layouts_never_lower_the_front(few, more):
    before, after = np.array(few), np.array([*few, *more])
    front = after[front_of(after)]
    for beaten_by_nobody in before[front_of(before)]:
        assert (front >= beaten_by_nobody).all(axis=1).any()


@given(GOALS, st.randoms(use_true_random=False))
def test_the_order_of_layouts_changes_nothing(goals, random):
    order = list(range(len(goals)))
    random.shuffle(order)
    worst = np.array(goals)
    assert sorted(order[k] for k in front_of(worst[order])) == front_of(worst).tolist()


@given(st.integers(0, 2**32 - 1), st.integers(2, 8), st.integers(1, 9))
def test_who_leads_in_the_wounds_seen_is_never_dropped(seed, wounds, layouts):
    goals = np.random.default_rng(seed).random((wounds, layouts, 4))
    stays = may_lead(goals, 16, np.random.default_rng(1), 1)
    worst = worst_tenth(goals)
    for goal in range(4):
        near = worst[:, goal] >= worst[:, goal].max() - 0.005
        assert (stays & near).any()


@given(st.integers(0, 2**32 - 1), st.randoms(use_true_random=False))
def test_who_may_lead_does_not_depend_on_the_order(seed, random):
    goals = np.random.default_rng(seed).random((4, 7, 4))
    order = list(range(7))
    random.shuffle(order)
    one = may_lead(goals, 16, np.random.default_rng(1), 1)
    two = may_lead(goals[:, order], 16, np.random.default_rng(1), 1)
    assert two.tolist() == one[order].tolist()
