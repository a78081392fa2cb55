"""The page on the case file lists every key that is read, with its kind, and none that is not."""

import re
import typing
from pathlib import Path

import pytest

from soakline.casefile.complaints import keys_of, section_in, sections
from soakline.casefile.kinds import Kind
from soakline.casefile.read import read_case
from soakline.casefile.schema import CaseIn, GateIn
from soakline.guard.gate import CAUTIONS, STOPS

PAGE = (Path(__file__).parents[3] / "docs" / "casefile.md").read_text("utf-8")
SECTIONS = dict(sections())
ANSWERS = 'one of "yes", "no", "unknown"'


def heading(name):
    """Give the heading of a section as it is written in the file: in double brackets where there may be several."""
    if not name:
        return "### The file's top"
    holder, _, key = name.rpartition(".")
    field = keys_of(SECTIONS[holder])[key]
    return f"### `[[{name}]]`" if typing.get_origin(field.annotation) is list else f"### `[{name}]`"


def kind(annotation, metadata):
    """Give the words of a key's kind: its own, or of what stands in a list or beside None."""
    for mark in metadata:
        if isinstance(mark, Kind):
            return mark.says
    if typing.get_origin(annotation) is typing.Annotated:
        first, *marks = typing.get_args(annotation)
        return kind(first, marks)
    if typing.get_origin(annotation) is list:
        held = kind(typing.get_args(annotation)[0], ())
        return f"list of {held}" if held else None
    if typing.get_origin(annotation) is dict:
        return "part = count"
    return next(filter(None, (kind(part, ()) for part in typing.get_args(annotation))), None)


def left_out(field):
    """Give what becomes of a key that is not in the file."""
    if field.is_required():
        return "refused"
    default = field.default
    if default is None or default in ([], {}):
        return "not given"
    return f"taken as {str(default).lower() if isinstance(default, bool) else default}"


def table(section):
    rows = [
        f"| `{key}` | {kind(field.annotation, field.metadata)} | {left_out(field)} | {field.description} |"
        for key, field in keys_of(section).items()
        if section_in(field.annotation) is None or kind(field.annotation, field.metadata)
    ]
    if section is GateIn:
        rows = [f"| `{asked.key}` | {ANSWERS} | unknown | {asked.says} |" for asked in (*STOPS, *CAUTIONS)]
    return "\n".join(["| Key | Takes | Left out | Says |", "|---|---|---|---|", *rows])


def generated():
    """Give the part of the page that follows from the keys themselves."""
    return "\n\n".join(
        f"{heading(name)}\n\n{section.__doc__}\n\n{table(section)}" for name, section in SECTIONS.items()
    )


@pytest.mark.parametrize("name", SECTIONS)
def test_every_section_stands_on_the_page_with_its_keys(name):
    section = SECTIONS[name]
    assert f"{heading(name)}\n\n{section.__doc__}\n\n{table(section)}\n" in PAGE


def test_the_page_has_no_section_that_is_not_read():
    assert set(re.findall(r"^### .*", PAGE, re.MULTILINE)) == {heading(name) for name in SECTIONS}


def test_every_key_says_what_it_takes():
    assert "None" not in generated()


def test_a_planted_key_is_missed_on_the_page():
    planted = table(CaseIn).replace("`label`", "`title`")
    assert planted not in PAGE


def test_the_gate_takes_every_question_that_is_asked_at_it():
    answers = "\n".join(f'{asked.key} = "no"' for asked in (*STOPS, *CAUTIONS))
    case = read_case(f'format = "soakline-case/1"\n[gate]\n{answers}\n').case
    assert set(case.gate.answers) == {asked.key for asked in (*STOPS, *CAUTIONS)}


def test_the_case_on_the_page_reads_without_a_refusal():
    (example,) = re.findall(r"```toml\n(format = .*?)```", PAGE, re.DOTALL)
    reading = read_case(example)
    assert reading.case is not None
    assert reading.findings == ()
