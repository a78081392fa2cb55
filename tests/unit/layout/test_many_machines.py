"""Workers on other machines give the answer of this one, to the last bit: here two, over loopback."""

import numpy as np
import pytest

from soakline.fluid.posture import parse_posture
from soakline.fluid.spread import Soak
from soakline.layout.candidates import find_places
from soakline.layout.ensemble import Filling, Question, reach_over
from soakline.layout.search import Sought, UnitFill, search
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.plausible import draw_measures
from soakline.wound.sheet import lay_flat

distributed = pytest.importorskip("distributed", reason="the extra soakline[dask] is not installed")

WOUND = Wound(
    "left",
    "trunk",
    Opening(5.0, 5.0, 2.5),
    girth_cm=95.0,
    undermining=(Undermining(2, 4, reach_cm=7.0, height_cm=1.2), Undermining(8, 10, reach_cm=5.0, height_cm=1.2)),
)
ASSUMED = Assumptions()
POSTURES = (parse_posture("supine"), parse_posture("right 60"))
SHEET, FRAME = lay_flat(WOUND), frame_of(WOUND, ASSUMED)
PLACES = find_places(SHEET, FRAME, POSTURES).ports
SOAK = Soak(120.0, 480.0)
MEASURES = draw_measures(WOUND, ASSUMED, 16, seed=5)


@pytest.fixture(scope="module")
def workers():
    # Two processes of one thread each, as two machines would be; no page of the cluster is served.
    made = {"n_workers": 2, "threads_per_worker": 1, "processes": True, "dashboard_address": None}
    with distributed.LocalCluster(host="127.0.0.1", **made) as cluster, distributed.Client(cluster) as client:
        client.wait_for_workers(2)
        yield client


@pytest.fixture
def executor(workers):
    yield workers.get_executor(pure=False)
    done = workers.run(lambda dask_worker: dask_worker.state.executed_count)
    assert min(done.values()) > 0, "a worker that did nothing shows nothing"


def test_an_ensemble_of_plausible_wounds_is_the_same_on_two_workers(executor):
    fillings = tuple(Filling(port.name, ((port, 40.0),), SOAK) for port in PLACES[:4])
    question = Question(WOUND, ASSUMED, fillings, POSTURES, "settled", 0.5)
    likely = build_cavity(SHEET, FRAME, 0.5)
    here = reach_over(question, MEASURES, likely)
    there = reach_over(question, MEASURES, likely, executor=executor)
    np.testing.assert_array_equal(there.wound_share, here.wound_share)
    np.testing.assert_array_equal(there.patch_share, here.patch_share)
    assert np.ptp(here.wound_share[:, 0, 0, 0, 0]) > 0.0, "wounds that all answer alike could be swapped unseen"


def test_a_search_for_layouts_is_the_same_on_two_workers(executor):
    question = Question(WOUND, ASSUMED, (), POSTURES, "settled", 1.0)
    sought = Sought(question, PLACES[::3], (UnitFill("A", 60.0), UnitFill("B", 60.0)), SOAK, 2)
    here = search(sought, MEASURES, seed=3)
    there = search(sought, MEASURES, seed=3, executor=executor)
    assert (there.front, there.run_count, there.searched) == (here.front, here.run_count, here.searched)
    for layout, goals in here.goal_share.items():
        np.testing.assert_array_equal(there.goal_share[layout], goals)
