"""The fewest postures against every set tried out, one by one: ``layout.set_cover``."""

import itertools
import math

import numpy as np
import pytest

from soakline.layout.turning import Soaked, smallest_set

SHARE, WOUNDS = 0.9, 0.8


def is_enough(wounds, chosen):
    reached = [
        all(surface.soaked_cm2(chosen) >= SHARE * surface.together_cm2 - 1e-9 for surface in wound) for wound in wounds
    ]
    return sum(reached) >= math.ceil(WOUNDS * len(wounds) - 1e-9)


def mean_soaked(wounds, chosen):
    return np.mean([s.soaked_cm2(chosen) / s.together_cm2 for wound in wounds for s in wound])


def every_set(wounds, postures):
    """Give all sets of the smallest size that is enough."""
    for size in range(1, postures + 1):
        enough = [chosen for chosen in itertools.combinations(range(postures), size) if is_enough(wounds, chosen)]
        if enough:
            return enough
    return []


def drawn(rng, dry):
    postures = int(rng.integers(1, 7))
    wounds = [
        [
            Soaked(rng.random(patches) + 0.1, np.pad(rng.random((postures, patches)) < 0.35, ((0, dry), (0, 0))))
            for patches in rng.integers(1, 12, size=rng.integers(1, 3))
        ]
        for _ in range(rng.integers(1, 8))
    ]
    return wounds, postures


def greedy(surface, postures):
    chosen = []
    while surface.soaked_cm2(chosen) < surface.together_cm2 - 1e-9:
        chosen.append(max(range(postures), key=lambda one: surface.soaked_cm2([*chosen, one])))
    return tuple(sorted(chosen))


# With ten more postures that soak nothing there are too many sets to try out: the integer program answers.
@pytest.mark.parametrize("dry", [0, 10])
@pytest.mark.parametrize("seed", range(60))
def test_no_smaller_set_is_enough_and_none_as_small_soaks_more(seed, dry):
    wounds, postures = drawn(np.random.default_rng(seed), dry)
    found = smallest_set(wounds, soaked_share=SHARE, wounds_share=WOUNDS)
    asked = [kept for wound in wounds if (kept := [s for s in wound if s.together_cm2 > 0.0])]
    if not asked:
        assert found == ()
        return
    smallest = every_set(asked, postures)
    assert found in smallest
    assert mean_soaked(asked, found) == pytest.approx(max(mean_soaked(asked, one) for one in smallest), abs=1e-3)


def test_a_planted_greedy_choice_is_caught_where_it_takes_one_too_many():
    # Two halves cover six patches; the tempting third takes four of them first.
    by_posture = np.array([[1, 1, 1, 0, 0, 0], [0, 0, 0, 1, 1, 1], [0, 1, 1, 1, 1, 0]], dtype=bool)
    surface = Soaked(np.ones(6), by_posture)
    assert len(greedy(surface, 3)) == 3
    assert smallest_set([[surface]], soaked_share=1.0, wounds_share=1.0) == (0, 1)
