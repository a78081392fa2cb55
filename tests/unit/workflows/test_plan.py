"""The whole way from a case file to an answer: what is withheld, what is asked, what nonsense comes to."""

import json
import math
import subprocess
import sys
from pathlib import Path

import pytest

from soakline.errors import InputRefused
from soakline.settings import Settings
from soakline.workflows.as_json import as_json, plan_json
from soakline.workflows.in_words import say_doubt
from soakline.workflows.plan import Asked, check_text, plan_text

EXAMPLES = sorted((Path(__file__).parents[3] / "examples").glob("*.toml"))
SETTLED = Asked(models=("settled",))
HEAD = """
format = "soakline-case/1"
label = "Anything"
purpose = "teaching"
[wound]
face = "front"
part = "trunk"
girth_cm = 100
[wound.opening]
length_cm = 6
width_cm = 6
depth_cm = 2
"""
POCKET = """
[[wound.undermining]]
from = 12
to = 6
reach_cm = 4
height_cm = 1
"""


GLANCES = """
import sys
from pathlib import Path
from soakline.settings import Settings
from soakline.workflows.plan import Asked, plan_text

for example in sys.argv[1:]:
    plan_text(Path(example).read_bytes(), Settings.from_environment({}), Asked(models=()))
print(*sorted({"scipy.sparse", "scipy.optimize"} & set(sys.modules)))
"""


class StoppedError(Exception):
    """What a person's Ctrl+C is turned into."""


@pytest.fixture(scope="module")
def settings():
    return Settings.from_environment({"SOAKLINE_DRAWS": "16", "SOAKLINE_SPACING_CM": "0.5"})


@pytest.fixture(scope="module")
def plan(settings):
    return lambda text: plan_text(text, settings, SETTLED)


def findings(plan, level):
    return [found for found in plan.findings if found.level == level]


def volumes_in(value):
    """Give every key that tells a volume and is not empty."""
    if isinstance(value, dict):
        return [k for k, v in value.items() if k.endswith("_ml") and v is not None] + volumes_in(list(value.values()))
    return [key for item in value for key in volumes_in(item)] if isinstance(value, list) else []


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_gives_an_answer_that_json_can_hold(example, settings):
    # A number that is not finite is refused as the text is written.
    answer = json.loads(plan_json(plan_text(example.read_bytes(), settings, SETTLED)))
    assert answer["findings"]
    assert answer["gate"]["state"] in {"open", "shut"}


def test_a_shut_gate_leaves_findings_and_gate_alone(plan):
    shut = plan((HEAD + POCKET).replace("teaching", "care"))
    assert shut.gate.state == "shut"
    assert set(json.loads(plan_json(shut))) == {"label", "purpose", "findings", "gate"}
    assert (shut.wound, shut.reach, shut.fill_ml, shut.therapy, shut.picture) == (None, (), None, None, None)
    assert shut.next_measurement == ()


def test_teaching_is_planned_with_its_gate_shut(plan):
    taught = plan(HEAD + POCKET)
    assert taught.gate.state == "shut"
    assert taught.wound.void_ml.likely == pytest.approx(119.4, abs=0.05)
    assert taught.reach


def test_no_depth_answers_with_areas_and_what_to_measure(plan):
    half = plan((HEAD + POCKET).replace("depth_cm = 2", ""))
    assert half.wound.pocket_cm2 == pytest.approx(62.8, abs=0.05)
    assert (half.wound.void_ml, half.fill_ml, half.reach) == (None, None, ())
    assert half.next_measurement[0].what == "depth, straight in"


def test_hours_that_nobody_probed_stand_beside_every_size_and_come_next(plan):
    probed = "[wound.probed]\nnone_found = [7, 8, 9, 10, 11]\n"
    some, every = plan(HEAD + POCKET), plan(HEAD + POCKET + probed)
    assert (some.wound.not_probed, every.wound.not_probed) == ((7, 8, 9, 10, 11), ())
    assert "larger if there is undermining at 7, 8, 9, 10, 11 o'clock, not probed" in say_doubt(some.wound)
    assert some.next_measurement[0].what == "undermining at 7, 8, 9, 10, 11 o'clock"
    assert not any("undermining at" in step.what for step in every.next_measurement)
    assert say_doubt(every.wound) != say_doubt(some.wound)
    assert some.wound.void_ml == every.wound.void_ml


def test_a_wound_of_which_no_hour_was_probed_says_so(plan):
    assert "larger if there is undermining: no hour was probed" in say_doubt(plan(HEAD).wound)


def test_no_opening_answers_with_what_to_measure(plan):
    nothing = plan(HEAD.replace("length_cm = 6\nwidth_cm = 6\ndepth_cm = 2", ""))
    assert nothing.wound is None
    assert "wound.opening.length_cm" in [found.where for found in findings(nothing, "warn")]


def test_no_wound_is_told(plan):
    nothing = plan('format = "soakline-case/1"\nlabel = "x"\npurpose = "teaching"\n')
    assert "wound" in [found.where for found in findings(nothing, "warn")]


def test_no_girth_gives_volumes_and_no_reach(plan):
    flat = plan((HEAD + POCKET).replace("girth_cm = 100", ""))
    assert flat.wound.void_ml is not None
    assert flat.reach == ()
    assert any("girth" in step.what for step in flat.next_measurement)


DOUBTFUL = HEAD + POCKET.replace("reach_cm = 4", "reach_cm = 23")


def test_a_measure_nobody_confirmed_withholds_every_volume(plan):
    asked = plan(DOUBTFUL)
    assert [found.where for found in findings(asked, "ask")] == ["wound.undermining.0.reach_cm"]
    answer = json.loads(plan_json(asked))
    assert volumes_in(answer) == []
    assert answer["reach"] == []
    assert " mL" not in json.dumps(answer["next_measurement"]) + json.dumps(answer["wound"])
    assert "wound.undermining.0.reach_cm" in asked.next_measurement[0].what


def test_a_confirmed_measure_gives_them(plan):
    confirmed = 'confirmed = ["wound.undermining.0.reach_cm"]\n[wound]\n'
    answered = plan(DOUBTFUL.replace("[wound]\n", confirmed, 1))
    assert findings(answered, "ask") == []
    assert answered.wound.void_ml is not None
    assert answered.reach
    assert any(found.says.startswith("confirmed: ") for found in findings(answered, "note"))


def test_a_grid_too_large_for_memory_is_a_finding():
    small = Settings.from_environment(
        {"SOAKLINE_MEMORY_MB": "64", "SOAKLINE_SPACING_CM": "0.1", "SOAKLINE_DRAWS": "16"}
    )
    wide = HEAD.replace("length_cm = 6", "length_cm = 40").replace("width_cm = 6", "width_cm = 40") + POCKET
    found = plan_text(wide, small, SETTLED)
    assert any("take a wider grid" in warning.says for warning in findings(found, "warn"))
    assert found.wound.void_ml is not None
    assert found.reach == ()


def test_a_stop_raised_through_progress_stops(settings):
    told = []

    def stop(share):
        told.append(share)
        raise StoppedError

    with pytest.raises(StoppedError):
        plan_text(HEAD + POCKET, settings, Asked(models=("settled",), progress=stop))
    assert len(told) == 1


def test_progress_rises_to_one(settings):
    told = []
    plan_text(HEAD + POCKET, settings, Asked(models=("settled",), progress=told.append))
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_the_same_file_gives_the_same_answer(plan):
    assert plan_json(plan(HEAD + POCKET)) == plan_json(plan(HEAD + POCKET))


def test_check_gives_the_findings_of_the_plan_before_it_is_planned(plan):
    assert set(check_text(HEAD + POCKET)) <= set(plan(HEAD + POCKET).findings)


def test_a_number_that_is_not_finite_has_no_place_in_an_answer():
    with pytest.raises(ValueError, match="finite"):
        as_json(math.nan)
    with pytest.raises(TypeError, match="no place"):
        as_json(object())


def test_a_pocket_thinner_than_a_millimetre_is_a_pocket(plan):
    thin = plan(HEAD + POCKET.replace("height_cm = 1", "height_cm = 0.05"))
    assert thin.wound.void_ml.likely == pytest.approx(56.55 + 62.83 * 0.05, abs=0.05)
    assert thin.reach[0].roof is not None


def test_a_pocket_that_some_plausible_wounds_do_not_have_has_a_range_all_the_same(plan):
    found = plan(HEAD + POCKET.replace("reach_cm = 4", "reach_cm = 0.4"))
    assert all(math.isfinite(end) for row in found.reach if row.roof_range for end in row.roof_range.soaked)
    assert json.loads(plan_json(found))["reach"]


def test_two_pockets_that_do_not_touch_are_joined_by_the_opening(plan):
    apart = POCKET.replace("from = 12\nto = 6", "clock = 2") + POCKET.replace("from = 12\nto = 6", "clock = 8")
    found = plan(HEAD + apart)
    assert found.wound.void_ml.likely == pytest.approx(56.55 + 2 * math.pi / 12 * 40, abs=0.05)
    full = [row for row in found.reach if row.posture == "supine"][-1]
    assert full.floor.soaked > 0.95


@pytest.mark.parametrize("clock", [9, 8])
def test_a_port_where_there_is_no_pocket_is_refused(plan, clock):
    port = f'[[port]]\nname = "I1"\nkind = "instillation"\nclock = {clock}\nfrom_edge_cm = 2\nunit = "A"\n'
    with pytest.raises(InputRefused, match="there is no pocket there"):
        plan(HEAD + POCKET + port + '[[unit]]\nname = "A"\nfill_ml = 20\n')


@pytest.mark.parametrize("clock", [12, 3, 6])
def test_a_port_at_the_first_and_the_last_hour_of_a_pocket_stands(plan, clock):
    port = f'[[port]]\nname = "I1"\nkind = "instillation"\nclock = {clock}\nfrom_edge_cm = 3\nunit = "A"\n'
    found = plan(HEAD + POCKET + port + '[[unit]]\nname = "A"\nfill_ml = 20\n')
    assert {row.port for row in found.reach} == {"I1"}


def test_a_fill_larger_than_the_void_is_told_and_what_finds_no_room(plan):
    found = plan(HEAD + POCKET + '[[unit]]\nname = "A"\nfill_ml = 900\n')
    assert any("may lift the drape" in warning.says for warning in findings(found, "warn"))
    assert all("find no room" in row.says for row in found.reach)
    assert all(row.floor.soaked == pytest.approx(1.0, abs=1e-6) for row in found.reach)


@pytest.mark.parametrize(
    "posture", ["left 90", "right 90", "prone", "head down 90", "head up 90", "prone left 90", "left 45 head up 45"]
)
def test_upright_and_upside_down_are_answered(plan, posture):
    found = plan(HEAD + POCKET + f'[posture]\nallowed = ["{posture}"]\n')
    for row in found.reach:
        assert 0.0 <= row.floor.soaked <= 1.0
        assert row.floor.soaked + row.floor.moist + row.floor.dry == pytest.approx(1.0)
        assert row.floor.rinsed == 0.0
        assert row.posture == posture


def test_prone_soaks_the_roof_before_the_floor(plan):
    found = plan(HEAD + POCKET + '[posture]\nallowed = ["supine", "prone"]\n')
    supine, prone = ({r.posture: r for r in reversed(found.reach)}[name] for name in ("supine", "prone"))
    assert supine.floor.dry < 0.05
    assert prone.floor.soaked < 0.2
    assert prone.roof.dry < supine.roof.dry


def test_a_refused_reading_is_told_with_all_else_that_refuses_or_is_asked():
    text = (
        'format = "soakline-case/1"\nlabel = "x"\n[wound]\nface = "front"\npart = "trunk"\ngirth_cm = 96\n'
        "[wound.opening]\nlength_cm = 110\nwidth_cm = 45\nwidht_cm = 4\ndepth_cm = 20\n"
        '[[unit]]\nname = "A"\nfill_ml = -60\n'
    )
    refused = {found.where for found in check_text(text) if found.level == "refuse"}
    assert refused == {
        "wound.opening.widht_cm",
        "wound.opening.length_cm",
        "wound.opening.depth_cm",
        "unit.0.fill_ml",
    }
    with pytest.raises(InputRefused) as error:
        plan_text(text, Settings.from_environment())
    assert {found.where for found in error.value.findings if found.level == "refuse"} == refused


def test_a_glance_at_every_example_waits_for_no_solver():
    done = subprocess.run([sys.executable, "-c", GLANCES, *EXAMPLES], capture_output=True, text=True, check=True)
    assert done.stdout.split() == []
