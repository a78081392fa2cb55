"""What a column holds and lets pass, by quadrature of the closed forms: ``spread.column``, ``foam.van_genuchten``.

The model counts what the driest foam holds as nothing, and lets pressure above full stand in a slot; both are taken
off here before comparing.
"""

from functools import cache

import numpy as np
import pytest
from scipy.integrate import quad
from tests.truth.fluid.twins.beds import LEVEL, rectangle

from soakline.fluid import spread as model
from soakline.fluid import stepping
from soakline.fluid.capillary import DRY_HEAD_SHARE, SLOT_SHARE, column_table, free_table
from soakline.fluid.spread import Foam, lay_foam

N, M = 4.0, 0.75
RATIOS = (0.03, 0.1, 0.3, 0.77, 1.5, 3.1, 10.0, 60.0)
FILLINGS = (0.002, 0.02, 0.1, 0.3, 0.5, 0.8, 0.95, 0.999)


def held(head):
    return 1.0 if head >= 0.0 else (1.0 + (-head) ** N) ** -M


def passed(head):
    se = held(head)
    return se**0.5 * (1.0 - (1.0 - se ** (1.0 / M)) ** M) ** 2


@cache
def mean_over(curve, foot, ratio):
    """Give the mean of a curve over a column whose foot is at a head, all in capillary heights."""
    kinks = [p for p in (0.0, -1.0, -3.0) if foot - ratio < p < foot]
    return quad(curve, foot - ratio, foot, points=kinks or None, epsabs=1e-12, epsrel=1e-9, limit=400)[0] / ratio


def by_quadrature(curve, foot, ratio):
    """Give the mean as the model counts it: 0 at its driest, 1 when full."""
    driest = mean_over(curve, DRY_HEAD_SHARE, ratio)
    return (mean_over(curve, foot, ratio) - driest) / (1.0 - driest)


def by_model(ratio, filling, *, capillary_height_cm=1.0):
    """Give (head at the foot in capillary heights, conductance share) of a column at a filling."""
    sheet = lay_foam(rectangle(1, 1, 0.5, ratio * capillary_height_cm), LEVEL, Foam(3e-9, capillary_height_cm, 0.8))
    table = column_table()
    head, _, tee, _ = stepping._look_up(
        0, filling, model._columns(sheet, table), table.pieces_share, table.filling_share
    )
    return head / capillary_height_cm, tee


@pytest.mark.parametrize("ratio", RATIOS)
def test_head_by_filling_undoes_filling_by_head(ratio):
    for filling in FILLINGS:
        head, _ = by_model(ratio, filling)
        slot = SLOT_SHARE * max(head, 0.0) / ratio
        assert by_quadrature(held, head, ratio) + slot == pytest.approx(filling, abs=2e-3, rel=2e-2)


@pytest.mark.parametrize("ratio", RATIOS)
def test_conductance_by_filling_is_that_of_the_head(ratio):
    for filling in FILLINGS:
        head, tee = by_model(ratio, filling)
        assert tee == pytest.approx(by_quadrature(passed, head, ratio), abs=4e-3)


@pytest.mark.parametrize("height_cm", [0.3, 2.0, 5.0])
def test_one_table_serves_every_capillary_height(height_cm):
    for filling in (0.1, 0.6):
        assert by_model(1.5, filling, capillary_height_cm=height_cm) == pytest.approx(by_model(1.5, filling))


def test_a_capillary_height_near_nothing_is_foam_that_holds_nothing():
    # At the end of the table (400 capillary heights) liquid stands as high as it fills, but for its own fringe.
    free, table = free_table(), column_table()
    # The last row, in column heights.
    end = table.values_share[-1] * [401.0 / 400.0, 1.0]
    assert np.abs(end[1:] - free.values_share[0, 1:]).max() < -DRY_HEAD_SHARE / 400.0


def test_a_planted_curve_of_another_shape_is_caught():
    def straight(head):
        return float(np.clip(1.0 + head / 2.0, 0.0, 1.0))

    head, _ = by_model(1.5, 0.3)
    assert abs(by_quadrature(straight, head, 1.5) - 0.3) > 0.02
    # The saturation in the middle of a column is not its mean.
    assert abs(held(head - 0.75) - 0.3) > 0.02


def test_a_planted_conductance_that_follows_saturation_is_caught():
    head, tee = by_model(0.77, 0.5)
    assert abs(by_quadrature(held, head, 0.77) - tee) > 0.05
