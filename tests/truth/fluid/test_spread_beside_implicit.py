"""The spread model beside its slow twin, all columns at once and fully implicit: source key ``spread.implicit``.

Wetted is what liquid reached at any time: it hangs on the early transient, where lines led one after the other err.
"""

from functools import cache

import numpy as np
import pytest
from tests.truth.fluid.twins.beds import flank, reached_points, rectangle, tilted
from tests.truth.fluid.twins.implicit import spread_implicit

from soakline.fluid.posture import parse_posture
from soakline.fluid.spread import CHANGE_SHARE, Foam, Soak, lay_foam, spread

SOAK = Soak(120.0, 600.0)
# Points of floor and of roof: soaked, at least moist, wetted.
AT_7_5_MM, AT_5_MM = np.array([0.2, 0.3, 1.8] * 2), np.array([0.15, 0.3, 1.1] * 2)


def on_flank(spacing_cm, posture, permeability_m2=3e-9):
    cavity = flank(spacing_cm)
    sheet = lay_foam(cavity, parse_posture(posture).up(), Foam(permeability_m2, 1.0, 0.776))
    return sheet, [(cavity.nearest(8.0, 0.0), 80.0)]


@cache
def twin_on_flank(spacing_cm, posture):
    sheet, poured = on_flank(spacing_cm, posture)
    return spread_implicit(sheet, poured, SOAK, change_share=0.15)


def astray(ours, twin):
    """Give the share of the liquid that stands in another column."""
    held = twin.sheet.full_ml
    return float(np.abs(ours.filling_share - twin.filling_share) @ held / (2.0 * twin.filling_share @ held))


@pytest.mark.parametrize("posture", ["supine", "left 30"])
@pytest.mark.parametrize(("spacing_cm", "allowed"), [(0.75, AT_7_5_MM), (0.5, AT_5_MM)])
def test_shares_reached_are_those_of_the_twin(spacing_cm, allowed, posture):
    sheet, poured = on_flank(spacing_cm, posture)
    ours, twin = spread(sheet, poured, SOAK), twin_on_flank(spacing_cm, posture)
    assert (np.abs(reached_points(ours) - reached_points(twin)) <= allowed).all()
    assert astray(ours, twin) < 0.002


def test_shorter_steps_lead_to_the_twin():
    sheet, poured = on_flank(0.75, "supine")
    twin = spread_implicit(sheet, poured, SOAK, change_share=0.02)
    away = [astray(spread(sheet, poured, SOAK, change_share=share), twin) for share in (CHANGE_SHARE, 0.02)]
    # 0.015 and 0.009 % were seen; of the second, 0.001 is the twin's own.
    assert away[0] < 0.0003
    assert away[1] < min(away[0] / 1.5, 0.00015)


FAR = [("right 90", Foam(1e-8, 0.3, 0.776), (0.0, 12.0)), ("left 30", Foam(1e-8, 0.3, 0.776), (-9.0, -6.0))]


@pytest.mark.parametrize(("posture", "foam", "port"), FAR)
def test_very_open_foam_and_a_far_port_are_no_worse(posture, foam, port):
    # Long thin streams down a slope: the hardest of 36 runs over ports, postures and foams.
    cavity = flank(0.75)
    sheet, poured = lay_foam(cavity, parse_posture(posture).up(), foam), [(cavity.nearest(*port), 80.0)]
    apart = reached_points(spread(sheet, poured, SOAK)) - reached_points(
        spread_implicit(sheet, poured, SOAK, change_share=0.15)
    )
    assert (np.abs(apart) <= AT_7_5_MM).all()


def test_the_twin_keeps_its_mass_and_does_not_hang_on_its_step():
    coarse = twin_on_flank(0.75, "left 30")
    fine = spread_implicit(*on_flank(0.75, "left 30"), SOAK, change_share=0.05)
    assert fine.filling_share @ fine.sheet.full_ml == pytest.approx(80.0, rel=1e-7)
    assert reached_points(coarse) == pytest.approx(reached_points(fine), abs=0.05)


def test_a_planted_wrong_foam_or_a_port_a_hand_away_is_caught():
    sheet, poured = on_flank(0.75, "supine")
    twin = twin_on_flank(0.75, "supine")
    tighter, _ = on_flank(0.75, "supine", 1e-10)
    assert astray(spread(tighter, poured, SOAK), twin) > 0.02
    elsewhere = [(sheet.cavity.nearest(-8.0, 0.0), 80.0)]
    assert (np.abs(reached_points(spread(sheet, elsewhere, SOAK)) - reached_points(twin)) > AT_7_5_MM).any()


def test_a_film_that_runs_down_a_slope_is_that_of_the_twin():
    # Most of the bed is a thin film here: what counts as moist hangs on a tenth of a mm of it.
    cavity = rectangle(40, 24, 0.5, 1.0)
    sheet = lay_foam(cavity, tilted(25), Foam(3e-9, 0.5, 0.8))
    soak, poured = Soak(30.0, 60.0), [(cavity.nearest(3.0, 6.0), 25.0)]
    ours, twin = spread(sheet, poured, soak), spread_implicit(sheet, poured, soak, change_share=0.15)
    assert np.abs(reached_points(ours) - reached_points(twin)).max() < 3.0
    assert astray(ours, twin) < 0.05
