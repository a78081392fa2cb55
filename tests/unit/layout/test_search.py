"""The race finds what trying everything finds, tells how it stands, and stops when told to."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import combinations, permutations

import numpy as np
import pytest

from soakline.fluid.posture import parse_posture
from soakline.fluid.spread import Soak
from soakline.layout.candidates import find_places
from soakline.layout.drawing import share_passed_over, suction_sets
from soakline.layout.ensemble import Question
from soakline.layout.foretelling import place_of_worst_tenth
from soakline.layout.front import EVEN_SHARE, enough, front_of, leader, worst_tenth
from soakline.layout.rule import rule_port
from soakline.layout.search import Sought, UnitFill, race, run_all, search
from soakline.layout.tried import GOALS, Tried
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.plausible import draw_measures
from soakline.wound.sheet import lay_flat

WOUND = Wound(
    "left",
    "trunk",
    Opening(5.0, 5.0, 2.5),
    girth_cm=95.0,
    undermining=(
        Undermining(2, 4, reach_cm=7.0, height_cm=1.2),
        Undermining(8, 10, reach_cm=5.0, height_cm=1.2),
    ),
)
ASSUMED = Assumptions()
POSTURES = (parse_posture("supine"), parse_posture("right 60"))
SHEET, FRAME = lay_flat(WOUND), frame_of(WOUND, ASSUMED)
CAVITY = build_cavity(SHEET, FRAME, 1.0)
PLACES = find_places(SHEET, FRAME, POSTURES).ports
MEASURES = draw_measures(WOUND, ASSUMED, 8, 5)


def sought(most=1, fills=(60.0,), places=PLACES):
    question = Question(WOUND, ASSUMED, (), POSTURES, "spread", 1.0)
    named = tuple(UnitFill(name, ml) for name, ml in zip("ABC", fills, strict=False))
    return Sought(question, places, named, Soak(120.0, 480.0), most)


def everything(asked, layouts):
    """Return the goals (wounds, layouts, 4) of layouts, each run in every wound."""
    errands = [(wound, tuple(layouts)) for wound in range(len(MEASURES))]
    found = run_all(asked, MEASURES, None, errands, lambda _: None)
    return np.array([tried.goal_share for tried in found])


@pytest.fixture(scope="module", params=[12.0, 25.0])
def pairs(request):
    # Fills so small that the place decides; at 25 mL the roof that a pair wets is not foretold by its places alone.
    asked = sought(2, fills=(request.param,), places=PLACES[::2])
    layouts = [*((k,) for k in range(len(asked.places))), *combinations(range(len(asked.places)), 2)]
    return asked, layouts, everything(asked, layouts)


def test_the_leading_port_is_the_one_that_trying_everything_finds():
    asked = sought()
    found = search(asked, MEASURES, seed=1)
    worst = worst_tenth(everything(asked, [(k,) for k in range(len(PLACES))]))
    for goal in range(len(GOALS)):
        (place,) = found.leader(1, goal)
        assert worst[place, goal] >= worst[:, goal].max() - 2.0 * EVEN_SHARE
    assert found.run_count < len(PLACES) * len(MEASURES)


def test_a_planted_wrong_leader_would_be_seen():
    asked = sought()
    worst = worst_tenth(everything(asked, [(k,) for k in range(len(PLACES))]))
    lowest = int(worst[:, 1].argmin())
    assert worst[lowest, 1] < worst[:, 1].max() - 2.0 * EVEN_SHARE


def test_the_leading_pair_is_the_one_that_trying_everything_finds(pairs):
    asked, layouts, goals = pairs
    found = search(asked, MEASURES, seed=1)
    two = [k for k, layout in enumerate(layouts) if len(layout) == 2]
    worst = worst_tenth(goals[:, two])
    for goal in range(len(GOALS)):
        chosen = layouts.index(found.leader(2, goal))
        assert worst_tenth(goals[:, [chosen]])[0, goal] >= worst[:, goal].max() - 2.0 * EVEN_SHARE
    # A wrong pair would be seen.
    assert worst[:, 3].min() < worst[:, 3].max() - 2.0 * EVEN_SHARE


def test_ports_at_one_place_do_what_one_port_does_with_all_of_their_fills():
    both = everything(sought(2, fills=(30.0, 10.0)), [(3, 3)])
    assert both == pytest.approx(everything(sought(fills=(40.0,)), [(3,)]), abs=1e-9)


def drawn_up(asked, together_share):
    """Return what runs layouts whose goals alone are even, and together lie between all ports at each of the places."""

    def run(errands, _told):
        found = []
        for wound, layouts in errands:
            goal = np.zeros((len(layouts), len(GOALS)))
            for row, layout in enumerate(layouts):
                fills = [asked.fill_of(k).fill_ml for k in range(len(layout))]
                goal[row] = np.average(together_share[list(layout)], axis=0, weights=fills) if len(layout) > 1 else 0.5
            # The wounds differ, the order of layouts in them does not.
            found.append(Tried(goal * (1.0 - 0.01 * wound), np.zeros((len(layouts), 1), dtype=np.uint8), np.ones(1)))
        return found

    return run


@pytest.mark.parametrize("fills", [(20.0,), (20.0, 60.0), (50.0, 20.0, 30.0)])
def test_a_set_whose_places_alone_tell_nothing_is_found_by_what_lies_between_them(fills):
    asked = sought(max(2, len(fills)), fills=fills)
    share = np.random.default_rng(4).uniform(0.2, 0.8, (len(PLACES), len(GOALS)))
    found = race(asked, len(MEASURES), drawn_up(asked, share), seed=1)
    count = asked.most_port_count
    every = np.array(list(permutations(range(len(PLACES)), count)))
    weight = np.array([asked.fill_of(k).fill_ml for k in range(count)])
    for goal in range(len(GOALS)):
        foretold = share[:, goal][every] @ (weight / weight.sum())
        leading = share[list(found.leader(count, goal)), goal] @ (weight / weight.sum())
        assert leading >= foretold.max() - EVEN_SHARE
        assert foretold.max() > np.median(foretold) + 10.0 * EVEN_SHARE


def test_a_pair_that_wets_from_both_sides_is_found_though_each_of_its_places_wets_less_than_others():
    # Each place alone wets the same; with all poured at it two wet one half of the floor each, the others most of one.
    asked = sought(2)
    halves = np.zeros((len(PLACES), 10), dtype=np.uint8)
    halves[:, 2:8] = 255
    halves[[3, 8]] = 0
    halves[3, :5] = halves[8, 5:] = 255

    def run(errands, _told):
        found = []
        for wound, layouts in errands:
            wetted = np.array([halves[list(one)].max(axis=0) for one in layouts])
            if len(layouts[0]) == 1:
                wetted[:] = halves[0]
            share = np.full((len(layouts), len(GOALS)), 0.5)
            share[:, 1] = (wetted / 255.0).mean(axis=1) - 0.001 * wound
            found.append(Tried(share, wetted, np.full(10, 0.1)))
        return found

    assert race(asked, len(MEASURES), run, seed=1).leader(2, GOALS.index("floor wetted")) == (3, 8)


def test_where_the_first_pair_reaches_all_no_other_is_run():
    asked, count = sought(2), len(MEASURES)

    def run(errands, _told):
        all_of_it = np.ones((1, len(GOALS)))
        return [
            Tried(np.repeat(all_of_it, len(one), 0), np.zeros((len(one), 1), np.uint8), np.ones(1))
            for _, one in errands
        ]

    found = race(asked, count, run, seed=1)
    assert len(found.of(2)) == 1
    assert found.run_count <= len(PLACES) * count + count


@pytest.mark.parametrize(("seen", "share"), [(4, 1.1 / 3.0), (8, 3.1 / 7.0), (16, 3.1 / 15.0), (32, 0.1)])
def test_the_worst_tenth_of_all_is_looked_for_among_the_wounds_seen(seen, share):
    # Of 32 wounds it lies a tenth of the way from the third to the fourth above the lowest: 2 to 5 are seen first.
    assert place_of_worst_tenth(32, seen) == pytest.approx(share)


@pytest.mark.parametrize("seed", range(5))
def test_of_layouts_that_are_enough_one_is_even_with_the_most_in_each_goal(seed):
    goals = np.random.default_rng(seed).uniform(0.4, 0.45, (8, 30, len(GOALS)))
    kept = enough(goals, 20, np.random.default_rng(1), 0.3)
    worst = worst_tenth(goals, 0.3)
    assert (worst[kept].max(axis=0) >= worst.max(axis=0) - EVEN_SHARE).all()
    assert len(kept) < 30


def test_places_run_together_are_told_as_they_run_together(pairs):
    asked, layouts, goals = pairs
    found = search(asked, MEASURES, seed=1)
    for layout in found.of(2):
        assert found.goal_share[layout] == pytest.approx(goals[:, layouts.index(layout)], abs=1e-12)


def test_the_same_seed_gives_the_same_answer_on_any_executor():
    asked = sought()
    here = search(asked, MEASURES, seed=3)
    with ThreadPoolExecutor(2) as two:
        there = search(asked, MEASURES, seed=3, executor=two)
    assert here.front == there.front
    assert all((here.goal_share[layout] == there.goal_share[layout]).all() for layout in here.goal_share)


def test_layouts_asked_for_are_run_whatever_they_do():
    asked = replace(sought(2), beside=(replace(PLACES[0], name="IA"),))
    always = [(len(PLACES),), (0,), (len(PLACES), 3)]
    found = search(asked, MEASURES, seed=1, always=always)
    assert all(found.goal_share[layout].shape == (len(MEASURES), 4) for layout in always)
    assert (len(PLACES),) not in found.of(1)


def test_units_with_different_fills_are_tried_both_ways_round():
    found = search(sought(2, fills=(30.0, 90.0), places=PLACES[::3]), MEASURES, seed=1)
    asked = sought(2, fills=(30.0, 90.0))
    poured = asked.filling((4, 7)).poured_ml
    assert [ml for _, ml in poured] == [30.0, 90.0]
    assert found.of(2)


def test_who_leads_is_told_from_the_first_wound_on_and_raising_stops():
    heard = []

    def told(standing):
        heard.append(standing)
        if standing.wound_count == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        search(sought(), MEASURES, seed=1, told=told)
    first = next(standing for standing in heard if standing.wound_count == 1)
    assert [goal for goal, _ in first.leaders] == list(GOALS)
    shares = [standing.share for standing in heard]
    assert shares == sorted(shares)


@pytest.mark.parametrize(("most", "places"), [(0, PLACES), (4, PLACES), (2, PLACES[:1])])
def test_a_number_of_ports_that_cannot_be_searched_is_refused(most, places):
    with pytest.raises(ValueError, match="can be searched"):
        sought(most, places=places)


def test_the_rule_is_the_highest_floor_and_on_a_level_bed_the_port_farthest_out():
    chosen = PLACES[rule_port(PLACES, SHEET, CAVITY, (parse_posture("right 60"),))]
    assert (chosen.clock, chosen.name.partition(", ")[2]) == (9.0, "deepest third")
    flat = build_cavity(SHEET, frame_of(WOUND, Assumptions(curvature="flat")), 1.0)
    level = PLACES[rule_port(PLACES, SHEET, flat, (parse_posture("right 90"),))]
    assert level.from_edge_cm == max(port.from_edge_cm for port in PLACES)


def test_the_front_holds_what_nothing_beats():
    worst = np.array([[0.9, 0.1], [0.1, 0.9], [0.1, 0.8], [0.5, 0.5], [0.5, 0.5]])
    assert front_of(worst).tolist() == [0, 1, 3, 4]


def test_within_half_a_point_the_other_goal_decides_who_leads():
    worst = np.array([[0.500, 0.2, 0.0, 0.0], [0.497, 0.6, 0.0, 0.0], [0.400, 0.9, 0.0, 0.0]])
    assert leader(worst, 0) == 1
    assert leader(worst, 1) == 2


def test_wounds_without_a_roof_do_not_count_for_it():
    goals = np.full((4, 1, 4), 0.5)
    goals[:2, :, 2:] = np.nan
    assert worst_tenth(goals).tolist() == [[0.5, 0.5, 0.5, 0.5]]
    goals[:, :, 2:] = np.nan
    assert worst_tenth(goals).tolist() == [[0.5, 0.5, 0.0, 0.0]]


def test_suction_sets_are_those_that_trying_every_set_finds():
    places = PLACES[::3]
    (one, two) = suction_sets(CAVITY, SHEET, [PLACES[2]], places, 2)
    for found in (one, two):
        every = [
            share_passed_over(CAVITY, SHEET, [PLACES[2]], [places[k] for k in chosen])
            for chosen in combinations(range(len(places)), len(found.place_index))
        ]
        assert found.passed_over_share == pytest.approx(min(every))
        assert max(every) > min(every) + 0.02
