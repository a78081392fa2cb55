"""What a column of foam holds and lets pass: saturation, head and conductance of a column in capillary equilibrium.

Van Genuchten's retention curve with Mualem's conductivity (source key ``foam.van_genuchten``), n = 4 and α =
1/capillary height, summed over the column's height. Liquid that is held against gravity stands in the same column as
free liquid, at one head: a store of held liquid beside a store of free liquid puts a third of it in the wrong place on
a slope.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy import float64
from numpy.typing import NDArray

_N = 4.0
_M = 1.0 - 1.0 / _N
# Head, as a share of the capillary height, at which the retention curve passes saturation 0.9 and 0.3.
SOAKED_HEAD_SHARE = -((0.9 ** (-1.0 / _M) - 1.0) ** (1.0 / _N))
MOIST_HEAD_SHARE = -((0.3 ** (-1.0 / _M) - 1.0) ** (1.0 / _N))
# Foam whose head lies lower than this share of the capillary height counts as dry.
DRY_HEAD_SHARE = -6.0
# Above full a column stores pressure in a slot of this share of its height.
SLOT_SHARE = 0.003
# Knots of the table: by filling (closer together near dry and near full), and by column height over capillary height.
KNOTS = 512
_ROWS = 48
_LOWEST_RATIO, _HIGHEST_RATIO = 0.02, 400.0


@dataclass(frozen=True, slots=True, eq=False)
class ColumnTable:
    """Head over (height + capillary height) and conductance share by filling, (rows, knots + 1, 2), no unit.

    ``filling_share`` (knots + 1,) runs from dry to full with the slot; ``log_ratio_share`` (rows,) is the natural
    logarithm of column height over capillary height. ``pieces_share`` (rows - 1, knots, 8) are the straight lines
    between knots, to be read at once: head, its rise, conductance, its rise, and what each gains to the next row.
    """

    values_share: NDArray[float64]
    pieces_share: NDArray[float64]
    filling_share: NDArray[float64]
    log_ratio_share: NDArray[float64]


@lru_cache(maxsize=1)
def column_table() -> ColumnTable:
    """Return the table for foam that holds liquid against gravity, the same for every capillary height."""
    head, stored, passed = _integrals()
    ratios = np.geomspace(_LOWEST_RATIO, _HIGHEST_RATIO, _ROWS)
    values = np.empty((_ROWS, KNOTS + 1, 2))
    for number, ratio in enumerate(ratios):
        values[number] = _row(float(ratio), head, stored, passed)
    return ColumnTable(values, _pieces(values), knots_share(), np.log(ratios))


@lru_cache(maxsize=1)
def free_table() -> ColumnTable:
    """Return the table for foam that holds nothing: head is filling × height, conductance is filling."""
    filling = knots_share()
    row = np.stack((_with_slot(filling), np.minimum(filling, 1.0)), axis=1)
    values = np.stack((row, row))
    return ColumnTable(values, _pieces(values), filling, np.array([0.0, 1.0]))


def saturation_share(head_cm: NDArray[float64], capillary_height_cm: float) -> NDArray[float64]:
    """Return the share 0–1 of pores that hold liquid at a head (n,) in cm; 1 at and above the free level.

    >>> [round(float(s), 2) for s in saturation_share(np.array([SOAKED_HEAD_SHARE, MOIST_HEAD_SHARE, 0.5]), 1.0)]
    [0.9, 0.3, 1.0]
    """
    if capillary_height_cm <= 0.0:
        return (head_cm >= 0.0).astype(float)
    suction = np.maximum(-head_cm / capillary_height_cm, 0.0)
    return (1.0 + suction**_N) ** -_M


def head_at(held_share: NDArray[float64], capillary_height_cm: float) -> NDArray[float64]:
    """Return the head (n,) in cm at which foam holds a saturation of 0 to 1; minus infinity where it holds none.

    >>> bool(np.allclose(head_at(np.array([0.9, 1.0]), 2.0), [2.0 * SOAKED_HEAD_SHARE, 0.0]))
    True
    """
    with np.errstate(divide="ignore"):
        suction = (held_share ** (-1.0 / _M) - 1.0) ** (1.0 / _N)
    return np.where(held_share > 0.0, -suction * capillary_height_cm, -np.inf)


def conductivity_share(head_cm: NDArray[float64], capillary_height_cm: float) -> NDArray[float64]:
    """Return the conductivity at a head (n,) in cm as a share 0–1 of that of full pores."""
    held = saturation_share(head_cm, capillary_height_cm)
    return np.sqrt(held) * (1.0 - (1.0 - held ** (1.0 / _M)) ** _M) ** 2


def knots_share() -> NDArray[float64]:
    """Return the fillings of the table's knots, (knots + 1,), from 0 to full with the slot."""
    x = np.linspace(0.0, 1.0, KNOTS + 1)
    return np.where(x < 0.5, 2.0 * x**2, 1.0 - 2.0 * (1.0 - x) ** 2) * (1.0 + SLOT_SHARE)


def _pieces(values: NDArray[float64]) -> NDArray[float64]:
    rise = np.diff(values, axis=1) / np.diff(knots_share())[:, None]
    line = np.stack((values[:, :-1], rise), axis=3).reshape(len(values), KNOTS, 4)
    return np.concatenate((line[:-1], np.diff(line, axis=0)), axis=2)


def _integrals() -> tuple[NDArray[float64], NDArray[float64], NDArray[float64]]:
    """Return heads (in capillary heights) with the integrals of saturation and conductivity from dry up to each."""
    lowest = DRY_HEAD_SHARE - _HIGHEST_RATIO
    below = -np.geomspace(-lowest, 1e-4, 20_000)
    above = np.geomspace(1e-4, _HIGHEST_RATIO, 4_000)
    head = np.concatenate([below, [0.0], above])
    return head, _summed(saturation_share(head, 1.0), head), _summed(conductivity_share(head, 1.0), head)


def _summed(value: NDArray[float64], head: NDArray[float64]) -> NDArray[float64]:
    return np.concatenate([[0.0], np.cumsum((value[1:] + value[:-1]) / 2.0 * np.diff(head))])


def _row(ratio: float, head: NDArray[float64], stored: NDArray[float64], passed: NDArray[float64]) -> NDArray[float64]:
    # Heads lie close together near dry and near full, where filling hardly changes with them.
    inward = np.geomspace(1e-5, (ratio - DRY_HEAD_SHARE) / 2.0, 2_000)
    foot = np.concatenate(([DRY_HEAD_SHARE], DRY_HEAD_SHARE + inward, (ratio - inward)[::-1], [ratio]))
    held = (np.interp(foot, head, stored) - np.interp(foot - ratio, head, stored)) / ratio
    flows: NDArray[float64] = (np.interp(foot, head, passed) - np.interp(foot - ratio, head, passed)) / ratio
    # What the driest foam still holds does not move and is not counted.
    held = (held - held[0]) / (1.0 - held[0]) + SLOT_SHARE * np.maximum(foot, 0.0) / ratio
    flows = (flows - flows[0]) / float(flows[-1] - flows[0])
    filling = knots_share()
    return np.stack((np.interp(filling, held, foot) / (ratio + 1.0), np.interp(filling, held, flows)), axis=1)


def _with_slot(filling: NDArray[float64]) -> NDArray[float64]:
    return filling / (1.0 + SLOT_SHARE)
