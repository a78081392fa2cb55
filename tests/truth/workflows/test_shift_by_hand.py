"""From a case file to the plan, by hand: ``worked.night``, ``worked.drift``, ``worked.balance``."""

from datetime import datetime
from zoneinfo import ZoneInfo

from soakline.settings import Settings
from soakline.workflows.plan import Asked, plan_text

OSLO = ZoneInfo("Europe/Oslo")
HEAD = """
format = "soakline-case/1"
label = "By hand"
purpose = "teaching"
time_zone = "Europe/Oslo"
"""
# The wound of ``worked.small_opening``. Its largest corner: opening 6.5 cm across, 2.3 deep, reach 4.5, height 2.0:
# π·3.25²·2.3 + ½·π(7.75² − 3.25²)·2.0 = 76.3 + 155.5 = 231.9, which is 232 mL; 470 − 232 = 238, rounded down 235.
WOUND = """
[wound]
face = "front"
part = "trunk"
[wound.opening]
length_cm = 6
width_cm = 6
depth_cm = 2
[[wound.undermining]]
from = 12
to = 6
reach_cm = 4
height_cm = { low = 1.0, likely = 1.5, high = 2.0 }
[model]
curvature = "flat"
"""


def unit(name, dwell_min=8, suction_min=170, canister_ml=1000, start="2026-11-20T19:00:00"):
    return f"""
[[unit]]
name = "{name}"
fill_ml = 60
fill_min = 2
dwell_min = {dwell_min}
suction_min = {suction_min}
canister_ml = {canister_ml}
bag_ml = 500
priming_ml = 15
started_at = {start}
"""


def entry(at, kind, **more):
    rest = "".join(f"{key} = {value}\n" for key, value in more.items())
    return f'[[log]]\nat = {at}\nkind = "{kind}"\n{rest}'


EXUDATE = "[exudate]\nml_per_h = { low = 30, likely = 50, high = 80 }\n"
NIGHT = HEAD + EXUDATE + unit("A") + unit("B", canister_ml=500)
DRIFT = HEAD + unit("A", start="2026-11-20T08:00:00") + unit("B", 10, 178, start="2026-11-20T08:00:00")


def planned(text):
    return plan_text(text, Settings.from_environment({}), Asked(models=()))


def local(day, hour, minute=0):
    return datetime(2026, 11, day, hour, minute, tzinfo=OSLO)


def window(name, text=NIGHT):
    found = next(u.canister for u in planned(text).therapy.units if u.name == name)
    return found.earliest, found.due, found.latest


def test_the_canisters_of_the_night_are_due_to_the_minute():
    assert window("B") == (local(21, 1, 45), local(21, 4, 10), local(21, 7, 10))
    assert window("A") == (local(21, 10), local(21, 14, 12), local(21, 19, 10))


def test_a_planted_even_rate_for_the_canister_fails():
    # 450 mL at 25 mL/h and 60 mL in 3 h, spread evenly: 10 h after 19:00.
    assert window("B")[1] != local(21, 5)


def test_the_bag_is_short_by_55_ml_at_the_ninth_cycle_and_the_next_day_says_so():
    text = NIGHT + entry("2026-11-20T19:30:00", "note")
    therapy = planned(text).therapy
    bag = therapy.units[0].bag
    assert (bag.whole_cycles, bag.short_at, bag.short_ml) == (8, local(21, 19), 55)
    rows = [row for shift in therapy.next_day.shifts for row in shift.rows if row.what == "bag" and row.unit == "A"]
    assert [(row.at, "55 mL short" in row.says) for row in rows] == [(local(21, 19), True)]


def test_what_fits_through_the_night_is_said_with_the_short_cycle_and_its_ml():
    # 485 mL: 8 cycles; the ninth, 24 h on, lies just past the day. B, at 40 mL/h, is due 01:45; A 10:00.
    says = planned(NIGHT).therapy.next_day.says
    assert "unit A: the bag lasts through these 24 h; short on cycle 9 by 55 mL, 19:00 on 21 Nov" in says
    assert "unit B: the canister does not surely last these 24 h; change it by 01:45 on 21 Nov" in says
    later = planned(NIGHT + entry("2026-11-20T19:30:00", "note")).therapy.next_day.says
    assert "unit A: the bag hung at 19:00 on 20 Nov is short on cycle 9 by 55 mL, 19:00 on 21 Nov" in later


def hang_rows(text, **settings):
    found = plan_text(text, Settings.from_environment(settings), Asked(models=())).therapy.next_day
    return [r for s in found.shifts for r in s.rows if r.what == "hang time" and r.unit == "A"], found.says


def test_the_hang_time_runs_from_the_bag_in_elapsed_time_and_is_told_only_where_the_site_set_one():
    rows, says = hang_rows(NIGHT)
    assert rows == []
    assert any("no hang time told" in said for said in says)
    text = NIGHT.replace("2026-11-20T19", "2026-10-24T19")
    rows, _ = hang_rows(text, SOAKLINE_HANG_TIME_H="12")
    # 12 h after 19:00 on the night the clocks go back reads 06:00, not 07:00.
    assert [f"{row.at:%d %H:%M}" for row in rows] == ["25 06:00"]


def test_solution_is_fetched_so_long_before_each_bag_as_the_site_says_and_only_then():
    later = NIGHT + entry("2026-11-20T19:30:00", "note")
    day = plan_text(later, Settings.from_environment({}), Asked(models=())).therapy.next_day
    assert not [r for s in day.shifts for r in s.rows if r.what == "fetch solution"]
    assert any("no temperature of the solution told" in said for said in day.says)
    site = Settings.from_environment({"SOAKLINE_SOLUTION_C": "36", "SOAKLINE_WARM_MIN": "45"})
    day = plan_text(later, site, Asked(models=())).therapy.next_day
    rows = [r for s in day.shifts for r in s.rows if r.what == "fetch solution" and r.unit == "A"]
    # The bag is short at 19:00 on 21 November; 45 minutes before it is 18:15.
    assert [f"{row.at:%d %H:%M}" for row in rows] == ["21 18:15"]
    assert rows[0].says == "fetch the next bag: 45 min before it hangs, to hang at 36 °C, by site policy"
    assert any("solution at 36 °C" in said for said in day.says)


def test_a_planted_bag_that_needs_no_priming_fails():
    bag = planned(NIGHT.replace("priming_ml = 15", "priming_ml = 0")).therapy.units[0].bag
    assert (bag.whole_cycles, bag.short_ml) == (8, 40)


def test_fills_of_the_next_day_stand_every_three_hours_shift_by_shift():
    shifts = planned(NIGHT).therapy.next_day.shifts
    fills = [[f"{r.at:%H:%M}" for r in s.rows if r.what == "fill" and r.unit == "A"] for s in shifts]
    assert [s.is_night for s in shifts] == [False, True, False, False]
    assert fills == [["19:00", "22:00"], ["01:00", "04:00"], ["07:00", "10:00", "13:00"], ["16:00"]]


def test_on_the_night_the_clocks_go_back_the_fourth_fill_reads_03_00_nine_hours_on():
    text = NIGHT.replace("2026-11-20T19", "2026-10-24T19")
    rows = [r for s in planned(text).therapy.next_day.shifts for r in s.rows if r.what == "fill" and r.unit == "A"]
    read = [(f"{row.at:%H:%M}", row.at.fold, row.elapsed_min) for row in rows[:5]]
    assert read == [("19:00", 0, 0), ("22:00", 0, 180), ("01:00", 0, 360), ("03:00", 0, 540), ("06:00", 0, 720)]


def test_units_of_180_and_190_min_meet_as_worked_by_hand():
    # 57 h is the least common multiple, 3,420 min; before it fill and dwell overlap by 2 min from 3,240 min.
    met = planned(DRIFT).therapy.in_step
    assert (met.first_day_overlap_min, met.first_day_dwell_min) == (10, 8)
    assert (met.next_overlap_min, met.next_overlap_lasts_min, met.coincide_every_min) == (54 * 60, 2, 57 * 60)


def test_a_planted_product_of_the_periods_fails():
    assert planned(DRIFT).therapy.in_step.coincide_every_min != 180 * 190


def test_a_pause_of_25_min_for_a_scan_parts_equal_units_until_both_are_restarted():
    equal = HEAD + unit("A") + unit("B")
    paused = equal + entry("2026-11-21T10:00:00", "pause", unit='"A"', until="2026-11-21T10:25:00")
    anew = "".join(entry("2026-11-21T12:00:00", "restart", unit=f'"{name}"') for name in "AB")
    assert planned(equal).therapy.in_step.coincide_every_min == 180
    assert planned(paused).therapy.in_step.coincide_every_min is None
    assert planned(paused + anew).therapy.in_step.coincide_every_min == 180


def balance(back_ml, colour=None):
    said = {} if colour is None else {"colour": f'"{colour}"'}
    log = "".join(
        entry(f"2026-11-{20 + day}T19:00:00", "instilled", unit='"A"', ml=480)
        + entry(f"2026-11-{20 + day}T19:00:00", "returned", unit='"A"', ml=ml, **(said if day == 3 else {}))
        for day, ml in ((1, 480 + 560), (2, 480 + 640), (3, back_ml))
    )
    days = planned(HEAD + WOUND + unit("A") + log).balance
    assert [day.net_ml for day in days[:2]] == [560, 640]
    return days[2]


def test_1650_ml_brown_green_against_1080_leaves_570_and_colour_speaks_first():
    day = balance(1650, "brown-green")
    assert (day.expected_ml, day.net_ml, day.unexplained_ml) == (1080, 1170, 570)
    assert "stop and call the surgeon" in day.says.split(".")[0]


def test_of_470_ml_missing_at_least_235_cannot_be_inside():
    day = balance(610)
    assert (day.unexplained_ml, day.cannot_be_inside_ml) == (-470, 235)
    assert "At least 235 mL cannot be inside" in day.says
    assert {"leak", "blocked branch", "a canister not charted"} <= set(day.causes)


def test_1130_ml_is_inside_the_reading_error():
    day = balance(1130)
    assert (day.unexplained_ml, day.causes, day.stop) == (50, (), ())
    assert "nothing stands out" in day.says


def test_a_planted_95_per_cent_void_in_place_of_the_largest_fails():
    # The 5–95 % range ends at about 190 mL: it would claim 280 mL that cannot be inside.
    plan = planned(HEAD + WOUND)
    assert balance(610).cannot_be_inside_ml + 30 < 470 - plan.wound.void_ml.high
