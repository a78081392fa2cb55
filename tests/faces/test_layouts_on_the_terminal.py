"""Layouts on the terminal: every layout is told as people place it, and its letter stands on the small map."""

import io

import pytest
from rich.console import Console

from soakline.faces.cli.layouts import map_rows, say_layouts
from soakline.fluid.posture import parse_posture
from soakline.layout.ports import Port
from soakline.therapy.cycle import TherapyUnit
from soakline.workflows import where_ports_go
from soakline.workflows.where_ports_go import Searching, search_layouts
from soakline.wound.measurements import Assumptions, KeepClear, Opening, Undermining, Wound
from soakline.wound.plausible import draw_measures
from soakline.wound.sheet import lay_flat

WOUND = Wound(
    "front",
    "trunk",
    Opening(4.0, 4.0, 2.0),
    girth_cm=100.0,
    undermining=(Undermining(2, 4, reach_cm=4.0, height_cm=1.0), Undermining(8, 10, reach_cm=4.0, height_cm=1.0)),
    keep_clear=(KeepClear("mesh edge", 12, 2.0, 1.0),),
)
SHEET = lay_flat(WOUND)


@pytest.fixture(scope="module")
def found():
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(where_ports_go, "_SPACING_CM", 1.0)
        patch.setattr(where_ports_go, "_DRAWS", 4)
        return search_layouts(
            WOUND,
            Assumptions(),
            SHEET,
            (parse_posture("supine"), parse_posture("left 30")),
            (Port("IA", "instillation", 3.0, 3.0, "A"),),
            (TherapyUnit("A", fill_ml=25.0, fill_min=1.0, dwell_min=5.0),),
            draw_measures(WOUND, Assumptions(), 16, 1),
            Searching(1),
        )


@pytest.fixture(scope="module")
def printed(found):
    console = Console(file=io.StringIO(), width=400)
    say_layouts(console, found.layouts, found.search, None)
    return console.file.getvalue()


def test_every_layout_tells_each_of_its_ports_with_tube_distances_and_foam(found, printed):
    # From one layout's words to the next one's.
    parts = [f"\n  {layout.letter}  {layout.says}" for layout in found.layouts]
    starts = [printed.index(part) for part in parts]
    assert starts == sorted(starts)
    for layout, start, end in zip(found.layouts, starts, [*starts[1:], len(printed)], strict=True):
        told = printed[start:end]
        for port in layout.ports:
            (line,) = [line for line in told.splitlines() if line.strip().startswith(f"{port.name} ({port.kind}")]
            for words in (port.zone, port.tube, port.keeps_clear, port.lying, port.foam):
                assert words
                assert words in line


def test_each_layouts_letter_stands_on_the_small_map(found):
    drawn = "".join(map_rows(SHEET, found.layouts))
    assert {layout.letter for layout in found.layouts} <= set(drawn)
    assert "#" in drawn
