"""Gas that cannot leave slabs, half balls and pockets apart: ``settling.tilted_slab``, ``settling.closed_forms``.

The slab's formula is that of liquid, upside down. Other vents of invented pockets are held to a search of their own:
from the vent outwards, each time over the highest face not yet passed, without a tree.
"""

import heapq
import math
from dataclasses import replace

import numpy as np
import pytest
from benchmarks.invented_wounds import invented
from tests.truth.fluid.twins.beds import rectangle, tilted

from soakline.fluid.basins import basins_of
from soakline.fluid.gas import opening_vents, round_vent, trapped_gas
from soakline.fluid.posture import Posture, parse_posture
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Pocket, Wound
from soakline.wound.sheet import lay_flat

FLAT = Assumptions(curvature="flat")
CORNERS = ((-5.0, -4.0), (5.0, -4.0), (5.0, 4.0), (-5.0, 4.0))
SLAB = Wound("front", "trunk", Opening(2.0, 2.0, 2.0), pocket=Pocket(CORNERS, 1.5))
BALL = Wound("front", "trunk", Opening(6.0, 6.0, 3.0, bed="bowl"))


@pytest.fixture(scope="module")
def slab():
    return build_cavity(lay_flat(SLAB), frame_of(SLAB, FLAT), 0.1, closed=True)


@pytest.fixture(scope="module")
def ball():
    return build_cavity(lay_flat(BALL), frame_of(BALL, FLAT), 0.1)


@pytest.mark.parametrize(("tilt_deg", "from_top_cm"), [(30, 6.0), (30, 9.0), (60, 3.0), (90, 5.0), (45, 9.9)])
def test_a_tilted_slab_keeps_the_gas_above_its_vent(slab, tilt_deg, from_top_cm):
    # Mean length = length along the roof − half a height's run, as for liquid that soaks so much of a floor.
    run = 1.5 / (2 * math.tan(math.radians(tilt_deg)))
    vents = round_vent(slab, from_top_cm - 5.0, 0.0, 0.05)
    # The vent is one column of the grid: gas leaves at its upper side.
    high_cm = from_top_cm - 5.0 - slab.u_cm[vents].min() + 0.05
    found = trapped_gas(slab, Posture("tilted", roll_deg=tilt_deg).up(), vents)
    assert found.held_ml == pytest.approx((from_top_cm - high_cm - run) * 8 * 1.5, abs=0.5)
    assert found.roof_share @ slab.roof_cm2 / 80 == pytest.approx((from_top_cm - high_cm) / 10, abs=0.01)
    assert found.floor_share @ slab.floor_cm2 / 80 == pytest.approx((from_top_cm - high_cm - 2 * run) / 10, abs=0.01)


def test_a_level_slab_keeps_none_wherever_its_vent_is(slab):
    assert trapped_gas(slab, Posture("level").up(), round_vent(slab, 3.0, 0.0, 1.0)).void_share == 0.0


@pytest.mark.parametrize("from_prone_deg", [0, 20, 45, 70, 90])
def test_a_half_ball_that_opens_downwards_keeps_the_cap_above_its_edge(ball, from_prone_deg):
    # The edge's highest point stands 3 cm x the sine above the middle; above it lies a cap of the ball.
    high_cm = 3.0 * (1.0 - math.sin(math.radians(from_prone_deg)))
    cap_ml = math.pi * high_cm**2 * (9.0 - high_cm) / 3.0
    up = Posture("turned", roll_deg=from_prone_deg, prone=True).up()
    found = trapped_gas(ball, up, opening_vents(ball))
    assert found.held_ml == pytest.approx(cap_ml, abs=0.01 * ball.void_ml)


def test_a_part_that_no_vent_reaches_keeps_all():
    bed = rectangle(20, 4, 0.5, 1.0)
    apart = bed.u_cm > 5.0
    # Take away the faces between both halves.
    kept = apart[bed.link[:, 0]] == apart[bed.link[:, 1]]
    names = ("link", "link_way", "link_low_cm", "link_high_cm", "link_bore_cm", "link_axis")
    halves = replace(bed, **{name: getattr(bed, name)[kept] for name in names})
    found = trapped_gas(halves, tilted(20.0), round_vent(halves, 0.0, 1.0, 0.5))
    assert found.column_share[apart] == pytest.approx(1.0)
    assert found.column_share[~apart] == pytest.approx(0.0, abs=0.02)
    assert np.isneginf(found.sill_cm[apart]).all()


def sill_by_search(cavity, up, vents):
    """Give for each column the height at which its gas runs off, from the vents outwards over the highest faces."""
    turned = basins_of(cavity, -up)
    ways = [[] for _ in cavity.u_cm]
    tops = np.maximum(cavity.link_low_cm @ up, cavity.link_high_cm @ up)
    across = np.sqrt(np.maximum(1.0 - (cavity.link_axis @ up) ** 2, 0.0))
    tops = tops + cavity.link_bore_cm * across
    for (i, j), top in zip(cavity.link, tops, strict=True):
        ways[i].append((j, top))
        ways[j].append((i, top))
    sill = np.full(len(cavity.u_cm), -np.inf)
    waiting = [(turned.roof_low_cm[vent], int(vent)) for vent in vents]
    heapq.heapify(waiting)
    while waiting:
        below, at = heapq.heappop(waiting)
        if -below <= sill[at]:
            continue
        sill[at] = -below
        for other, top in ways[at]:
            heapq.heappush(waiting, (max(below, -top), int(other)))
    return sill, turned


@pytest.mark.parametrize("number", range(12))
def test_invented_pockets_keep_what_a_search_from_the_vent_says(number):
    drawn = invented(12, seed=5)[number]
    cavity = build_cavity(lay_flat(drawn.wound), frame_of(drawn.wound, Assumptions()), 0.4)
    up = (*drawn.postures, parse_posture("left 60"))[number % 4].up()
    for vents in (opening_vents(cavity), round_vent(cavity, 0.0, 0.0, 1.0)):
        sill, turned = sill_by_search(cavity, up, vents)
        kept = np.clip((-sill - turned.low_cm) / turned.width_cm, 0.0, 1.0)
        # High parts under a 500th of the void are not told apart.
        assert trapped_gas(cavity, up, vents).void_share == pytest.approx(
            kept @ cavity.volume_ml / cavity.void_ml, abs=0.004
        )


def test_a_planted_search_of_the_low_parts_fails(ball):
    # Held like liquid in a half ball that opens upwards, none would stay; held like gas, all.
    right = trapped_gas(ball, parse_posture("prone").up(), opening_vents(ball)).void_share
    planted = trapped_gas(ball, parse_posture("supine").up(), opening_vents(ball)).void_share
    assert right == pytest.approx(1.0, abs=0.01)
    assert planted == pytest.approx(0.0, abs=0.01)


def test_a_planted_vent_at_the_bed_fails(slab):
    # 30°, vent 6 cm from the top: counted from the floor the mean is a run longer.
    found = trapped_gas(slab, Posture("tilted", roll_deg=30).up(), round_vent(slab, 1.0, 0.0, 0.05))
    assert found.held_ml != pytest.approx((6.0 + 1.5 / (2 * math.tan(math.radians(30)))) * 12, abs=2.0)
