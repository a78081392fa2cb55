"""What a log can get wrong is asked about by its key, and nothing of it is dropped."""

import pytest

from soakline.errors import InputRefused
from soakline.settings import Settings
from soakline.workflows.plan import Asked, plan_text

HEAD = """
format = "soakline-case/1"
label = "Log"
purpose = "teaching"
time_zone = "Europe/Oslo"
"""
UNIT = """
[[unit]]
name = "A"
fill_ml = 60
fill_min = 2
dwell_min = 8
suction_min = 170
canister_ml = 500
bag_ml = 500
priming_ml = 15
started_at = 2026-10-24T19:00:00
"""


def entry(at, kind, more="", unit="A"):
    return f'[[log]]\nat = {at}\nkind = "{kind}"\nunit = "{unit}"\n{more}\n'


def plan(*entries, head=HEAD):
    return plan_text(head + UNIT + "".join(entries), Settings.from_environment({}), Asked(models=()))


def asked(found, where):
    return [f.says for f in found.findings if f.level == "ask" and f.where == where]


FILLS = entry("2026-10-25T19:00:00", "instilled", "ml = 480")


def test_times_out_of_order_are_asked_about_and_counted_in_the_order_of_the_times():
    found = plan(
        entry("2026-10-25T19:00:00", "canister", "ml = 400"), entry("2026-10-25T07:00:00", "canister", "ml = 200")
    )
    assert "log.0" in asked(found, "log.1.at")[0]
    assert asked(found, "log.1.ml") == []
    assert found.balance[-1].returned_ml == 400


def test_a_reading_that_falls_without_a_change_is_asked_about_and_leaves_no_balance_until_answered():
    log = (
        FILLS,
        entry("2026-10-25T07:00:00", "canister", "ml = 300"),
        entry("2026-10-25T19:00:00", "canister", "ml = 120"),
    )
    found = plan(*log)
    assert "120 mL read after 300 mL without a change" in asked(found, "log.2.ml")[0]
    assert found.balance[-1].net_ml is None
    answered = plan(*log, head=f'{HEAD}confirmed = ["log.2.ml"]\n')
    assert asked(answered, "log.2.ml") == []
    assert answered.balance[-1].net_ml == 120 - 480


def test_two_units_with_one_letter_are_refused_by_name():
    with pytest.raises(InputRefused) as refused:
        plan(UNIT)
    assert any(f.level == "refuse" and f.where.startswith("unit") and '"A"' in f.says for f in refused.value.findings)


def test_a_pause_without_an_end_is_asked_about_and_no_later_fill_is_told():
    found = plan(entry("2026-10-25T10:30:00", "pause"))
    assert "no end is written" in asked(found, "log.0.until")[0]
    assert not [r for s in found.therapy.next_day.shifts for r in s.rows if r.what == "fill"]


def test_a_canister_above_its_size_is_asked_about_and_leaves_no_balance_until_answered():
    found = plan(FILLS, entry("2026-10-25T19:00:00", "canister", "ml = 640"))
    assert "640 mL read on a canister of 500 mL" in asked(found, "log.1.ml")[0]
    assert found.balance[-1].net_ml is None


def test_an_hour_that_comes_twice_is_asked_about_and_again_answers_it():
    found = plan(entry("2026-10-25T02:30:00", "canister", "ml = 100"))
    assert "comes twice" in asked(found, "log.0.at")[0]
    told = plan(entry("2026-10-25T02:30:00", "canister", "ml = 100\nagain = true"))
    assert asked(told, "log.0.at") == []
    assert (told.therapy.next_day.begins - found.therapy.next_day.begins).total_seconds() == 0
    assert (told.therapy.next_day.begins.fold, found.therapy.next_day.begins.fold) == (1, 0)


def test_a_kind_that_is_not_known_is_asked_about_with_the_nearest():
    assert "was canister meant?" in asked(plan(entry("2026-10-25T07:00:00", "cannister", "ml = 100")), "log.0.kind")[0]


def test_a_letter_that_is_no_unit_is_asked_about_and_still_counts_for_the_wound():
    log = (
        FILLS,
        entry("2026-10-25T07:00:00", "returned", "ml = 50", unit="C"),
        entry("2026-10-25T19:00:00", "returned", "ml = 600", unit="C"),
    )
    found = plan(*log)
    assert '"C" is no unit of this case' in asked(found, "log.1.unit")[0]
    assert sum(day.returned_ml for day in found.balance) == 650


def test_the_first_and_the_second_02_30_of_a_night_are_counted_in_the_order_they_came():
    # 02:50 the first time lies before 02:10 the second time, whatever the clock on the wall reads.
    found = plan(
        entry("2026-10-25T02:50:00", "canister", "ml = 100\nagain = false"),
        entry("2026-10-25T02:10:00", "canister", "ml = 130\nagain = true"),
    )
    assert [f.where for f in found.findings if f.level == "ask"] == []
    assert found.therapy.next_day.begins.fold == 1
