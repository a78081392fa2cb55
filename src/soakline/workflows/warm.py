"""Plan a tiny invented case, so that the numerical kernels are compiled and kept."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

from numba.core.registry import CPUDispatcher

from soakline import fluid, wound
from soakline.casefile.read import read_case
from soakline.errors import InputRefused
from soakline.settings import Settings
from soakline.workflows.one_row import curve_of_row
from soakline.workflows.plan import plan_case
from soakline.workflows.whole_day import whole_day

_TINY = """
format = "soakline-case/1"
label = "Warming up"
purpose = "teaching"

[wound]
face = "front"
part = "trunk"
girth_cm = 100

[wound.opening]
length_cm = 4
width_cm = 4
depth_cm = 2

[[wound.undermining]]
from = 12
to = 6
reach_cm = 2
height_cm = { low = 0.8, likely = 1.0, high = 1.2 }

[[wound.tunnel]]
clock = 3
length_cm = 2
diameter_cm = 1
end_felt = true

[[port]]
name = "I1"
kind = "instillation"
clock = 3
from_edge_cm = 1
unit = "A"

[[port]]
name = "S1"
kind = "suction"
clock = 4
from_edge_cm = 1
unit = "A"

[[unit]]
name = "A"
fill_ml = 10
fill_min = 1
dwell_min = 1
suction_min = 700

[posture]
allowed = ["supine", "left 30"]
"""


def warm_kernels(settings: Settings) -> None:
    """Plan the tiny case once; numba keeps what it compiles on disk for every later run."""
    _forget_changed()
    reading = read_case(_TINY)
    if reading.case is None:
        raise InputRefused(reading.findings)
    plan = plan_case(reading.case, reading.findings, settings)
    if plan.picture is None:
        msg = "the tiny case has no picture: its kernels are not compiled"
        raise ValueError(msg)
    whole_day(reading.case, plan.picture)
    for row in range(len(plan.reach)):
        curve_of_row(plan.picture, row)


def kernels() -> list[CPUDispatcher]:
    """Return every function of the program that numba compiles."""
    modules = [
        import_module(f"{room.__name__}.{module.name}")
        for room in (fluid, wound)
        for module in iter_modules(room.__path__)
    ]
    return [
        value
        for module in modules
        for value in vars(module).values()
        if isinstance(value, CPUDispatcher) and value.py_func.__module__ == module.__name__
    ]


def _forget_changed() -> None:
    sources = [file for room in (fluid, wound) for file in Path(room.__path__[0]).glob("*.py")]
    folders = {path for kernel in kernels() if (path := kernel.stats.cache_path)}
    forget_stale(sources, [file for path in folders for file in Path(path).glob("*.nb[ci]")])


def forget_stale(sources: Sequence[Path], kept: Sequence[Path]) -> None:
    """Drop all kept kernels where one is older than a source.

    Numba compiles a kernel again when its own module has changed, but not when a kernel that it calls or a constant
    that it reads has changed in another one.
    """
    newest_s = max(file.stat().st_mtime for file in sources)
    if any(file.stat().st_mtime < newest_s for file in kept):
        for file in kept:
            file.unlink(missing_ok=True)
