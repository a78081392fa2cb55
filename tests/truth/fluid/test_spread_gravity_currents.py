"""Liquid that spreads over level and tilted beds, against similarity solutions and closed forms.

Sources: ``spread.barenblatt_1952``, ``spread.huppert_woods_1995``, ``spread.line_release``, ``spread.dupuit``,
``spread.plume``. All hold for foam that holds nothing against gravity and for liquid that stays below the roof. Beds
are rectangles whose edge cuts the solution along its own line of symmetry where it has one.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from tests.truth.fluid.twins.beds import LEVEL, rectangle, tilted

from soakline.fluid.spread import CHANGE_SHARE, Foam, Soak, lay_foam, spread
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.sheet import lay_flat

HEIGHT_CM = 5.0


def let_go(sheet, depth_cm, volume_ml, seconds, change_share=CHANGE_SHARE):
    """Start from a depth that holds so much, in mL, and return the depth after so long, (n,) in cm."""
    filling = depth_cm / HEIGHT_CM
    filling *= volume_ml / (filling @ sheet.full_ml)
    half = seconds / 2.0
    return spread(sheet, [], Soak(half, half), filling_share=filling, change_share=change_share).filling_share * (
        HEIGHT_CM
    )


@dataclass(frozen=True)
class Radial:
    """A volume on a level bed, let go from a radius of 4 cm until it should be 12: one quarter of it."""

    spacing_cm: float
    permeability_m2: float = 1e-9
    change_share: float = CHANGE_SHARE
    exponent: float = 0.25

    volume_ml = 80.0
    porosity = 0.97

    def results(self):
        """Give front and moment radius over the right one, and the depth's distance in L1."""
        cells = round(15.0 / self.spacing_cm)
        cavity = rectangle(cells, cells, self.spacing_cm, HEIGHT_CM)
        sheet = lay_foam(cavity, LEVEL, Foam(self.permeability_m2, 0.0, self.porosity))
        pace = sheet.foam.conductivity_cm_per_s * self.volume_ml / (math.pi * self.porosity**2)
        start_s, end_s = ((radius / 2.0) ** 4 / pace for radius in (4.0, 12.0))
        from_port = np.hypot(cavity.u_cm, cavity.v_cm)
        depth = let_go(
            sheet, self.depth(4.0, from_port), self.volume_ml / 4.0, end_s - start_s, self.change_share
        )  # fmt: skip
        right_radius = 2.0 * (pace * end_s) ** self.exponent
        right = self.depth(right_radius, from_port)
        # The mean square distance is a third of the front's square.
        moment = math.sqrt(3.0 * (depth @ from_port**2) / depth.sum())
        front = from_port[depth > 0.02 * right.max()].max()
        return front / right_radius, moment / right_radius, np.abs(depth - right).sum() / right.sum()

    def depth(self, radius_cm, from_port_cm):
        middle = 2.0 * self.volume_ml / (math.pi * self.porosity * radius_cm**2)
        return middle * np.clip(1.0 - (from_port_cm / radius_cm) ** 2, 0.0, None)


# At 5 mm a column is 4 % of the radius: the front was seen 1.0 % behind, at 2.5 mm 0.8 and 0.9 %; the moment 0.4 %, of
# which steps a hundredth as long leave 0.1.
@pytest.mark.parametrize(
    ("spacing_cm", "permeability_m2", "front_within", "moment_within"),
    [
        *((0.5, permeability_m2, 0.015, 0.006) for permeability_m2 in (1e-9, 1e-8, 3e-8)),
        *((0.25, permeability_m2, 0.015, 0.006) for permeability_m2 in (1e-9, 1e-8)),
    ],
)
def test_a_volume_on_a_level_bed_spreads_as_fast_as_it_should(spacing_cm, permeability_m2, front_within, moment_within):
    front, moment, _ = Radial(spacing_cm, permeability_m2).results()
    assert front == pytest.approx(1.0, abs=front_within)
    assert moment == pytest.approx(1.0, abs=moment_within)


def round_an_opening(spacing_cm):
    """Give how deep the middle stands over the right depth when the bed has an opening there, and the L1 distance."""
    wound = Wound("front", "trunk", Opening(2.0, 2.0, 6.0), undermining=(Undermining(1, 1, None, 16.0, HEIGHT_CM),))
    flat = Assumptions(curvature="flat", closed=True)
    cavity = build_cavity(lay_flat(wound), frame_of(wound, flat), spacing_cm, closed=True)
    like = Radial(spacing_cm)
    sheet = lay_foam(cavity, LEVEL, Foam(like.permeability_m2, 0.0, like.porosity))
    pace = sheet.foam.conductivity_cm_per_s * like.volume_ml / (math.pi * like.porosity**2)
    from_port = np.hypot(cavity.u_cm, cavity.v_cm)
    depth = let_go(sheet, like.depth(4.0, from_port), like.volume_ml, (6.0**4 - 2.0**4) / pace)
    right = like.depth(12.0, from_port)
    middle = from_port < 0.8
    return depth[middle].mean() / right[middle].mean(), np.abs(depth - right).sum() / right.sum()


@pytest.mark.parametrize("spacing_cm", [0.5, 0.25])
def test_liquid_does_not_wait_at_the_edge_of_the_opening(spacing_cm):
    # Cut cells in two parts lie round the opening; led apart from the lines they held it back by a half.
    deep, apart = round_an_opening(spacing_cm)
    assert deep == pytest.approx(1.0, abs=0.04)
    assert apart < 0.04


def order_of(errors):
    return np.diff(np.log(errors)) / math.log(0.5)


def test_the_depth_of_a_spreading_volume_closes_in_with_the_grid():
    # Steps so short that they, and not the frames, set the pace at every spacing.
    errors = [Radial(s, change_share=0.04 * s**2).results()[2] for s in (1.0, 0.5, 0.25)]
    assert (order_of(errors) > 0.8).all()
    # 0.27 % was seen, 1.1 % with steps as long as a run's.
    assert errors[-1] < 0.004
    assert Radial(0.25).results()[2] < 0.015


def test_a_planted_wrong_power_of_time_is_caught():
    # A current between two plates (h held constant) would grow with the square root of time.
    front, moment, _ = Radial(0.5, exponent=0.5).results()
    assert abs(front - 1.0) > 0.3
    assert abs(moment - 1.0) > 0.3


@dataclass(frozen=True)
class Line:
    """A line of liquid on a bed that falls by 20°, let go when 4 cm long until it should be 9."""

    spacing_cm: float
    change_share: float = CHANGE_SHARE
    slope_part: float = 1.0

    volume_ml, width_cm, porosity, angle, from_cm = 5.0, 2.0, 0.8, math.radians(20.0), 5.0

    def results(self):
        """Give (upper edge, lower edge) found and right, in cm, and the depth's distance in L1.

        The lower edge is found between columns.
        """
        cavity = rectangle(round(20.0 / self.spacing_cm), round(2.0 / self.spacing_cm), self.spacing_cm, HEIGHT_CM)
        sheet = lay_foam(cavity, tilted(20.0), Foam(1e-9, 0.0, self.porosity))
        conductivity = sheet.foam.conductivity_cm_per_s
        grows = 4.5 * self.volume_ml * conductivity * math.cos(self.angle) / (self.porosity**2 * self.width_cm)
        start_s, end_s = 2.0**3 / grows, 4.5**3 / grows
        runs = self.slope_part * conductivity * math.sin(self.angle) / self.porosity
        depth = let_go(
            sheet, self.depth(2.0, cavity.u_cm - self.from_cm), self.volume_ml, end_s - start_s, self.change_share
        )  # fmt: skip
        middle = self.from_cm + runs * (end_s - start_s)
        right = self.depth(4.5, cavity.u_cm - middle)
        at = np.unique(cavity.u_cm)
        mean = np.array([depth[cavity.u_cm == u].mean() for u in at])
        film = 0.02 * right.max()
        wet = np.flatnonzero(mean > film)
        beyond = slice(wet.max(), wet.max() + 2)
        lower = float(np.interp(-film, -mean[beyond], at[beyond]))
        return (at[wet.min()], lower), (middle - 4.5, middle + 4.5), np.abs(depth - right).sum() / right.sum()

    def depth(self, half_cm, off_cm):
        middle = 3.0 * self.volume_ml / (4.0 * self.porosity * self.width_cm * half_cm)
        return middle * np.clip(1.0 - (off_cm / half_cm) ** 2, 0.0, None)


def test_a_line_of_liquid_runs_and_spreads_down_a_slope():
    found, right, apart = Line(0.25).results()
    # The upper edge to a column of 2.5 mm where it should be, the lower one 0.71 cm ahead; depth 4.1 % off.
    assert found[0] == pytest.approx(right[0], abs=0.25)
    assert found[1] == pytest.approx(right[1], abs=0.75)
    assert apart < 0.045


def ahead_cm(spacing_cm, change_share=CHANGE_SHARE):
    """Give how far the lower edge of a line of liquid runs ahead."""
    found, right, _ = Line(spacing_cm, change_share).results()
    return found[1] - right[1]


def test_it_is_the_columns_that_smear_the_lower_edge_not_the_steps():
    # What leaves a column leaves it by its own depth: a thin edge is spread over a few columns. 1.28, 0.71 and 0.44 cm.
    ahead = [ahead_cm(spacing_cm) for spacing_cm in (0.5, 0.25, 0.125)]
    assert ahead[1] < 0.75 * ahead[0]
    assert ahead[2] < 0.75 * ahead[1]
    # Ten times shorter steps: 0.02 cm less.
    assert ahead_cm(0.25, CHANGE_SHARE / 10.0) == pytest.approx(ahead[1], abs=0.03)


def test_a_line_of_liquid_closes_in_with_the_grid():
    errors = [Line(s, change_share=0.4 * s**2).results()[2] for s in (1.0, 0.5, 0.25)]
    assert (order_of(errors) > 0.8).all()


def test_a_planted_line_that_forgets_the_porosity_is_caught():
    _, _, apart = Line(0.25, slope_part=0.8).results()
    assert apart > 0.1


def between_two_levels(spacing_cm, high_cm=4.0, low_cm=1.0, length_cm=20.0):
    """Give the steady depth between two ends that hold so much that their levels stay, and the distance, (n,)."""
    cavity = rectangle(round(length_cm / spacing_cm) + 1, 2, spacing_cm, HEIGHT_CM)
    sheet = lay_foam(cavity, LEVEL, Foam(1e-9, 0.0, 0.8))
    along = cavity.u_cm - spacing_cm / 2.0
    first, last = along < 1e-9, along > length_cm - 1e-9
    sheet = replace(sheet, full_ml=np.where(first | last, 1e4, 1.0) * sheet.full_ml)
    filling = np.where(first, high_cm, low_cm) / HEIGHT_CM
    # Steps are held short by the largest change in an average column, and the ends make the average large.
    run = spread(sheet, [], Soak(200.0, 300.0), filling_share=filling, change_share=6e-4)
    return run.filling_share * HEIGHT_CM, along / length_cm


@pytest.mark.parametrize(("spacing_cm", "allowed"), [(1.0, 0.001), (0.5, 0.001)])
def test_the_level_between_two_ends_is_the_parabola(spacing_cm, allowed):
    depth, along = between_two_levels(spacing_cm)
    high, low = depth[along == 0.0].mean(), depth[along == 1.0].mean()
    assert depth == pytest.approx(np.sqrt(high**2 + (low**2 - high**2) * along), rel=allowed)


def test_a_planted_straight_line_between_two_ends_is_caught():
    depth, along = between_two_levels(0.5)
    assert np.abs(depth / (4.0 - 3.0 * along) - 1.0).max() > 0.1


@dataclass(frozen=True)
class Plume:
    """1 mL/s let in at one place of a bed that falls by 20°, until it no longer changes: one half of it."""

    spacing_cm: float
    rate_ml_per_s: float = 1.0
    film_cm, angle, distances_cm, foam = 0.05, math.radians(20.0), (5.0, 10.0, 20.0), Foam(1e-9, 0.0, 1.0)

    @property
    def constant(self):
        """C of the similarity solution for 1 mL/s, h = C t^(-1/3) - y²/6t with t = x cot θ."""
        return (3.0 / (self.runs_cm_per_s * 4.0 * math.sqrt(6.0))) ** (2.0 / 3.0)

    @property
    def runs_cm_per_s(self):
        """How fast liquid runs down the bed, porosity 1."""
        return self.foam.conductivity_cm_per_s * math.sin(self.angle)

    def sections(self):
        """Give for each distance below the place where columns stand across (v in cm) and how deep they are in cm."""
        cavity = rectangle(round(60.0 / self.spacing_cm), round(12.0 / self.spacing_cm), self.spacing_cm, 3.0)
        sheet = lay_foam(cavity, tilted(20.0), self.foam)
        place = cavity.nearest(2.0, 0.0)
        run = spread(sheet, [(place, 110.0 * self.rate_ml_per_s / 2.0)], Soak(110.0, 0.5))
        depth, below = 3.0 * run.filling_share, cavity.u_cm - cavity.u_cm[place]
        for distance in self.distances_cm:
            across = np.abs(below - distance) < 0.51 * self.spacing_cm
            at = np.unique(cavity.v_cm[across])
            yield at, np.array([depth[across & (cavity.v_cm == v)].mean() for v in at])

    def half_widths_cm(self):
        """Give (found, right) half-widths at the distances, where the depth passes the film."""
        pairs = []
        for distance, (at, mean) in zip(self.distances_cm, self.sections(), strict=True):
            time = distance / math.tan(self.angle)
            right = math.sqrt(6.0 * time * (self.constant * time ** (-1.0 / 3.0) - self.film_cm))
            pairs.append((float(np.interp(-self.film_cm, -mean, at)), right))
        return np.array(pairs).T

    def with_next_term(self, time, across_cm):
        """Give the depth in cm with the next term: what pressure along the plume adds, cot²θ · (h²)tt / 2."""
        c, eta = self.constant, across_cm * time ** (-1.0 / 3.0)
        along = time ** (-5.0 / 3.0) / math.tan(self.angle) ** 2 * (-(c**2) / 2.0 + c * eta**2 / 18.0 + eta**4 / 24.0)
        return c * time ** (-1.0 / 3.0) - across_cm**2 / (6.0 * time) + along


# 5, 10 and 20 cm below the place: 1.3, 0.7 and 1.1 % were seen at 5 mm, 0.2, 1.0 and 1.1 at 2.5, 0.3, 1.2 and 1.0 at
# 1.25: what is left is the closed form's, which leaves out pressure along the plume.
@pytest.mark.parametrize(("spacing_cm", "within"), [(0.5, (0.02, 0.01, 0.012)), (0.25, (0.005, 0.012, 0.012))])
def test_a_steady_plume_is_as_wide_as_it_should_be(spacing_cm, within):
    found, right = Plume(spacing_cm).half_widths_cm()
    assert (np.abs(found / right - 1.0) < within).all()


@pytest.mark.parametrize("spacing_cm", [0.5, 0.25])
def test_far_below_a_plume_has_the_shape_of_the_closed_form_with_its_next_term(spacing_cm):
    # Without that term the width is right to 1.1 % at every spacing. Where the plume begins no closed form tells: that
    # follows from the depth in the middle. The width 20 cm below was seen right to 0.1 %.
    plume = Plume(spacing_cm)
    *_, (at, mean) = plume.sections()
    times = np.linspace(40.0, 60.0, 20_001)
    time = times[np.abs(plume.with_next_term(times, at[0]) - mean[0]).argmin()]
    across = np.linspace(0.0, 8.0, 8_001)
    right = across[np.flatnonzero(plume.with_next_term(time, across) < plume.film_cm)[0]]
    assert float(np.interp(-plume.film_cm, -mean, at)) == pytest.approx(right, rel=0.003)


def test_a_planted_double_inflow_is_caught():
    found, right = Plume(0.5, rate_ml_per_s=2.0).half_widths_cm()
    assert (found > 1.15 * right).all()
