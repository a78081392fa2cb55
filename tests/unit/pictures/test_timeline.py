"""The next 24 hours as a picture: hours, lanes and signs stand where their moments are."""

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
