"""Warming compiles every kernel that the commands and the pages call, for the kinds of array they hand over."""

import os
from concurrent.futures import ProcessPoolExecutor
from importlib import import_module
from multiprocessing import get_context
from pkgutil import walk_packages

import pytest
from numba.core.caching import FunctionCache
from numba.core.registry import CPUDispatcher

import soakline
from soakline.casefile.read import read_case
from soakline.settings import Settings
from soakline.workflows.one_row import curve_of_row
from soakline.workflows.plan import Asked, plan_case
from soakline.workflows.play_out import play_out
from soakline.workflows.try_out import Trial, doubt_over, ground_of, try_out
from soakline.workflows.warm import forget_stale, kernels, warm_kernels
from soakline.workflows.where_liquid_goes import soak_of

# Small, and unlike the case that is planned to warm up: a traced edge, two pockets, two units that draw in turn.
CASE = """
format = "soakline-case/1"
label = "Two units"
purpose = "teaching"
time_zone = "Europe/Oslo"
[wound]
face = "back"
part = "trunk"
girth_cm = 90
[wound.opening]
outline_cm = [[-2, -1.5], [2, -2], [2.5, 2], [-1.5, 2]]
depth_cm = 2
[[wound.undermining]]
from = 1
to = 5
reach_cm = 3
height_cm = { low = 0.8, likely = 1.0, high = 1.4 }
ends = "taper"
[[wound.undermining]]
from = 7
to = 10
reach_cm = 3
height_cm = 1
basis = "estimated"
[wound.probed]
none_found = [6, 11, 12]
[[port]]
name = "IA"
kind = "instillation"
clock = 3
from_edge_cm = 1.5
unit = "A"
[[port]]
name = "SA"
kind = "suction"
clock = 3
from_edge_cm = 0.3
unit = "A"
[[port]]
name = "IB"
kind = "instillation"
clock = 9
from_edge_cm = 1.5
unit = "B"
[[port]]
name = "SB"
kind = "suction"
clock = 9
from_edge_cm = -1
unit = "B"
[[unit]]
name = "A"
fill_ml = 8
fill_min = 1
dwell_min = 4
suction_min = 115
started_at = 2026-11-20T08:00:00
[[unit]]
name = "B"
fill_ml = 6
fill_min = 1
dwell_min = 4
suction_min = 115
started_at = 2026-11-20T08:02:00
[posture]
allowed = ["prone", "left 30"]
"""


def loaded() -> set[str]:
    """Name each kernel that this process holds compiled, with the kinds of array it takes."""
    return {f"{kernel.py_func.__qualname__}{signature}" for kernel in kernels() for signature in kernel.signatures}


def asked_beyond_warming() -> tuple[list[int], list[str]]:
    """Count the kernels loaded before and after warming, and name those that the commands and the pages add."""
    settings = Settings.from_environment({"SOAKLINE_DRAWS": "32"})
    case = read_case(CASE).case
    assert case is not None
    counts = [len(loaded())]
    warm_kernels(settings)
    before = loaded()
    plan = plan_case(case, (), settings, Asked(search=True))
    assert plan.day is not None
    assert plan.layouts
    assert plan.therapy is not None
    assert plan.therapy.in_step is not None
    assert plan.therapy.in_step.drawn_on
    assert plan.picture is not None
    for row in range(len(plan.reach)):
        curve_of_row(plan.picture, row)
    ground = ground_of(case, settings)
    for poured in ((("IA", 8.0),), (("IA", 8.0), ("IB", 6.0))):
        for model in ("settled", "spread"):
            trial = Trial(case.port, poured, case.posture[0], model, soak_of(case.unit[0]))
            doubt_over(ground, trial, try_out(ground, trial))
            play_out(ground, trial)
    return [*counts, len(before)], sorted(loaded() - before)


def test_after_warming_nothing_that_is_asked_waits_to_be_compiled():
    # In a process of its own: what other tests have loaded here would hide what warming leaves out.
    with ProcessPoolExecutor(1, get_context("spawn")) as executor:
        counts, more = executor.submit(asked_beyond_warming).result()
    assert counts[0] == 0 < counts[1]
    assert more == []


def test_every_kernel_of_the_program_is_kept_where_warming_looks():
    modules = [
        import_module(module.name)
        for module in walk_packages(soakline.__path__, "soakline.")
        if ".migrations" not in module.name
    ]
    found = {value for module in modules for value in vars(module).values() if isinstance(value, CPUDispatcher)}
    assert found == set(kernels())
    assert [kernel for kernel in kernels() if not isinstance(kernel._cache, FunctionCache)] == []


@pytest.mark.parametrize(("changed_s", "left"), [(150, ["a.nbc", "a.nbi"]), (250, [])])
def test_kept_kernels_older_than_any_source_are_dropped_together(tmp_path, changed_s, left):
    times_s = {"one.py": 50, "other.py": changed_s, "a.nbi": 300, "a.nbc": 200}
    for name, time_s in times_s.items():
        (tmp_path / name).touch()
        os.utime(tmp_path / name, (time_s, time_s))
    forget_stale([*tmp_path.glob("*.py")], [*tmp_path.glob("a.*")])
    assert sorted(file.name for file in tmp_path.glob("a.*")) == left
