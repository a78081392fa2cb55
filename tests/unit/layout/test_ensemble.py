"""Reach over plausible wounds beside the same wounds looked at one by one."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from soakline.fluid.basins import basins_of
from soakline.fluid.posture import parse_posture
from soakline.fluid.reach import settled_map, shares_of, spread_map
from soakline.fluid.rest import room_of
from soakline.fluid.spread import Soak, lay_foam, spread
from soakline.layout.ensemble import Filling, Question, foam_of, maps_of, reach_over
from soakline.layout.ports import Port, column_of
from soakline.units import Range
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.plausible import draw_measures, wound_at
from soakline.wound.sheet import lay_flat

# Two arms on either side of the body's middle, so that not all ports drain to the same place.
WOUND = Wound(
    "front",
    "trunk",
    Opening(4.0, 3.0, 2.5),
    girth_cm=90.0,
    undermining=(
        Undermining(from_clock=2, to_clock=4, reach_cm=6.0, height_cm=Range(0.8, 1.2, 1.6), basis="estimated"),
        Undermining(from_clock=8, to_clock=10, reach_cm=7.0, height_cm=Range(0.8, 1.2, 1.6)),
    ),
)
FOAM = Assumptions()
PORTS = [
    Port(f"{clock}", "instillation", clock, cm) for clock, cm in ((12.0, -1.0), (3.0, 4.0), (3.0, 5.0), (9.0, 6.0))
]
POSTURES = (parse_posture("supine"), parse_posture("left 60"))
MEASURES = draw_measures(WOUND, FOAM, 16, seed=3)[:11]  # two lots, the second not whole


def asked(model, spacing_cm):
    soak = Soak(60.0, 120.0)
    fillings = [Filling(port.name, ((port, 20.0),), soak) for port in PORTS]
    fillings.append(Filling("both arms", ((PORTS[1], 10.0), (PORTS[3], 15.0)), soak))
    return Question(WOUND, FOAM, tuple(fillings), POSTURES, model, spacing_cm)


def built(wound, spacing_cm):
    sheet = lay_flat(wound)
    return sheet, build_cavity(sheet, frame_of(wound, FOAM), spacing_cm)


def one_map(question, measures, posture, filling):
    """Answer one filling of one wound in one posture, with nothing shared."""
    sheet, cavity = built(wound_at(WOUND, measures), question.spacing_cm)
    foam = foam_of(FOAM, measures)
    poured = [(column_of(port, sheet, cavity), fill_ml) for port, fill_ml in filling.poured_ml]
    if question.model == "settled":
        return cavity, settled_map(room_of(basins_of(cavity, posture.up()), foam), "", "", poured)
    return cavity, spread_map(spread(lay_foam(cavity, posture.up(), foam), poured, filling.soak), "", "", 0.0)


def one_by_one(question, likely):
    """Return shares by wound and by patch as ``Over`` holds them, by plain loops."""
    asked_of = len(POSTURES), len(question.fillings)
    wounds = np.full((len(MEASURES), *asked_of, 2, 4), np.nan)
    patches, there = np.zeros((*asked_of, 2, len(likely.u_cm), 2)), np.zeros(len(likely.u_cm))
    for number, measures in enumerate(MEASURES):
        for a, b in np.ndindex(asked_of):
            cavity, found = one_map(question, measures, POSTURES[a], question.fillings[b])
            at = cavity.columns_at(likely.u_cm, likely.v_cm, likely.in_opening)
            has = at >= 0
            there += has if (a, b) == (0, 0) else 0
            for side, told in enumerate(shares_of(cavity, found)):
                reached = (found.floor_share, found.roof_share)[side]
                patches[a, b, side, has] += np.stack((reached[at[has], 0], reached[at[has]].sum(axis=1)), axis=1)
                wounds[number, a, b, side] = told.soaked, told.moist, told.rinsed, told.dry
    return wounds, patches / np.maximum(there, 1.0)[:, None]


@pytest.mark.parametrize(("model", "spacing_cm"), [("settled", 0.5), ("spread", 1.0)])
def test_many_wounds_at_once_are_reached_as_one_by_one(model, spacing_cm):
    question = asked(model, spacing_cm)
    _, likely = built(WOUND, spacing_cm)
    found = reach_over(question, MEASURES, likely)
    wounds, patches = one_by_one(question, likely)
    np.testing.assert_allclose(found.wound_share, wounds, atol=1e-12)
    np.testing.assert_allclose(found.patch_share, patches, atol=1e-12)
    # Ports that drain apart must be told apart.
    assert np.abs(found.patch_share[0, 1] - found.patch_share[0, 3]).max() > 0.9


def test_an_executor_changes_nothing():
    question, (_, likely) = asked("settled", 0.5), built(WOUND, 0.5)
    told = []
    with ThreadPoolExecutor(2) as executor:
        shared = reach_over(question, MEASURES, likely, executor=executor, progress=told.append)
    alone = reach_over(question, MEASURES, likely)
    np.testing.assert_array_equal(shared.wound_share, alone.wound_share)
    np.testing.assert_array_equal(shared.patch_share, alone.patch_share)
    assert told == [0.5, 1.0]


def test_maps_come_posture_by_posture_and_carry_the_names_of_their_fillings():
    question, (sheet, cavity) = asked("settled", 0.5), built(WOUND, 0.5)
    maps = maps_of(question, cavity, sheet, foam_of(FOAM, MEASURES[0]))
    names = [filling.name for filling in question.fillings]
    assert [(found.posture, found.port) for found in maps] == [(p.name, n) for p in POSTURES for n in names]


def test_a_raise_of_progress_stops_what_has_not_begun():
    class Enough(Exception): ...

    def stop(_):
        raise Enough

    question, (_, likely) = asked("settled", 0.5), built(WOUND, 0.5)
    with ThreadPoolExecutor(1) as executor, pytest.raises(Enough):
        reach_over(question, MEASURES, likely, executor=executor, progress=stop)
