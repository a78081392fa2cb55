"""Even draws against the general library's generator, point by point: ``sampling.sobol``."""

import numpy as np
import pytest
from scipy.stats import qmc

from soakline.wound.plausible import KINDS
from soakline.wound.sobol import MOST_AXES_COUNT, sobol_shares


def reference(points_count, axes_count, seed):
    return qmc.Sobol(axes_count, scramble=True, rng=np.random.default_rng(seed)).random(points_count)


@pytest.mark.parametrize("seed", [0, 1, 20_261_120])
@pytest.mark.parametrize("axes_count", range(1, MOST_AXES_COUNT + 1))
def test_points_are_those_of_the_library(axes_count, seed):
    for points_count in (1, 2, 256):
        ours = sobol_shares(points_count, axes_count, np.random.default_rng(seed))
        assert np.array_equal(ours, reference(points_count, axes_count, seed))


def test_every_kind_of_measure_has_an_axis():
    assert len(KINDS) <= MOST_AXES_COUNT
    with pytest.raises(ValueError, match="at most"):
        sobol_shares(16, MOST_AXES_COUNT + 1, np.random.default_rng(1))


def test_a_planted_plain_random_draw_is_caught():
    assert not np.array_equal(np.random.default_rng(1).random((256, 3)), reference(256, 3, 1))


def test_a_planted_swap_of_two_axes_is_caught():
    swapped = sobol_shares(256, 3, np.random.default_rng(1))[:, [0, 2, 1]]
    assert not np.array_equal(swapped, reference(256, 3, 1))
