"""Even draws: scrambled Sobol points, which fill a range more evenly than chance does."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy import float64, int64
from numpy.typing import NDArray

# Primitive polynomials, as bits, and the first direction numbers (source key ``sampling.sobol``); one row per axis.
_AXES: tuple[tuple[int, tuple[int, ...]], ...] = (
    (0b1, ()),
    (0b11, (1,)),
    (0b111, (1, 3)),
    (0b1011, (1, 3, 1)),
    (0b1101, (1, 1, 1)),
    (0b10011, (1, 1, 3, 3)),
    (0b11001, (1, 3, 5, 13)),
    (0b100101, (1, 1, 5, 5, 17)),
    (0b101001, (1, 1, 5, 5, 5)),
    (0b101111, (1, 1, 7, 11, 19)),
)
MOST_AXES_COUNT = len(_AXES)
_BITS = 30
_POWERS: NDArray[int64] = 1 << np.arange(_BITS - 1, -1, -1, dtype=np.int64)


def sobol_shares(points_count: int, axes_count: int, rng: np.random.Generator) -> NDArray[float64]:
    """Return ``points_count`` (a power of two) scrambled Sobol points, shares 0–1, shape (points, axes).

    The general library's generator gives the same points for the same ``rng``, but takes longer to load than a whole
    answer takes to work out. Raises ValueError for more axes than ``MOST_AXES_COUNT``. Source key ``sampling.sobol``.

    >>> sobol_shares(4, 1, np.random.default_rng(1)).round(2).ravel().tolist()
    [0.29, 0.9, 0.53, 0.16]
    """
    if axes_count > MOST_AXES_COUNT:
        msg = f"{axes_count} axes asked for; at most {MOST_AXES_COUNT} are known"
        raise ValueError(msg)
    own = rng.spawn(1)[0]
    shift = own.integers(2, size=(axes_count, _BITS), dtype=np.uint32).astype(np.int64) @ _POWERS[::-1]
    mixing = np.tril(own.integers(2, size=(axes_count, _BITS, _BITS), dtype=np.uint32).astype(np.int64), -1)
    directions = np.array([_directions(*axis) for axis in _AXES[:axes_count]], dtype=np.int64).reshape(-1, _BITS)
    return _points(points_count, shift, _mixed(directions, mixing)) / 2.0**_BITS


def _directions(polynomial: int, first: tuple[int, ...]) -> list[int]:
    """Continue the direction numbers by the polynomial's recurrence, each shifted to its place."""
    degree = len(first)
    numbers = list(first) or [1] * _BITS
    for j in range(len(numbers), _BITS):
        number = numbers[j - degree] ^ numbers[j - degree] << degree
        for k in range(1, degree):
            number ^= (polynomial >> degree - k & 1) * numbers[j - k] << k
        numbers.append(number)
    return [number << _BITS - 1 - j for j, number in enumerate(numbers)]


def _mixed(directions: NDArray[int64], mixing: NDArray[int64]) -> NDArray[int64]:
    """Mix each bit of the direction numbers with the higher ones, at random: (axes, bits) and (axes, bits, bits)."""
    bits = (directions[:, :, None] & _POWERS) > 0
    lower: NDArray[Any] = mixing + np.eye(_BITS, dtype=np.int64)
    return np.einsum("apk,ajk->ajp", lower, bits) % 2 @ _POWERS


def _points(points_count: int, shift: NDArray[int64], directions: NDArray[int64]) -> NDArray[int64]:
    order = np.arange(points_count)
    gray = order ^ order >> 1
    points = np.broadcast_to(shift, (points_count, len(shift))).copy()
    for bit in range(points_count.bit_length() - 1):
        points ^= (gray >> bit & 1)[:, None] * directions[:, bit]
    return points
