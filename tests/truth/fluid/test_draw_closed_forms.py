"""Suction against closed forms of potential flow and a general direct solver.

Source: ``draw.closed_forms`` (parallel plates, Thiem's well, image wells, residence time under even recharge). A port
takes evenly over a disc: its mean potential lies 1/(8πh) below that of the disc's rim, as the closed form says too.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.sparse import bmat, coo_array, csr_array, diags_array
from scipy.sparse.linalg import spsolve
from tests.truth.fluid.twins.beds import flank, rectangle

from soakline.fluid.conduct import conduct_cm, over_disc
from soakline.fluid.draw import draw, head_loss_mmhg, hold, travel_min
from soakline.fluid.passed_over import PASSED_OVER_SHARE, passed_over
from soakline.fluid.suction_sheet import lay_suction
from soakline.units import Extremes

HEIGHT_CM = 1.5
RADIUS_CM = 10.0
FLAT_PER_CM = 1.0 / (2.0 * math.pi * HEIGHT_CM)


class Channel:
    """Plates one column wide, 40 cm long, with a port near either end."""

    spacing_cm = 0.2
    cavity = rectangle(200, 1, spacing_cm, HEIGHT_CM)
    left, right = 10, 189
    between = slice(20, 180)  # clear of both ports' discs


class Disc:
    """A round pocket of 10 cm on a square grid; ``from_cm`` are distances from a point, ``z`` places as complex."""

    def __init__(self, spacing_cm, *more):
        cells = round(2.0 * RADIUS_CM / spacing_cm) + 3
        square, middle = rectangle(cells, cells, spacing_cm, HEIGHT_CM), cells * spacing_cm / 2.0
        self.cavity = kept(square, np.hypot(square.u_cm - middle, square.v_cm - middle) <= RADIUS_CM)
        self.z = (self.cavity.u_cm - middle) + 1j * (self.cavity.v_cm - middle)
        self.radius_cm = math.sqrt(len(self.z) * spacing_cm**2 / math.pi)
        self.ports = [int(np.abs(self.z - at).argmin()) for at in (0.0, *more)]
        self.sheet = lay_suction(self.cavity, self.ports)
        self.disc_cm = math.sqrt((over_disc(self.cavity, self.ports[0]) > 0.0).sum() * spacing_cm**2 / math.pi)

    def images(self, where, number):
        """Give the potential of an inflow of one at a port and at its image beyond the wall, up to a constant."""
        at = self.z[self.ports[number]]
        return -FLAT_PER_CM * (np.log(np.abs(where - at)) + np.log(np.abs(where - self.radius_cm**2 / np.conj(at))))


def kept(cavity, inside):
    """Return those columns of a rectangle alone."""
    number = np.where(inside, np.cumsum(inside) - 1, -1).astype(np.int32)
    both = inside[cavity.link].all(axis=1)
    of_columns = ("u_cm", "v_cm", "in_opening", "height_cm", "volume_ml", "floor_cm2", "roof_cm2", "centre_cm",
                  "floor_cm", "roof_cm")  # fmt: skip
    of_links = ("link_way", "link_low_cm", "link_high_cm", "link_bore_cm", "link_axis")
    return replace(
        cavity,
        cells=np.where(cavity.cells >= 0, number[cavity.cells], -1),
        grid_count=int(inside.sum()),
        spans_cm=cavity.spans_cm[:, inside],
        floor_spans_cm=cavity.floor_spans_cm[:, inside],
        link=number[cavity.link[both]],
        **{name: getattr(cavity, name)[inside] for name in of_columns},
        **{name: getattr(cavity, name)[both] for name in of_links},
    )


def apart(found, right):
    """Return the largest difference over the range of the right answer, free of a constant."""
    found, right = found - found.mean(), right - right.mean()
    return np.abs(found - right).max() / np.ptp(right)


# Parallel plates


def channel_fall():
    sheet = lay_suction(Channel.cavity, [Channel.left, Channel.right])
    through = sheet.potential_per_cm[0] - sheet.potential_per_cm[1]
    return np.diff(through[Channel.between]), Channel.spacing_cm / (Channel.spacing_cm * HEIGHT_CM)


def test_between_plates_the_potential_falls_evenly():
    fall, step = channel_fall()
    assert fall == pytest.approx(-step, rel=1e-11)


def test_a_planted_channel_of_another_height_is_noticed():
    fall, step = channel_fall()
    assert fall != pytest.approx(-step * 1.01, rel=1e-3)


def channel_times():
    """Return how much longer liquid takes from farther off, in turnovers, and how much farther from the closed end."""
    sheet = lay_suction(Channel.cavity, [Channel.right])
    drawn = draw(hold(sheet, Channel.cavity.volume_ml), [Channel.right])
    near, far = 170, 40
    return drawn.travel_ratio[far] - drawn.travel_ratio[near], (near + 0.5) / (far + 0.5)


def test_liquid_takes_as_long_as_even_recharge_lets_it():
    # Flow at x is recharge times x: time from x to y is ln(y/x) turnovers.
    found, longer = channel_times()
    assert found == pytest.approx(math.log(longer), rel=0.002)


def test_a_planted_even_speed_is_noticed():
    found, _ = channel_times()
    assert found != pytest.approx((170 - 40) / 190, rel=0.1)


# Thiem


def thiem(held):
    """Return potentials above a port in the middle, outside its disc, and how far from it they stand in cm."""
    disc = Disc(0.2)
    drawn = draw(hold(disc.sheet, np.where(held(disc), disc.cavity.volume_ml, 0.0)), disc.ports)
    away = np.abs(disc.z)
    ring = (away > disc.disc_cm + 0.3) & (away < RADIUS_CM - 0.7)
    return drawn.potential_per_cm[ring], away[ring], disc


def test_a_well_fed_from_its_rim_stands_as_thiem_says():
    found, away, disc = thiem(lambda d: np.abs(d.z) > RADIUS_CM - 0.5)
    right = FLAT_PER_CM * (np.log(away / disc.disc_cm) + 0.25)
    assert np.abs(found - right).max() < 0.006 * right.max()
    far = (away > 2.5) & (away < 7.5)  # clear of the steps of the grid's discs
    assert apart(found[far], right[far]) < 0.004
    assert apart(found[far], away[far]) > 0.05


def test_a_well_fed_evenly_stands_as_thiem_says_with_recharge():
    found, away, disc = thiem(lambda d: np.abs(d.z) >= 0.0)
    a, r = disc.disc_cm, disc.radius_cm
    right = FLAT_PER_CM * (np.log(away / a) - (away**2 - a**2) / (2.0 * r**2) + (1.0 - a**2 / r**2) / 4.0)
    assert np.abs(found - right).max() < 0.006 * right.max()
    without_recharge = FLAT_PER_CM * (np.log(away / a) + 0.25)
    assert np.abs(found - without_recharge).max() > 0.1 * right.max()


def test_suction_lost_on_the_way_is_of_the_size_worked_out_by_hand():
    # 200 mL/min, 1e-9 m², K = 1.39 cm/s; ring to port: (ln(R/a) + 1/4)/(2πh) = 0.270 per cm, foam at half: 0.95 mmHg.
    disc = Disc(0.2)
    rim = np.abs(disc.z) > RADIUS_CM - 0.5
    drawn = draw(hold(disc.sheet, np.where(rim, disc.cavity.volume_ml, 0.0)), disc.ports)
    lost = head_loss_mmhg(drawn, 200.0, Extremes(1e-9, 1e-9))
    conductivity = 1e-5 * 0.993 * 981.0 / 0.007
    by_hand = FLAT_PER_CM * (math.log(10.0) + 0.25) * (200.0 / 60.0) / (conductivity * 0.5) * 0.7356
    assert lost.low == pytest.approx(by_hand, rel=0.03)
    assert lost.high == pytest.approx(lost.low * 2.5)
    assert lost.low < 1.2 < lost.high


# Image wells


def test_a_port_by_a_round_wall_acts_as_two():
    disc = Disc(0.2, 6.0 + 2.0j, -5.0 - 5.0j)
    green = disc.sheet.potential_per_cm
    clear = np.abs(disc.z) < RADIUS_CM - 0.3
    for number in (1, 2):
        clear &= np.abs(disc.z - disc.z[disc.ports[number]]) > disc.disc_cm + 0.3
    right = disc.images(disc.z[clear], 1) - disc.images(disc.z[clear], 2)
    assert apart((green[1] - green[2])[clear], right) < 0.008
    wells = [disc.z[disc.ports[number]] for number in (1, 2)]
    no_wall = FLAT_PER_CM * np.log(np.abs(disc.z[clear] - wells[1]) / np.abs(disc.z[clear] - wells[0]))
    assert apart((green[1] - green[2])[clear], no_wall) > 0.05


def test_a_straight_wall_is_a_second_port():
    half, whole = rectangle(40, 30, 0.25, HEIGHT_CM), rectangle(80, 30, 0.25, HEIGHT_CM)
    here, there = 15 * 40 + 8, 15 * 80 + 48
    mirrored = 15 * 80 + 31
    one = draw(hold(lay_suction(half, [here]), half.volume_ml), [here])
    both = draw(hold(lay_suction(whole, [there, mirrored]), whole.volume_ml), [there, mirrored])
    right_half = whole.u_cm > 10.0
    assert both.port_share == pytest.approx([0.5, 0.5], abs=1e-10)
    # Half of the flow through half of the bed.
    assert both.potential_per_cm[right_half] * 2.0 == pytest.approx(one.potential_per_cm, abs=1e-10)
    assert both.travel_ratio[right_half] == pytest.approx(one.travel_ratio, abs=1e-9)


def test_a_planted_bed_without_the_wall_is_noticed():
    half, open_side = rectangle(40, 30, 0.25, HEIGHT_CM), rectangle(80, 30, 0.25, HEIGHT_CM)
    here, there = 15 * 40 + 8, 15 * 80 + 48
    one = draw(hold(lay_suction(half, [here]), half.volume_ml), [here])
    no_wall = draw(hold(lay_suction(open_side, [there]), open_side.volume_ml), [there])
    assert no_wall.potential_per_cm[open_side.u_cm > 10.0] * 2.0 != pytest.approx(one.potential_per_cm, rel=0.05)


# What is passed over


def dipole(spacing_cm, away_cm):
    disc = Disc(spacing_cm, -away_cm, away_cm)
    return disc, passed_over(disc.sheet, disc.ports[1], [disc.ports[2]])


def dipole_share(disc, *, with_wall=True):
    """Work out by complex potential which share of the disc lets less than a tenth of its mean flow through."""
    fine = (np.arange(800) + 0.5) / 400.0 - 1.0
    z = disc.radius_cm * (fine[None, :] + 1j * fine[:, None])
    z = z[np.abs(z) < disc.radius_cm]
    wells = [(disc.z[disc.ports[1]], 1.0), (disc.z[disc.ports[2]], -1.0)]
    flow = np.zeros_like(z)
    for at, sign in wells:
        # Within a port's disc the flow rises evenly from its middle.
        own = np.where(np.abs(z - at) > disc.disc_cm, 1.0 / (z - at), np.conj(z - at) / disc.disc_cm**2)
        flow += sign * (own + (1.0 / (z - disc.radius_cm**2 / np.conj(at)) if with_wall else 0.0))
    speed = np.abs(flow)
    return (speed < PASSED_OVER_SHARE * speed.mean()).mean()


@pytest.mark.parametrize("away_cm", [2.0, 4.0])
def test_what_the_flow_passes_over_is_what_the_complex_potential_says(away_cm):
    disc, found = dipole(0.2, away_cm)
    assert found.passed_over_share == pytest.approx(dipole_share(disc), abs=0.004)


def test_a_planted_flow_that_minds_no_wall_is_noticed():
    disc, found = dipole(0.2, 2.0)
    assert found.passed_over_share != pytest.approx(dipole_share(disc, with_wall=False), abs=0.01)


def blind_end():
    """Return what two ports at one end of a strip 8 cm wide and 30 cm long pass over, found and by conformal map."""
    cavity = rectangle(150, 40, 0.2, HEIGHT_CM)
    ports = [cavity.nearest(2.1, 2.1), cavity.nearest(2.1, 5.9)]
    found = passed_over(lay_suction(cavity, ports), ports[0], ports[1:])
    u, v = np.meshgrid((np.arange(1500) + 0.5) / 50.0, (np.arange(400) + 0.5) / 50.0)
    z, turn = u + 1j * v, math.pi / 8.0
    flow = np.zeros_like(z)
    for port, sign in zip(ports, (1.0, -1.0), strict=True):
        at = cavity.u_cm[port] + 1j * cavity.v_cm[port]
        place, image = np.cosh(turn * z) - np.cosh(turn * at), np.cosh(turn * z) - np.cosh(turn * np.conj(at))
        inside = np.minimum(np.abs(z - at), 1.0) ** 2
        flow += sign * turn * np.sinh(turn * z) * (inside / place + 1.0 / image)
    speed = np.abs(flow)
    return found.passed_over_share, speed


def test_two_ports_at_one_end_pass_over_the_blind_end():
    found, speed = blind_end()
    assert found == pytest.approx((speed < PASSED_OVER_SHARE * speed.mean()).mean(), abs=0.005)
    assert found > 0.5
    assert found != pytest.approx((speed < 0.5 * PASSED_OVER_SHARE * speed.mean()).mean(), abs=0.03)


# A general direct solver on the same links


class Direct:
    """All at once by scipy: potentials with every port's mean at zero, then shares and times of the same flow."""

    def __init__(self, cavity, ports, held_ml):
        count, conduct = len(cavity.u_cm), conduct_cm(cavity)
        i, j = cavity.link.T
        meets = coo_array((np.tile(conduct, 2), (np.r_[i, j], np.r_[j, i])), shape=(count, count)).tocsr()
        laplacian = diags_array(np.asarray(meets.sum(axis=1)).ravel()) - meets
        discs = csr_array(np.stack([over_disc(cavity, port) for port in ports], axis=1))
        system = bmat([[laplacian, discs], [discs.T, None]]).tocsc()
        solved = spsolve(system, np.r_[held_ml / held_ml.sum(), np.zeros(len(ports))])
        self.potential, self.port_share = solved[:count], solved[count:]
        flow = np.maximum(conduct * (self.potential[i] - self.potential[j]), 0.0)
        back = np.maximum(conduct * (self.potential[j] - self.potential[i]), 0.0)
        leads = coo_array((np.r_[flow, back], (np.r_[i, j], np.r_[j, i])), shape=(count, count)).tocsr()
        uptake = discs.toarray() * self.port_share
        out = np.asarray(leads.sum(axis=1)).ravel() + uptake.sum(axis=1)
        upwind = (diags_array(out) - leads).tocsc()
        self.column_share = spsolve(upwind, csr_array(uptake).tocsc()).toarray()
        self.travel_ratio = spsolve(upwind, cavity.volume_ml / cavity.volume_ml.sum())


@pytest.fixture(scope="module")
def both_ways():
    cavity = flank(0.4)
    ports = [cavity.nearest(*at) for at in ((0.0, 0.0), (10.0, 2.0), (-6.0, 8.0), (-3.0, -11.0))]
    held = cavity.volume_ml * np.where(cavity.v_cm < 3.0, 0.8, 0.1)
    return draw(hold(lay_suction(cavity, ports), held), ports), Direct(cavity, ports, held), cavity


def test_a_general_solver_gives_the_same_shares_potentials_and_times(both_ways):
    drawn, direct, _ = both_ways
    assert drawn.port_share == pytest.approx(direct.port_share, abs=1e-9)
    assert drawn.potential_per_cm == pytest.approx(direct.potential, abs=1e-9)
    assert drawn.column_share == pytest.approx(direct.column_share, abs=1e-7)
    assert drawn.travel_ratio == pytest.approx(direct.travel_ratio, rel=1e-6)


def test_planted_shares_by_the_nearest_port_are_noticed(both_ways):
    drawn, direct, cavity = both_ways
    u, v = cavity.u_cm[list(drawn.port_column)], cavity.v_cm[list(drawn.port_column)]
    nearest = np.hypot(cavity.u_cm[:, None] - u, cavity.v_cm[:, None] - v).argmin(axis=1)
    by_distance = np.bincount(nearest, weights=drawn.held_ml, minlength=4) / drawn.held_ml.sum()
    assert np.abs(by_distance - direct.port_share).max() > 0.03


def test_what_one_port_does_at_another_is_what_that_does_at_it(both_ways):
    between = both_ways[0].sheet.between_per_cm
    assert between == pytest.approx(between.T, rel=1e-10)
    one_sided = between * np.linspace(1.0, 1.001, len(between))
    assert one_sided != pytest.approx(one_sided.T, rel=1e-5)


def test_minutes_are_pores_over_flow():
    # 40 cm x 0.2 x 1.5 = 12 mL of foam, squeezed to half: 12 x (0.5 - 0.03) = 5.64 mL of pores; 5.64 mL/min: 1 min.
    sheet = lay_suction(Channel.cavity, [Channel.right])
    drawn = draw(hold(sheet, Channel.cavity.volume_ml), [Channel.right])
    assert travel_min(drawn, 5.64, 0.5).mean() == pytest.approx(1.0, rel=1e-9)
