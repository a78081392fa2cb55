"""The table of columns: from dry to full, monotone, closed at both ends, and read back within its own tolerance."""

import numpy as np
import pytest

from soakline.fluid.capillary import (
    DRY_HEAD_SHARE,
    KNOTS,
    MOIST_HEAD_SHARE,
    SLOT_SHARE,
    SOAKED_HEAD_SHARE,
    column_table,
    conductivity_share,
    free_table,
    knots_share,
    saturation_share,
)


@pytest.mark.parametrize("table", [column_table(), free_table()], ids=["held", "free"])
def test_head_and_conductance_rise_with_filling(table):
    assert (np.diff(table.filling_share) > 0.0).all()
    assert (np.diff(table.values_share[..., 0], axis=1) > 0.0).all()
    assert (np.diff(table.values_share[..., 1], axis=1) >= 0.0).all()


@pytest.mark.parametrize("table", [column_table(), free_table()], ids=["held", "free"])
def test_a_dry_column_lets_nothing_pass_and_a_full_one_everything(table):
    assert table.values_share[:, 0, 1] == pytest.approx(0.0, abs=1e-12)
    assert table.values_share[:, -1, 1] == pytest.approx(1.0)


def test_the_head_runs_from_dry_foam_to_the_roof():
    table = column_table()
    ratio = np.exp(table.log_ratio_share)
    assert table.values_share[:, 0, 0] * (ratio + 1.0) == pytest.approx(DRY_HEAD_SHARE)
    assert table.values_share[:, -1, 0] * (ratio + 1.0) == pytest.approx(ratio)


def test_knots_run_from_dry_to_full_with_the_slot():
    knots = knots_share()
    assert len(knots) == KNOTS + 1
    assert (knots[0], knots[-1]) == (0.0, 1.0 + SLOT_SHARE)


def test_the_marks_of_soaked_and_moist_are_those_that_are_told():
    assert pytest.approx(-0.623, abs=1e-3) == SOAKED_HEAD_SHARE
    assert pytest.approx(-1.412, abs=1e-3) == MOIST_HEAD_SHARE
    assert saturation_share(np.array([SOAKED_HEAD_SHARE, MOIST_HEAD_SHARE]) * 2.0, 2.0) == pytest.approx([0.9, 0.3])


def test_foam_that_holds_nothing_is_full_below_the_level_and_dry_above():
    assert saturation_share(np.array([-0.001, 0.0, 3.0]), 0.0).tolist() == [0.0, 1.0, 1.0]


def test_full_foam_conducts_fully_and_drier_foam_less():
    heads = np.linspace(-6.0, 1.0, 50)
    passed = conductivity_share(heads, 1.0)
    assert (np.diff(passed) >= 0.0).all()
    assert passed[-1] == 1.0
    assert passed[0] < 1e-5


def test_the_table_is_made_once():
    assert column_table() is column_table()
    assert free_table() is free_table()
