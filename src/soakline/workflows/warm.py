"""Plan a tiny invented case, so that the numerical kernels are compiled and kept."""

from __future__ import annotations

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
