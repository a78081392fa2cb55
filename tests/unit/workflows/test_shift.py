"""The order of turning: what soaks goes first, what is not allowed never comes in, nothing allowed falls out."""

from types import SimpleNamespace

from soakline.therapy.turns import Turning
from soakline.workflows.shift import in_order_of_soaking

ALLOWED = Turning(("supine", "left 30", "right 30"), 180.0)


def test_the_fewest_postures_that_soak_come_first_and_the_others_keep_their_order():
    ordered = in_order_of_soaking(ALLOWED, SimpleNamespace(for_both=("right 30",)))
    assert ordered.postures == ("right 30", "supine", "left 30")
    assert ordered.every_min == 180.0


def test_a_posture_that_is_not_allowed_never_comes_in():
    found = in_order_of_soaking(ALLOWED, SimpleNamespace(for_both=("prone", "left 30")))
    assert found.postures == ("left 30", "supine", "right 30")


def test_without_an_answer_the_order_stays_as_allowed():
    assert in_order_of_soaking(ALLOWED, None) == ALLOWED
