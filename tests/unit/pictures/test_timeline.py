"""The next 24 hours as a picture: hours, lanes and signs stand where their moments are."""

import itertools
import re
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from soakline.pictures.timeline import describe_timeline, draw_timeline
from soakline.therapy.clock_table import Row, in_shifts
from soakline.workflows.answers import NextDay

OSLO = ZoneInfo("Europe/Oslo")


def day_from(begin, *rows):
    end = datetime.fromtimestamp(begin.timestamp() + 86400, OSLO)
    return NextDay(begin, end, in_shifts(rows, begin, end, (time(7), time(15), time(23))), (), ())


def texts(svg):
    """Give every written word with its place along the width."""
    found = re.findall(r'<text[^>]*?\bx="([\d.]+)"[^>]*>(.*?)</text>', svg)
    return [(float(x), re.sub("<[^>]*>", "", said)) for x, said in found]


def row(hour, what, says="", unit="A"):
    return Row(datetime(2026, 11, 20, 19, tzinfo=OSLO) + timedelta(hours=hour), None, unit, what, says)


NIGHT = day_from(datetime(2026, 11, 20, 19, tzinfo=OSLO), row(0, "fill"), row(1, "suction"), row(2, "canister"))


def test_the_description_counts_fills_and_changes_of_each_shift():
    assert describe_timeline(NIGHT).startswith("15:00 to 23:00: 1 fill, 1 canister change; 23:00 to 07:00: nothing")


def test_a_day_without_turns_says_so_in_the_picture():
    assert "no turns told" in draw_timeline(NIGHT, ["A"])


def test_every_unit_has_a_lane_with_its_letter_even_without_a_row():
    said = [words for _, words in texts(draw_timeline(NIGHT, ["A", "B"]))]
    assert {"Unit A", "Unit B", "Lying"} <= set(said)


def test_the_second_of_two_equal_hours_is_written_with_again_an_hour_after_the_first():
    said = texts(draw_timeline(day_from(datetime(2026, 10, 24, 19, tzinfo=OSLO)), ["A"]))
    first, second = (x for x, words in said if words == "02")
    an_hour = (960 - 80) / 24
    assert abs(second - first - an_hour) < 0.1
    assert [x for x, words in said if words == "again"] == [second]


def test_an_ordinary_night_repeats_no_hour():
    assert "again" not in [words for _, words in texts(draw_timeline(NIGHT, ["A"]))]


def test_labels_of_turns_close_together_do_not_lie_over_each_other():
    turns = [row(k / 2, "turn", "turn: left 30 (with the fill)", None) for k in range(48)]
    svg = draw_timeline(day_from(datetime(2026, 11, 20, 19, tzinfo=OSLO), *turns), ["A"])
    placed = re.findall(r'<text[^>]*?x="([\d.]+)" y="([\d.]+)"[^>]*>left 30</text>', svg)
    assert len(placed) > 24
    by_line = {}
    for x, y in placed:
        by_line.setdefault(y, []).append(float(x))
    gaps = [b - a for places in by_line.values() for a, b in itertools.pairwise(sorted(places))]
    assert min(gaps) > 7 * 13 * 0.5
    assert max(float(x) for x, _ in placed) + 7 * 13 * 0.56 <= 960
