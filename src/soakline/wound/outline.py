"""A traced edge as a ring of points: whether it holds together, how much it holds, and what lies inside."""

from __future__ import annotations

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.wound.measurements import Outline

LEAST_CM2 = 0.01


def ring_of(outline_cm: Outline) -> NDArray[float64]:
    """Return the points of a traced edge, shape (n, 2) in cm, once round: a point said twice running stands once.

    >>> len(ring_of(((0, 0), (4, 0), (4, 0), (4, 3), (0, 0))))
    3
    """
    points = [p for i, p in enumerate(outline_cm) if i == 0 or p != outline_cm[i - 1]]
    if len(points) > 1 and points[0] == points[-1]:
        points.pop()
    return np.array(points, dtype=float64).reshape(-1, 2)


def crosses_itself(ring_cm: NDArray[float64]) -> bool:
    """Return whether any two sides that are not neighbours meet; ``ring_cm`` is (n, 2) in cm.

    >>> crosses_itself(ring_of(((0, 0), (4, 3), (4, 0), (0, 3))))
    True
    """
    start, end, count = ring_cm, np.roll(ring_cm, -1, axis=0), len(ring_cm)
    i, j = np.triu_indices(count, k=2)
    apart = ~((i == 0) & (j == count - 1))
    i, j = i[apart], j[apart]
    # Two sides meet when the ends of each lie on both sides of the other, or on it.
    astride = (_turn(start[i], end[i], start[j]) * _turn(start[i], end[i], end[j]) <= 0) & (
        _turn(start[j], end[j], start[i]) * _turn(start[j], end[j], end[i]) <= 0
    )
    low, high = np.minimum(start, end), np.maximum(start, end)
    near = ((low[i] <= high[j]) & (low[j] <= high[i])).all(axis=1)
    return bool((astride & near).any())


def area_cm2(ring_cm: NDArray[float64]) -> float:
    """Return the area in cm² that a ring (n, 2) in cm goes round.

    >>> area_cm2(ring_of(((0, 0), (4, 0), (4, 3), (0, 3))))
    12.0
    """
    x, y = ring_cm.T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


def centre_cm(ring_cm: NDArray[float64]) -> NDArray[float64]:
    """Return the centre of area, shape (2,) in cm, of a ring (n, 2) in cm; (0, 0) where it holds no area.

    >>> centre_cm(ring_of(((0, 0), (4, 0), (4, 3), (0, 3)))).tolist()
    [2.0, 1.5]
    """
    if len(ring_cm) < 3 or area_cm2(ring_cm) < LEAST_CM2:
        return np.zeros(2)
    following = np.roll(ring_cm, -1, axis=0)
    cross = ring_cm[:, 0] * following[:, 1] - following[:, 0] * ring_cm[:, 1]
    return np.array(((ring_cm + following) * cross[:, None]).sum(axis=0) / (3 * cross.sum()))


def are_inside(points_cm: NDArray[float64], ring_cm: NDArray[float64]) -> NDArray[np.bool_]:
    """Return for each point (n, 2) in cm whether it lies within a ring (m, 2) in cm, by counting sides met towards 3.

    >>> are_inside(np.array([[1.0, 1.0], [5.0, 1.0]]), ring_of(((0, 0), (4, 0), (4, 3), (0, 3)))).tolist()
    [True, False]
    """
    start, end = ring_cm, np.roll(ring_cm, -1, axis=0)
    x, y = points_cm[:, :1], points_cm[:, 1:]
    spans = (start[:, 1] > y) != (end[:, 1] > y)
    rise = np.where(end[:, 1] == start[:, 1], 1.0, end[:, 1] - start[:, 1])
    met = start[:, 0] + (y - start[:, 1]) * (end[:, 0] - start[:, 0]) / rise
    return (spans & (x < met)).sum(axis=1) % 2 == 1


def _turn(a: NDArray[float64], b: NDArray[float64], c: NDArray[float64]) -> NDArray[float64]:
    return np.sign((b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0]))
