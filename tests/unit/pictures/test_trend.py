"""The size over time is drawn where it is known, each value at its moment and on its scale."""

import re
from datetime import UTC, datetime, timedelta

from soakline.pictures.trend import Measuring, draw_trend
from soakline.units import Extremes, Range

DAY = datetime(2026, 10, 3, tzinfo=UTC)


def measured(*areas_cm2: float | None) -> list[Measuring]:
    return [
        Measuring(DAY + timedelta(days=number), area, area, None if area is None else Range(area, 2 * area, 3 * area))
        for number, area in enumerate(areas_cm2)
    ]


def centres(svg: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)"', svg)]


def test_what_shrinks_goes_down_and_what_comes_later_stands_further_right():
    dots = centres(draw_trend(measured(30, 20, 10)))
    opening, volume = dots[:3], dots[3:]
    for line in (opening, volume):
        assert [x for x, _ in line] == sorted({x for x, _ in line})
        assert [y for _, y in line] == sorted({y for _, y in line})
    assert opening[1][0] - opening[0][0] == opening[2][0] - opening[1][0]


def test_what_is_not_known_is_not_drawn():
    assert len(centres(draw_trend(measured(30, None, 10)))) == 4


def test_extremes_have_a_bar_and_no_middle():
    svg = draw_trend([*measured(30), Measuring(DAY + timedelta(days=1), 20, 20, Extremes(5, 60))])
    assert svg.count('stroke-width="6"') == 2
    assert len(centres(svg)) == 3
