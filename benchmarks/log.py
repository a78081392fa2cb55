"""A log of 14 days, three units and 400 entries: its balance beside a plain twin, outputs compared before the clock."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from time import process_time

import numpy as np

from soakline.settings import Settings
from soakline.therapy.balance import Bounds, DayBalance, balances
from soakline.therapy.cycle import Exudate, TherapyUnit
from soakline.therapy.logbook import LogEntry, read_log
from soakline.therapy.turns import Turning
from soakline.units import Range
from soakline.workflows.running import run_units
from soakline.workflows.shift import Running, balance_of, keep_in_step, next_day, with_shift

START = datetime(2026, 11, 1, 7)  # noqa: DTZ001 - as charted, in the zone of the case
DAYS, ENTRIES_COUNT, ROUNDS = 14, 400, 15
UNITS = tuple(
    TherapyUnit(name, 60, fill_min=2, dwell_min=dwell, suction_min=suction, canister_ml=1000, bag_ml=1000,
                priming_ml=15, started_at=START)
    for name, dwell, suction in (("A", 8, 170), ("B", 10, 178), ("C", 10, 188))
)  # fmt: skip
EXUDATE = Exudate(Range(30.0, 60.0, 90.0))
BOUNDS = Bounds(50.0, 232.0, EXUDATE.ml_per_h)


def main() -> None:
    """Print the smallest process time of the whole answer, of the balance alone and of the twin, in ms."""
    entries = invented_log()
    book = read_log(entries, UNITS, "Europe/Oslo")
    days, _ = balances(book, UNITS, "Europe/Oslo", BOUNDS, frozenset())
    compare(days, plain_twin(entries))
    settings = Settings.from_environment({})
    whole = fastest_ms(lambda: answer(entries, settings))
    alone = fastest_ms(lambda: balances(book, UNITS, "Europe/Oslo", BOUNDS, frozenset()))
    twin = fastest_ms(lambda: plain_twin(entries))
    print(f"{len(entries)} entries, {len(days)} days: whole {whole:.1f} ms, balance {alone:.1f} ms, twin {twin:.1f} ms")


def invented_log() -> list[LogEntry]:
    """Return about 400 entries: a chart of fills and a mark for each unit every few hours, pauses, changes of 24 h."""
    rng = np.random.default_rng(20_261_101)
    level = {unit.name: 0.0 for unit in UNITS}
    rows: list[LogEntry] = []
    shifts = DAYS * 4
    for number in range(1, shifts + 1):
        at = START + timedelta(hours=6 * number)
        for unit in UNITS:
            rows.append(LogEntry(at, "instilled", unit.name, 120.0))
            level[unit.name] += 120.0 + float(rng.integers(60, 180))
            is_change = number % 2 == 0
            rows.append(LogEntry(at, "canister changed" if is_change else "canister", unit.name, level[unit.name]))
            if is_change:
                level[unit.name] = 0.0
    for number in range(ENTRIES_COUNT - len(rows)):
        at = START + timedelta(hours=5 * number + 2)
        rows.append(LogEntry(at, "pause", UNITS[number % 3].name, until=at + timedelta(minutes=20)))
    return sorted(rows, key=lambda row: row.at)


def answer(entries: list[LogEntry], settings: Settings) -> object:
    """Return everything a case page asks of the log: windows, next day, in step, off time and balance."""
    book = read_log(entries, UNITS, "Europe/Oslo")
    running = Running(UNITS, book, "Europe/Oslo", Turning(("supine", "left 30"), 120.0), ())
    therapy = run_units(UNITS, EXUDATE, "Europe/Oslo", settings.canister_share, book)
    if therapy is None:
        raise SystemExit(1)
    day = next_day(running, therapy.units, settings)
    told = with_shift(therapy, running, keep_in_step(running, None, None), day, settings)
    return told, balance_of(running, BOUNDS.void_high_ml, settings, EXUDATE.ml_per_h, frozenset())


def plain_twin(entries: list[LogEntry]) -> list[tuple[float, float]]:
    """Return instilled and returned mL of each 24 h by plain sums over the entries, without any of the program."""
    found = [[0.0, 0.0] for _ in range(DAYS)]
    before = {unit.name: 0.0 for unit in UNITS}
    for entry in entries:
        day = int(((entry.at - START).total_seconds() - 1) // 86400)
        if entry.kind == "instilled":
            found[day][0] += entry.ml or 0.0
        elif entry.kind.startswith("canister") and entry.unit:
            found[day][1] += (entry.ml or 0.0) - before[entry.unit]
            before[entry.unit] = 0.0 if entry.kind == "canister changed" else entry.ml or 0.0
    return [(went_in, back) for went_in, back in found]


def compare(days: tuple[DayBalance, ...], twin: list[tuple[float, float]]) -> None:
    """Stop with the first day on which the two disagree."""
    if [(day.instilled_ml, day.returned_ml) for day in days] != twin:
        print(f"they disagree: {[(d.day, d.instilled_ml, d.returned_ml) for d in days]} against {twin}")
        raise SystemExit(1)


def fastest_ms(work: Callable[[], object]) -> float:
    """Return the smallest process time of some rounds in ms."""
    times: list[float] = []
    for _ in range(ROUNDS):
        begin = process_time()
        work()
        times.append(1e3 * (process_time() - begin))
    return min(times)


if __name__ == "__main__":
    main()
