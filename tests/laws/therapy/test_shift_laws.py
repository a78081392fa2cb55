"""What holds for any log and any order of turning: times, letters and split readings change nothing; mass adds up."""

from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given, settings
from hypothesis import strategies as st

from soakline.therapy.balance import Bounds, balances
from soakline.therapy.clock import elapsed_min
from soakline.therapy.cycle import TherapyUnit
from soakline.therapy.in_step import in_step
from soakline.therapy.logbook import LogEntry, read_log
from soakline.therapy.off_time import off_time
from soakline.therapy.rhythm import rhythm_of
from soakline.therapy.turns import Fill, Turning, longest_min, plan_turns

START = datetime(2026, 5, 4, 8)
UTC = ZoneInfo("UTC")
BOUNDS = Bounds(50.0, 232.0, 25.0)
UNITS = st.lists(
    st.builds(
        TherapyUnit,
        name=st.just("?"),
        fill_ml=st.integers(10, 200),
        fill_min=st.integers(0, 5),
        dwell_min=st.integers(1, 30),
        suction_min=st.integers(30, 300),
        canister_ml=st.just(1000),
        started_at=st.integers(0, 180).map(lambda minute: START + timedelta(minutes=minute)),
    ),
    min_size=1,
    max_size=4,
).map(lambda units: [replace(unit, name="ABCD"[k]) for k, unit in enumerate(units)])


@st.composite
def logs(draw):
    """Units with instilled and returned amounts and pauses, each at its minute after every start."""
    units = draw(UNITS)
    entries = []
    for unit in units:
        minutes = draw(st.lists(st.integers(181, 4 * 1440), min_size=1, max_size=8, unique=True).map(sorted))
        for minute in minutes:
            at = START + timedelta(minutes=minute)
            kind = draw(st.sampled_from(["instilled", "returned", "returned", "pause"]))
            if kind == "pause":
                entries.append(LogEntry(at, kind, unit.name, until=at + timedelta(minutes=draw(st.integers(1, 90)))))
            else:
                entries.append(LogEntry(at, kind, unit.name, draw(st.integers(1, 900))))
    return units, entries


def told(units, entries):
    """Give every figure of the balance, of the units in step and of the time off, without any moment."""
    book = read_log(entries, units, "UTC")
    days, asked = balances(book, units, "UTC", BOUNDS, frozenset())
    figures = [
        (d.hours_h, d.instilled_ml, d.returned_ml, d.net_ml, d.expected_ml, d.unexplained_ml, d.cannot_be_inside_ml)
        for d in days
    ]
    rhythms = [rhythm_of(unit, "UTC", book) for unit in sorted(units, key=lambda unit: unit.name)]
    met = in_step(rhythms)
    step = met and (met.names, met.first_day_overlap_min, met.next_overlap_min, met.coincide_every_min)
    off = {u.name: found and (found.most_min, found.last_day_min) for u in units for found in [off_time(book, u, None)]}
    return figures, len(asked), step, off


@settings(max_examples=40)
@given(logs(), st.integers(-500, 500), st.integers(0, 1439))
def test_shifting_all_times_changes_nothing_but_times(case, days, minutes):
    units, entries = case
    by = timedelta(days=days, minutes=minutes)
    moved = [replace(unit, started_at=unit.started_at + by) for unit in units]
    later = [replace(e, at=e.at + by, until=None if e.until is None else e.until + by) for e in entries]
    assert told(moved, later) == told(units, entries)


@settings(max_examples=40)
@given(logs(), st.randoms(use_true_random=False))
def test_the_order_of_the_units_changes_nothing(case, random):
    units, entries = case
    shuffled = list(units)
    random.shuffle(shuffled)
    assert told(shuffled, entries) == told(units, entries)


@settings(max_examples=40)
@given(logs(), st.data())
def test_splitting_an_amount_in_two_changes_nothing(case, data):
    units, entries = case
    amounts = [k for k, entry in enumerate(entries) if entry.kind == "returned" and entry.ml > 1]
    if not amounts:
        return
    k = data.draw(st.sampled_from(amounts))
    part = data.draw(st.integers(1, int(entries[k].ml) - 1))
    halves = [replace(entries[k], ml=part), replace(entries[k], ml=entries[k].ml - part)]
    split = [*entries[:k], *halves, *entries[k + 1 :]]
    assert told(units, split) == told(units, entries)


@given(st.lists(st.integers(1, 300), min_size=1, max_size=12), st.data())
def test_a_mark_read_on_the_way_changes_nothing(gains, data):
    # A canister's mark is counted from its last change: one more reading inside a day adds nothing.
    unit = TherapyUnit("A", fill_ml=60, fill_min=2, dwell_min=8, suction_min=170, started_at=START)
    entries, level = [LogEntry(START + timedelta(hours=20), "instilled", "A", 480)], 0
    for hour, gained in enumerate(gains, 1):
        level += gained
        entries.append(LogEntry(START + timedelta(hours=hour), "canister", "A", level))
    close = LogEntry(START + timedelta(hours=24), "canister", "A", level)
    k = data.draw(st.integers(1, len(gains)))
    without = [*entries[:k], *entries[k + 1 :], close]
    assert told([unit], without) == told([unit], [*entries, close])


@settings(max_examples=40)
@given(logs())
def test_mass_adds_up_over_the_days(case):
    units, entries = case
    book = read_log(entries, units, "UTC")
    days, _ = balances(book, units, "UTC", BOUNDS, frozenset())
    back = sum(entry.ml for entry in entries if entry.kind == "returned")
    # Each unit's charted fills count up to its own last reading; what comes after it is of a day that is not closed.
    last = {
        unit.name: max((e.at for e in entries if e.unit == unit.name and e.kind == "returned"), default=None)
        for unit in units
    }
    assert sum(day.returned_ml or 0 for day in days) == back
    for day in days:
        if day.net_ml is not None:
            assert day.net_ml == day.returned_ml - day.instilled_ml
    went_in = sum(e.ml for e in entries if e.kind == "instilled" and last[e.unit] is not None and e.at <= last[e.unit])
    assert sum(day.instilled_ml or 0 for day in days) >= went_in


@given(
    st.lists(st.sampled_from(["supine", "left 30", "right 30", "prone"]), min_size=2, max_size=4, unique=True),
    st.integers(15, 600),
    st.lists(st.tuples(st.sampled_from("ABC"), st.integers(0, 1439), st.integers(1, 60)), max_size=40),
    st.integers(0, 900),
)
def test_no_posture_is_held_longer_than_the_order_allows_and_no_other_is_ever_lain_in(order, every, fills, before):
    begin = START.replace(tzinfo=UTC)
    end = begin + timedelta(hours=24)
    given_fills = [
        Fill(unit, begin + timedelta(minutes=at), dwell) for unit, at, dwell in sorted(fills, key=lambda f: f[1])
    ]
    since = begin - timedelta(minutes=before)
    plan = plan_turns(Turning(tuple(order), float(every), order[0], since), given_fills, begin, end)
    assert longest_min(plan, begin, end) <= every
    if plan.turns:
        assert elapsed_min(since, plan.turns[0].at) <= max(every, before)
    assert {turn.posture for turn in plan.turns} | {soak.posture for soak in plan.soaks} <= set(order)
    assert [(soak.unit, soak.at) for soak in plan.soaks] == [(fill.unit, fill.at) for fill in given_fills]
