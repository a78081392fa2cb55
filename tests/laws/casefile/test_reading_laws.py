"""Whatever a file holds, reading never raises and never gives a number beyond measuring; a rewrite reads alike."""

import math
from dataclasses import fields, is_dataclass, replace
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from soakline.casefile.read import Reading, read_case
from soakline.casefile.write import write_case
from soakline.units import Range
from soakline.wound.entry import check_wound

EXAMPLES = [path.read_text("utf-8") for path in sorted((Path(__file__).parents[3] / "examples").glob("*.toml"))]
NUMBERS = st.one_of(
    st.sampled_from(
        ["nan", "inf", "-inf", "-0.0", "0", "1e308", "-1e308", "1e-308", "true", '"2,5"', '"1.5-2"', '""', "13"]
    ),
    st.floats(allow_nan=False, allow_infinity=False).map(repr),
    st.integers(-200, 200).map(str),
    st.just("{ low = 1, likely = 2, high = 3 }"),
)


def numbers_in(thing):
    if isinstance(thing, float):
        yield thing
    elif is_dataclass(thing):
        for field in fields(thing):
            yield from numbers_in(getattr(thing, field.name))
    elif isinstance(thing, tuple):
        for part in thing:
            yield from numbers_in(part)


def hold(reading):
    """Check what holds of every reading, and of the wound's check on it."""
    assert isinstance(reading, Reading)
    assert (reading.case is None) == any(f.level == "refuse" for f in reading.findings)
    assert all(f.says and f.level in {"refuse", "ask", "warn", "note"} for f in reading.findings)
    if reading.case is not None:
        assert all(math.isfinite(number) for number in numbers_in(reading.case))
        if reading.case.wound is not None:
            check_wound(reading.case.wound, reading.case.assumptions, reading.case.confirmed)


def test_a_planted_number_that_cannot_be_measured_is_found():
    case = read_case(EXAMPLES[0]).case
    planted = replace(case, wound=replace(case.wound, girth_cm=math.nan))
    assert not all(math.isfinite(number) for number in numbers_in(planted))


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(given_bytes):
    hold(read_case(given_bytes))


@given(st.text(alphabet=st.characters(codec="utf-8"), max_size=200), st.sampled_from(EXAMPLES), st.data())
def test_an_example_with_any_text_put_in_is_read_or_refused(words, example, data):
    place = data.draw(st.integers(0, len(example)))
    until = data.draw(st.integers(place, min(place + 60, len(example))))
    hold(read_case(example[:place] + words + example[until:]))


@given(st.sampled_from(EXAMPLES), st.data())
@settings(max_examples=200)
def test_an_example_with_any_lines_changed_is_read_or_refused(example, data):
    lines = example.split("\n")
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.sampled_from([i for i, line in enumerate(lines) if " = " in line]))
        lines[place] = f"{lines[place].split(' = ')[0]} = {data.draw(NUMBERS)}"
    hold(read_case("\n".join(lines)))


@given(st.sampled_from(EXAMPLES), st.data())
def test_an_example_with_lines_gone_or_moved_is_read_or_refused(example, data):
    lines = example.split("\n")
    kept = data.draw(st.lists(st.sampled_from(range(len(lines))), min_size=1, max_size=len(lines)))
    hold(read_case("\n".join(lines[i] for i in kept)))


SIZES = st.floats(0.5, 6).map(lambda x: round(x, 3))
CHANGES = {
    "wound.girth_cm": SIZES.map(lambda x: 90 + x),
    "wound.opening.length_cm": SIZES,
    "wound.opening.depth_cm": st.one_of(SIZES, SIZES.map(lambda x: Range(x, x + 1, x + 2))),
    "unit.0.fill_ml": SIZES,
    "unit.0.solution": st.text(
        alphabet=st.characters(categories=["L", "N"], include_characters=" \"'\\#="), max_size=20
    ).filter(str.strip),
    "gate.eschar": st.sampled_from(["yes", "no", "unknown"]),
    "posture.allowed": st.just(["prone", "left 45"]),
    "confirmed": st.lists(st.sampled_from(["wound.girth_cm", "unit.0.fill_ml"]), max_size=2, unique=True),
}


@given(st.sampled_from(EXAMPLES), st.sets(st.sampled_from(sorted(CHANGES)), min_size=1), st.data())
def test_what_is_written_is_what_is_read(example, keys, data):
    changes = {key: data.draw(CHANGES[key], label=key) for key in keys}
    first = write_case(example, changes)
    again = write_case(first, changes)
    assert first == again
    case = read_case(first).case
    assert case is not None, read_case(first).findings
    for key, value in changes.items():
        assert found_in(case, key) == (sorted(value) if key == "confirmed" else value)
    assert [line for line in example.split("\n") if line.startswith("#")] == [
        line for line in first.split("\n") if line.startswith("#")
    ]


@given(st.sampled_from(EXAMPLES))
def test_writing_nothing_changes_nothing(example):
    assert write_case(example, {}) == example


def found_in(case, key):
    if key == "confirmed":
        return sorted(case.confirmed) if case.confirmed else []
    if key == "posture.allowed":
        return [posture.name for posture in case.posture]
    if key.startswith("gate."):
        return case.gate.answers[key.removeprefix("gate.")]
    thing = case
    for part in key.split("."):
        thing = thing[int(part)] if part.isdecimal() else getattr(thing, part)
    return thing
