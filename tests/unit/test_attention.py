"""What in a case needs attention: the gravest first, and what is due by the clock."""

from datetime import UTC, datetime

from soakline.faces.web.answers import Answered
from soakline.faces.web.attention import needs_of, urgency
from soakline.settings import Settings
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


def told(at, colour="clear"):
    return [need.says for need in needs(at, colour) if need.sign == "due"]


def test_a_change_is_due_from_the_moment_that_was_foretold_and_not_before():
    assert told(datetime(2026, 11, 21, 6, tzinfo=UTC)) == []
    (later,) = told(datetime(2026, 11, 24, 6, tzinfo=UTC))
    assert later.startswith("due: canister A, bag A; since ")


def test_a_grave_colour_stands_before_what_is_due():
    signs = [need.sign for need in needs(datetime(2026, 11, 24, 6, tzinfo=UTC), "green-brown")]
    assert signs[0] == "stop"
    assert signs.index("stop") < signs.index("due")


def test_cases_with_graver_needs_come_first():
    calm, due, grave = (
        needs(datetime(2026, 11, day, 6, tzinfo=UTC), colour)
        for day, colour in ((21, "clear"), (24, "clear"), (24, "green"))
    )
    assert urgency(grave) < urgency(due) < urgency(calm)
