"""The bedside card as PDF: what a night nurse needs beside the bed, on one page where it fits."""

from __future__ import annotations

import importlib.util
import json
import math
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from functools import lru_cache
from itertools import product
from pathlib import Path
from typing import Any, cast

import typst

from soakline.casefile.case import Case
from soakline.errors import GateShut, InputRefused
from soakline.guard.gate import RULES_DATED
from soakline.papers import card_words
from soakline.papers.card_words import Line, Section
from soakline.pictures.wound_map import PAPER, SCALES, describe_map, draw_map, is_legible, map_size
from soakline.workflows.answers import Plan

_TEMPLATE = Path(__file__).with_name("card.typ")
_MAP_ROOM_MM = (118.0, 150.0)
_BAR_MM = 100.0
_LONGEST_WORD_CHARS = 24
_COLUMN_CHARS = 40
_FLOWING = ("foam", "lying", "clock", "see", "alarm", "write", "off", "before", "change", "call")
# How many of the flowing sections may stand beside the map, tried in this order.
_BESIDE_COUNTS = (5, 4, 3, 6)


@dataclass(frozen=True, slots=True)
class _Drawn:
    """A map ready to print: its SVG, the scale 1 : n, its width in mm, and the same in words."""

    svg: str
    one_to: int
    width_mm: float
    words: str


def make_card(case: Case, plan: Plan, *, printed_at: datetime, version: str) -> bytes:
    """Return the bedside card of a planned case as a tagged A4 PDF.

    The map is printed at the largest scale that leaves all on one page. What does not fit one page at 11 points runs on
    to a second with the same head, and both say how many there are: a card cut short would hide what it leaves out.
    Raises InputRefused when the plan refused an entry, and GateShut when the gate is shut and the purpose is care.
    """
    _may_leave(plan)
    words = _words(case, plan, printed_at, version)
    tried = list(product(_maps(case, plan), _BESIDE_COUNTS))
    fits = (layout for layout in tried if _page_count(_content(words, *layout)) == 1)
    return _print(_content(words, *next(fits, tried[0])), printed_at)


def _may_leave(plan: Plan) -> None:
    refused = [finding for finding in plan.findings if finding.level == "refuse"]
    if refused:
        raise InputRefused(refused)
    if plan.gate.state == "shut" and plan.purpose == "care":
        stops = "; ".join(stop.says for stop in plan.gate.stops if not stop.by_role)
        msg = f"no card: the gate is shut. Not answered for: {stops}. Answer each, or have a named role answer for it"
        raise GateShut(msg)


def _maps(case: Case, plan: Plan) -> list[_Drawn | None]:
    if plan.picture is None or case.wound is None:
        return [None]
    # No soaked area: it holds for one posture, and the card serves a whole shift of them.
    sizes = {one_to: map_size(plan.picture, case.wound, None, one_to) for one_to in SCALES}
    fitting = [n for n, (width, height) in sizes.items() if width <= _MAP_ROOM_MM[0] and height <= _MAP_ROOM_MM[1]]
    # A second page is better than a map that nobody can read.
    legible = [n for n in fitting if is_legible(plan.picture, case.wound, n)]
    words = describe_map(plan.picture, case.wound, None)
    return [
        _Drawn(draw_map(plan.picture, case.wound, None, one_to=n, inks=PAPER, prefix="card"), n, sizes[n][0], words)
        for n in legible or fitting[:1] or SCALES[-1:]
    ]


def _words(case: Case, plan: Plan, printed_at: datetime, version: str) -> dict[str, Any]:
    view = ("View not given: ask. PATIENT LEFT / PATIENT RIGHT: ask.",)
    if case.wound is not None:
        view = card_words.view_lines(case.wound)
    recorded = f" of {case.recorded_at:%Y-%m-%d %H:%M}" if case.recorded_at else ""
    return {
        "title": f"Bedside card: {_plain(plan.label)}",
        "teaching": plan.purpose == "teaching",
        "label": _plain(plan.label),
        "view": view,
        "top_mm": _top_mm(_plain(plan.label), view),
        "written": [_line(line) for line in card_words.written_lines(case, printed_at)],
        "gate": [_line(line) for line in card_words.gate_lines(plan)],
        "sections": {name: _section(part) for name, part in card_words.sections(case, plan, printed_at).items()},
        "stamp": f"Soakline {version} · rules of {RULES_DATED} · case {case.content_hash[:12] or 'not kept'}{recorded}",
        "not_an_order": card_words.NOT_AN_ORDER,
    }


def _content(words: dict[str, Any], drawn: _Drawn | None, beside_count: int) -> dict[str, str]:
    below = _FLOWING[beside_count:]
    half = _half(words, below)
    layout: dict[str, object] = {
        "map_mm": max(_BAR_MM, drawn.width_mm if drawn else 0.0),
        "map_title": card_words.map_title(drawn.one_to if drawn else None),
        "map_words": drawn.words if drawn else "",
        "bar": card_words.bar_words(drawn.one_to if drawn else None),
        "beside": _FLOWING[:beside_count],
        "below_left": below[:half],
        "below_right": below[half:],
    }
    return {"card": json.dumps({**words, **layout}), **({"map": drawn.svg} if drawn else {})}


def _half(words: dict[str, Any], names: Sequence[str]) -> int:
    """Return after how many sections to break, so that both columns are about as long."""
    rows = [_row_count(words["sections"][name]) for name in names]
    return min(range(len(names) + 1), key=lambda cut: (max(sum(rows[:cut]), sum(rows[cut:])), -cut))


def _row_count(section: dict[str, Any]) -> int:
    first, *others = (line["words"] for line in section["lines"])
    return sum(len(textwrap.wrap(said, _COLUMN_CHARS)) or 1 for said in (f"{section['title']} {first}", *others))


def _page_count(inputs: dict[str, str]) -> int:
    return int(json.loads(_compiler(inputs).query("<pages>", field="value", one=True)))


def _print(inputs: dict[str, str], printed_at: datetime) -> bytes:
    moment = printed_at if printed_at.tzinfo else printed_at.replace(tzinfo=UTC)
    # One document, written to memory: the library's wider type is for files and pictures of single pages.
    return cast("bytes", _compiler(inputs).compile(format="pdf", timestamp=math.floor(moment.timestamp())))


def _compiler(inputs: dict[str, str]) -> typst.Compiler:
    return typst.Compiler(str(_TEMPLATE), font_paths=_fonts(), ignore_system_fonts=True, sys_inputs=inputs)


@lru_cache(maxsize=1)
def _fonts() -> typst.Fonts:
    # The plotting library brings a font that has every letter used here; its folder is found without loading it.
    found = importlib.util.find_spec("matplotlib")
    if found is None or found.origin is None:
        msg = "the plotting library, which brings the card's font, is not installed"
        raise RuntimeError(msg)
    folder = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf"
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(folder)])


def _top_mm(label: str, view: tuple[str, ...]) -> float:
    label_lines = len(textwrap.wrap(label, 34)) or 1
    view_lines = len(textwrap.wrap(" ".join(view), 80))
    return 6.5 + 6.4 * label_lines + 5.2 * view_lines


def _section(part: Section) -> dict[str, object]:
    return {"title": part.title, "lines": [_line(line) for line in part.lines]}


def _line(line: Line) -> dict[str, object]:
    return {**asdict(line), "words": _plain(line.words)}


def _plain(text: str) -> str:
    r"""Return words on one line without control characters; a word too long for a column may be broken.

    >>> _plain("a\nb"), _plain("x" * 30).count("\u200b")
    ('a b', 1)
    """
    printable = "".join(c if c.isprintable() else " " for c in text)
    return " ".join("\u200b".join(_pieces(word)) for word in printable.split())


def _pieces(word: str) -> Iterator[str]:
    for start in range(0, len(word), _LONGEST_WORD_CHARS):
        yield word[start : start + _LONGEST_WORD_CHARS]
