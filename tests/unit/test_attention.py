"""What in a case needs attention: the gravest first, and what is due by the clock."""

from datetime import UTC, datetime, timedelta

from soakline.faces.web.answers import Answered
from soakline.faces.web.attention import needs_of, urgency
from soakline.settings import Settings
from soakline.workflows.in_words import say_time
from soakline.workflows.plan import Asked, plan_text

TEXT = """
format = "soakline-case/1"
purpose = "teaching"
time_zone = "Europe/Oslo"
[[unit]]
name = "A"
fill_ml = 60
fill_min = 2
dwell_min = 8
suction_min = 170
pressure_mmhg = -125
canister_ml = 500
bag_ml = 500
priming_ml = 15
started_at = 2026-11-20T19:00:00
[exudate]
ml_per_h = { low = 15, likely = 25, high = 40 }
[[log]]
at = 2026-11-21T07:00:00
unit = "A"
kind = "canister"
ml = 300
colour = "COLOUR"
[[log]]
at = 2026-11-20T19:30:00
unit = "A"
kind = "canister"
ml = 0
colour = "clear"
"""


def needs(at, colour="clear"):
    plan = plan_text(TEXT.replace("COLOUR", colour), Settings.from_environment({}), Asked(models=()))
    return needs_of(Answered(None, plan, plan.findings), at)


def told(at):
    return [need.says for need in needs(at) if need.sign in {"due", "overdue"}]


def test_a_change_is_due_for_a_shift_before_the_moment_that_was_foretold_and_overdue_from_then_on():
    plan = plan_text(TEXT.replace("COLOUR", "clear"), Settings.from_environment({}), Asked(models=()))
    (unit,) = plan.therapy.units
    canister, bag = unit.canister.earliest, unit.bag.short_at
    assert canister < bag
    hour = timedelta(hours=1)
    assert told(canister - 8 * hour - hour / 60) == []
    (first,) = told(canister - hour)
    assert first.startswith("due: canister A")
    assert first.endswith(f"; by {say_time(canister)}")
    assert told(canister)[0] == f"overdue: canister A; since {say_time(canister)}"
    assert told(bag - hour / 60)[1] == f"due: bag A; by {say_time(bag)}"
    assert told(bag) == [f"overdue: canister A, bag A; since {say_time(canister)}"]


def test_a_grave_colour_stands_before_what_is_overdue():
    signs = [need.sign for need in needs(datetime(2026, 11, 24, 6, tzinfo=UTC), "green-brown")]
    assert signs[0] == "stop"
    assert signs.index("stop") < signs.index("overdue")


def test_cases_with_graver_needs_come_first():
    calm, due, grave = (
        needs(datetime(2026, 11, day, 6, tzinfo=UTC), colour)
        for day, colour in ((21, "clear"), (24, "clear"), (24, "green"))
    )
    assert urgency(grave) < urgency(due) < urgency(calm)
