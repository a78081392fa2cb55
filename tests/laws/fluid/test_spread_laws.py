"""What holds for every cavity, posture, port and foam: mass, no less than nothing, symmetry, and ports that add up."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.truth.fluid.twins.beds import rectangle

from soakline.fluid.posture import Posture, parse_posture
from soakline.fluid.spread import FILM_CM, Foam, Soak, lay_foam, needed_head_cm, spread, wetness
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Tunnel, Undermining, Wound
from soakline.wound.sheet import lay_flat

SPACING_CM = 1.0
FEW = settings(max_examples=60)
SHORT = Soak(30.0, 60.0)

postures = st.builds(
    Posture, name=st.just("drawn"), roll_deg=st.floats(-90, 90), tilt_deg=st.floats(-90, 90), prone=st.booleans()
)
heights = st.floats(0.05, 4.0)
underminings = st.builds(
    Undermining, clock=st.integers(1, 12).map(float), reach_cm=st.floats(1.0, 6.0), height_cm=heights
)
tunnels = st.builds(
    Tunnel, clock=st.integers(1, 12).map(float), length_cm=st.floats(1.0, 6.0), diameter_cm=st.floats(0.5, 1.5)
)
wounds = st.builds(
    Wound,
    face=st.sampled_from(["front", "back", "left", "right"]),
    part=st.just("trunk"),
    opening=st.builds(Opening, length_cm=st.floats(3, 8), width_cm=st.floats(3, 8), depth_cm=st.floats(0.2, 4.0)),
    girth_cm=st.just(100.0),
    undermining=st.lists(underminings, max_size=2).map(tuple),
    tunnel=st.lists(tunnels, max_size=1).map(tuple),
)  # fmt: skip
foams = st.builds(
    Foam,
    permeability_m2=st.floats(-12, -7).map(lambda power: 10.0**power),
    capillary_height_cm=st.one_of(st.just(0.0), st.floats(0.01, 5.0)),
    porosity_share=st.floats(0.3, 1.0),
)
places = st.floats(0.0, 0.999)


def laid(wound, posture, foam):
    cavity = build_cavity(lay_flat(wound), frame_of(wound, Assumptions()), SPACING_CM)
    return lay_foam(cavity, posture.up(), foam)


def column(sheet, place):
    """Give any column: of the grid, or of a tunnel."""
    return int(place * len(sheet.full_ml))


@FEW
@given(wounds, postures, foams, st.lists(st.tuples(places, st.floats(0.0, 0.6)), min_size=1, max_size=3), places)
def test_what_was_poured_in_stands_in_the_columns(wound, posture, foam, ports, dwell_share):
    sheet = laid(wound, posture, foam)
    poured = [(column(sheet, place), share * sheet.full_ml.sum()) for place, share in ports]
    run = spread(sheet, poured, Soak(20.0, 90.0 * dwell_share), track_fresh=True)
    total_ml = sum(ml for _, ml in poured)
    poured_ml = total_ml - run.left_over_ml
    assert run.left_over_ml >= 0.0
    assert run.filling_share @ sheet.full_ml == pytest.approx(poured_ml, rel=1e-9, abs=1e-9)
    assert run.fresh_ml.sum() == pytest.approx(poured_ml, rel=1e-9, abs=1e-9)
    assert run.filling_share.min() >= -1e-12
    assert not np.isnan(run.head_cm).any()
    assert np.isfinite(run.through_ml).all()


@FEW
@given(wounds, postures, foams, places)
def test_what_stands_there_before_stays_or_moves_and_is_not_lost(wound, posture, foam, level):
    sheet = laid(wound, posture, foam)
    before = np.full(len(sheet.full_ml), level)
    run = spread(sheet, [], SHORT, filling_share=before)
    assert run.filling_share @ sheet.full_ml == pytest.approx(before @ sheet.full_ml, rel=1e-9, abs=1e-9)
    assert run.filling_share.min() >= -1e-12
    assert (before == level).all(), "what it was given is not written over"


@FEW
@given(wounds, postures, foams, places)
def test_soaked_moist_and_rinsed_are_shares_that_leave_no_less_than_nothing_dry(wound, posture, foam, place):
    sheet = laid(wound, posture, foam)
    run = spread(sheet, [(column(sheet, place), 0.4 * sheet.full_ml.sum())], SHORT)
    for states in wetness(run):
        assert not np.isnan(states).any()
        assert states.min() >= 0.0
        assert states.sum(axis=1).max() <= 1.0 + 1e-12


@FEW
@given(wounds, postures, foams, places)
def test_a_column_arrived_at_was_moist_and_no_sooner_than_the_start(wound, posture, foam, place):
    sheet = laid(wound, posture, foam)
    run = spread(sheet, [(column(sheet, place), 0.3 * sheet.full_ml.sum())], SHORT)
    arrived = np.isfinite(run.arrival_s)
    assert (run.arrival_s[arrived] > 0.0).all()
    assert (run.arrival_s[arrived] <= 90.0 + 1e-9).all()
    middle = sheet.floor_low_cm + sheet.floor_width_cm / 2.0 + needed_head_cm(sheet.foam, -1.412)
    assert (run.highest_cm[arrived] >= middle[arrived] - FILM_CM).all()


@FEW
@given(wounds, postures, foams, places)
def test_two_ports_with_half_each_at_one_place_are_one_port(wound, posture, foam, place):
    sheet = laid(wound, posture, foam)
    at, fill_ml = column(sheet, place), 0.3 * sheet.full_ml.sum()
    one = spread(sheet, [(at, fill_ml)], SHORT)
    two = spread(sheet, [(at, fill_ml / 2.0), (at, fill_ml / 2.0)], SHORT)
    assert one.filling_share == pytest.approx(two.filling_share, abs=1e-9)


beds = st.builds(rectangle, st.integers(3, 14), st.integers(3, 14), st.just(0.8), st.floats(0.3, 3.0))


@FEW
@given(beds, postures, foams, places, st.floats(0.0, 0.5))
def test_a_bed_and_its_mirror_image_answer_alike(bed, posture, foam, place, filled):
    # Lines are led along u and v in turn in both: the mirror changes what a line is solved to, no more. On beds of a
    # few columns up to 0.54 % of the liquid was seen elsewhere.
    rows, width = bed.cells.shape[1:]
    image = np.arange(rows * width).reshape(rows, width)[:, ::-1].ravel()
    at = int(place * rows * width)
    one, other = (
        spread(lay_foam(bed, up, foam), [(port, filled * bed.void_ml)], SHORT)
        for up, port in ((posture.up(), at), (posture.up() * [-1.0, 1.0, 1.0], int(image[at])))
    )
    assert astray_share(one, other, image) < 0.01


def astray_share(one, other, place_in_one):
    """Give the share of the liquid that stands in another column."""
    apart = np.abs(one.filling_share[place_in_one] - other.filling_share) @ other.sheet.full_ml
    return apart / max(2.0 * other.filling_share @ other.sheet.full_ml, 1e-9)


@FEW
@given(beds, postures, foams, places)
def test_turned_by_a_quarter_a_bed_answers_nearly_alike(bed, posture, foam, place):
    # Here lines along v take the place of lines along u: what differs is the error of leading one after the other.
    rows, width = bed.cells.shape[1:]
    turned = rectangle(rows, width, 0.8, float(bed.height_cm[0]))
    across = np.arange(rows * width).reshape(rows, width).T.ravel()
    at = int(place * rows * width)
    right, front, head = posture.up()
    poured_ml = 0.2 * bed.void_ml * foam.porosity_share
    one = spread(lay_foam(bed, posture.up(), foam), [(at, poured_ml)], SHORT)
    there = int(np.flatnonzero(across == at)[0])
    other = spread(lay_foam(turned, np.array([-head, front, -right]), foam), [(there, poured_ml)], SHORT)
    # In foam of 1e-9 m² and more, the worst of 1,200 draws 0.019. Through tighter foam a fill in half a minute is
    # pressed: all that is reached is full, and what is led first runs ahead, the worst of 2,700 draws 0.157.
    assert astray_share(one, other, across) < (0.03 if foam.permeability_m2 >= 1e-9 else 0.2)


def mirrored(wound):
    """Give the wound as the mirror shows it: left and right change places."""
    face = {"left": "right", "right": "left"}.get(wound.face, wound.face)
    pockets = tuple(replace(u, clock=12.0 if u.clock == 12.0 else 12.0 - u.clock) for u in wound.undermining)
    return replace(wound, face=face, undermining=pockets, tunnel=())


@settings(max_examples=20)
@given(wounds, postures, foams, st.tuples(st.floats(-4, 4), st.floats(-4, 4)))
def test_the_left_flank_and_the_right_answer_alike(wound, posture, foam, place):
    # The grid begins at its lower corner and cuts a wound and its mirror image differently: sums, not columns.
    depth = max([u.height_cm for u in wound.undermining], default=1.0)
    wound = replace(wound, opening=replace(wound.opening, depth_cm=depth), tunnel=())
    middles = []
    for w, side in ((wound, 1.0), (mirrored(wound), -1.0)):
        cavity = build_cavity(lay_flat(w), frame_of(w, Assumptions()), SPACING_CM / 2.0)
        sheet = lay_foam(cavity, replace(posture, roll_deg=side * posture.roll_deg).up(), foam)
        run = spread(sheet, [(cavity.nearest(side * place[0], place[1]), 0.3 * sheet.full_ml.sum())], SHORT)
        middle = run.filling_share * sheet.full_ml @ cavity.centre_cm / (0.3 * sheet.full_ml.sum())
        middles.append(middle * [side, 1.0, 1.0])
    # A port stands in one column or the next.
    assert middles[0] == pytest.approx(middles[1], abs=SPACING_CM / 2.0)


@FEW
@given(wounds, foams, places)
def test_more_time_in_a_pocket_without_a_slope_takes_liquid_no_farther_back(wound, foam, place):
    # Supine on the front, curved or not: what has spread does not gather again at the port.
    sheet = laid(replace(wound, face="front"), parse_posture("supine"), replace(foam, capillary_height_cm=0.0))
    at = column(sheet, place)
    poured = [(at, 0.2 * sheet.full_ml.sum())]
    soon, late = (spread(sheet, poured, Soak(20.0, dwell)) for dwell in (1.0, 120.0))
    assert late.head_cm[-1][at] <= soon.head_cm[-1][at] + 0.02
