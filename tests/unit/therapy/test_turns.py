"""Turning with the fills: never longer in one posture than the order allows."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from soakline.therapy.turns import Fill, Lain, Turning, longest_min, plan_turns, soaked_min

START = datetime(2026, 11, 20, 19, tzinfo=ZoneInfo("Europe/Oslo"))
END = START + timedelta(hours=24)
FILLS = [Fill("A", START + timedelta(hours=3 * k), 10.0) for k in range(8)]


def test_without_how_often_no_turn_is_made_up():
    assert plan_turns(Turning(("supine", "left 30"), None), FILLS, START, END) is None


def test_a_posture_that_is_not_allowed_is_never_lain_in_even_where_it_is_lain_in_now():
    plan = plan_turns(Turning(("supine", "left 30"), 120.0, "prone", START), FILLS, START, END)
    assert {turn.posture for turn in plan.turns} | {soak.posture for soak in plan.soaks} == {"supine", "left 30"}


def test_where_no_fill_is_near_enough_pressure_relief_falls_due_by_itself():
    plan = plan_turns(Turning(("supine", "left 30"), 120.0), FILLS, START, END)
    assert any(turn.relief for turn in plan.turns)
    assert longest_min(plan, START, END) <= 120


@pytest.mark.parametrize("every", [60.0, 120.0, 200.0, 240.0])
def test_every_fill_is_soaked_in_some_posture(every):
    plan = plan_turns(Turning(("supine", "left 30", "right 30"), every), FILLS, START, END)
    assert [soak.at for soak in plan.soaks] == [fill.at for fill in FILLS]


def test_minutes_soaked_add_up_over_the_soaks_by_hand():
    soaks = [Lain("A", START, "supine", 10.0), Lain("A", START, "left 30", 10.0), Lain("A", START, "supine", 10.0)]
    share = {("A", "supine"): np.array([1.0, 0.5, 0.0]), ("A", "left 30"): np.array([0.0, 1.0, 0.0])}
    # first patch: 10 + 0 + 10; second: 5 + 10 + 5; third: never
    assert soaked_min(soaks, share).tolist() == [20, 20, 0]


def test_a_soak_whose_reach_is_not_known_leaves_the_minutes_unknown():
    assert soaked_min([Lain("B", START, "supine", 10.0)], {("A", "supine"): np.ones(1)}) is None
