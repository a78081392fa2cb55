"""What a unit's entries give, and what is said against them."""

from dataclasses import fields, replace
from datetime import datetime

import pytest

from soakline.therapy.cycle import (
    Exudate,
    TherapyUnit,
    check_unit,
    check_units,
    cycles_per_day,
    period_min,
    solution_ml_per_day,
    work_cycle,
)
from soakline.units import Range

FULL = TherapyUnit(
    "A",
    solution="saline 0.9 %",
    fill_ml=60,
    ordered_fill_ml=60,
    fill_min=2,
    dwell_min=8,
    suction_min=170,
    pressure_mmhg=-125,
    canister_ml=1000,
    bag_ml=500,
    priming_ml=15,
    started_at=datetime(2026, 11, 20, 19),
)


def said(unit, level):
    return [(f.where, f.says) for f in check_unit(unit, "unit.0") if f.level == level]


def test_nothing_is_said_against_a_whole_unit():
    assert check_units([FULL, replace(FULL, name="B")], Exudate(Range(30, 50, 80))) == ()


@pytest.mark.parametrize("phase", ["fill_min", "dwell_min", "suction_min"])
def test_a_missing_phase_is_never_filled_in(phase):
    unit = replace(FULL, **{phase: None})
    assert (period_min(unit), cycles_per_day(unit), solution_ml_per_day(unit)) == (None, None, None)
    assert work_cycle(unit) == ()
    ((where, says),) = said(unit, "note")
    assert where == "unit.0"
    assert "not given" in says
    assert "no cycle without" in says


def test_a_missing_fill_is_not_taken_from_the_order():
    unit = replace(FULL, fill_ml=None)
    assert solution_ml_per_day(unit) is None
    assert said(unit, "note") == [("unit.0", "unit A: not given: fill; no solution a day without fill")]
    assert [row.what for row in work_cycle(unit)] == ["fill + dwell + suction", "cycles a day"]


@pytest.mark.parametrize(
    ("entry", "given", "allowed"),
    [
        ({"fill_ml": -60}, "−60 mL", "1 to 2,000 mL"),
        ({"fill_ml": 0}, "0 mL", "1 to 2,000 mL"),
        ({"fill_ml": 6000}, "6,000 mL", "1 to 2,000 mL"),
        ({"ordered_fill_ml": -1}, "−1 mL", "1 to 2,000 mL"),
        ({"fill_min": -2}, "−2 min", "0 to 240 min"),
        ({"dwell_min": 0}, "0 min", "above 0, up to 1,440 min"),
        ({"suction_min": 0}, "0 min", "above 0, up to 2,880 min"),
        ({"pressure_mmhg": 0}, "0 mmHg", "−300 to −1 mmHg"),
        ({"pressure_mmhg": -760}, "−760 mmHg", "−300 to −1 mmHg"),
        ({"canister_ml": 50_000}, "50,000 mL", "above 0, up to 5,000 mL"),
        ({"bag_ml": 0}, "0 mL", "above 0, up to 10,000 mL"),
        ({"priming_ml": -15}, "−15 mL", "0 to 500 mL"),
        ({"fill_ml": float("nan")}, "not a finite number", "1 to 2,000 mL"),
        ({"pressure_mmhg": float("inf")}, "not a finite number", "−300 to −1 mmHg"),
    ],
)
def test_an_impossible_entry_is_refused_with_what_was_given_and_what_is_allowed(entry, given, allowed):
    ((where, says),) = said(replace(FULL, **entry), "refuse")
    assert where == f"unit.0.{next(iter(entry))}"
    assert f": {given}; an entry is {allowed} (a bound on typing, not a clinical limit)" in says


def test_a_fill_time_of_nought_is_an_entry():
    assert said(replace(FULL, fill_min=0), "refuse") == []


def test_positive_pressure_is_refused_and_asks_about_the_sign():
    ((where, says),) = said(replace(FULL, pressure_mmhg=125), "refuse")
    assert where == "unit.0.pressure_mmhg"
    assert says.startswith("+125: suction is written with a minus sign; −125 mmHg?")


@pytest.mark.parametrize(
    ("fill_ml", "words"),
    [
        (20, "20 mL is one third of the ordered 60 mL: who agreed?"),
        (30, "30 mL is half of the ordered 60 mL: who agreed?"),
        (15, "15 mL is a quarter of the ordered 60 mL: who agreed?"),
        (120, "120 mL is 2 times the ordered 60 mL: who agreed?"),
        (600, "600 mL is 10 times the ordered 60 mL: who agreed?"),
        (50, "50 mL is 83 % of the ordered 60 mL: who agreed?"),
        (90, "90 mL is 150 % of the ordered 60 mL: who agreed?"),
        (60.1, "60.1 mL is 100.17 % of the ordered 60 mL: who agreed?"),
    ],
)
def test_a_fill_that_is_not_the_ordered_one_is_asked_about(fill_ml, words):
    assert said(replace(FULL, fill_ml=fill_ml), "ask") == [("unit.0.fill_ml", words)]


def test_a_refused_fill_is_not_compared_with_the_order():
    assert said(replace(FULL, fill_ml=-60), "ask") == []


def test_two_units_of_one_name_are_refused():
    findings = check_units([FULL, replace(FULL, name=" A ")], Exudate())
    assert [(f.level, f.where) for f in findings] == [("refuse", "unit.1.name")]
    assert "unit.0" in findings[0].says


def test_a_unit_needs_a_name():
    assert [f.where for f in check_units([replace(FULL, name=" ")], Exudate())] == ["unit.0.name"]


def test_priming_that_empties_the_bag_is_refused():
    assert [where for where, _ in said(replace(FULL, bag_ml=100, priming_ml=100), "refuse")] == ["unit.0.priming_ml"]


@pytest.mark.parametrize("rate", [-1, Range(-5, 20, 30), Range(5, 20, 3000), float("nan")])
def test_impossible_exudate_is_refused_under_its_key(rate):
    assert [f.where for f in check_units([], Exudate(rate))] == ["exudate.ml_per_h"]
    own = replace(FULL, exudate=Exudate(rate))
    assert [where for where, _ in said(own, "refuse")] == ["unit.0.exudate.ml_per_h"]


def test_the_sums_read_as_on_paper():
    unit = replace(FULL, fill_ml=50, fill_min=0, dwell_min=10, suction_min=210)
    assert [f"{row.what}: {row.working} = {row.result}" for row in work_cycle(unit)] == [
        "fill + dwell + suction: 0 + 10 + 210 = 220 min",
        "cycles a day: 1,440 ÷ 220 = 6.545 cycles",
        "solution a day: 6.545 × 50 = 327 mL a day",
    ]


def test_all_findings_come_at_once():
    unit = TherapyUnit("A", fill_ml=-60, dwell_min=0, pressure_mmhg=125)
    assert [where for where, _ in said(unit, "refuse")] == [
        "unit.0.fill_ml",
        "unit.0.dwell_min",
        "unit.0.pressure_mmhg",
    ]


@pytest.mark.parametrize("key", [f.name for f in fields(TherapyUnit) if f.name.endswith(("_ml", "_min", "_mmhg"))])
def test_no_number_of_a_unit_goes_unchecked(key):
    assert next(where for where, _ in said(replace(FULL, **{key: float("inf")}), "refuse")) == f"unit.0.{key}"
