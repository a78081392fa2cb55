"""A number of the trade says its unit in its name, or is on the list of those that have none."""

import importlib
import inspect
import pkgutil
import re
import types
import typing
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, is_dataclass
from importlib.util import find_spec

import numpy as np
import pytest
from numpy.typing import NDArray

from soakline.units import Measured, Range

TRADE = ("wound", "fluid", "layout", "therapy", "guard", "supplies", "progress")
ROOMS = [room for room in TRADE if find_spec(f"soakline.{room}")]
UNIT = "cm|cm2|cm3|ml|l|s|min|h|day|days|deg|mmhg|g|mg|kg|lb|m2"
WITH_UNIT = re.compile(rf"(^|_)({UNIT})(_per_({UNIT}))?$")
SAID_UNIT = re.compile(
    r"\b(cm²?|cm³|mL|minutes?|hours?|degrees|mmHg|mg|kg|m²|shares?|0–1|index|indices|(no|without) unit)\b"
)
# A function for numbers of any kind says so: its result has the unit of what it is given.
UNIT_OF_CALLER = re.compile(r"\b(of any|in any|in its|in its own|in the) unit\b(?! vector)")
# The last word of a name whose number has no unit.
WITHOUT_UNIT = {
    "always": "layouts, each places by index",
    "axis": "a direction, of length one",
    "change": "a share of what was before",
    "clock": "an hour on the wound",
    "column": "a place in the cavity's arrays",
    "count": "a number of things",
    "cycles": "a number of cycles",
    "digits": "a number of decimals",
    "draws": "a number of wounds drawn",
    "dry": "a share of area",
    "errands": "layouts to run in a wound, all by index",
    "familiar": "layouts, each places by index",
    "front": "layouts, each places by index",
    "high": "the end of a range whose holder has the unit",
    "index": "a place in an array",
    "layout": "places by index",
    "likely": "the middle of a range whose holder has the unit",
    "leaf": "a place in a tree",
    "low": "the end of a range whose holder has the unit",
    "moist": "a share of area",
    "noise": "a share of what was before",
    "none_found": "hours on the wound",
    "normal": "a direction, of length one",
    "outline": "corners as hour and cm from the edge",
    "pain_after": "a score, 0–10",
    "pain_before": "a score, 0–10",
    "pain_during": "a score, 0–10",
    "porosity": "a share of volume",
    "price": "money, in the site's own currency",
    "quantile": "a place in a distribution, 0–1",
    "ratio": "one over another of the same unit",
    "rinsed": "a share of area",
    "searched": "layouts, each places by index",
    "seed": "where random numbers start",
    "share": "part of one",
    "shares": "parts of one",
    "size": "a measured size, its unit beside it",
    "soaked": "a share of area",
    "towards_12": "a direction, of length one",
    "towards_3": "a direction, of length one",
    "up": "a direction, of length one",
    "wet": "a share of area",
}


@dataclass(frozen=True)
class Named:
    """A name with what is written for its type, and where it stands."""

    where: str
    name: str
    hint: object


def holds_number(hint: object) -> bool:
    """Say whether a value of this type is, or holds, a number."""
    if hint in {int, float, Range} or (inspect.isclass(hint) and issubclass(hint, np.ndarray | np.number)):
        return True
    origin = typing.get_origin(hint)
    if origin is np.ndarray:
        return not is_array_of(hint, np.bool_ | np.integer)
    if origin is None or origin is typing.Literal:
        return False
    if origin is Callable or getattr(origin, "__name__", "") == "Callable":
        return False
    return any(holds_number(part) for part in typing.get_args(hint))


def is_array_of(array: object, kinds: object) -> bool:
    """Say whether an array type holds such values alone; whole numbers are places in another array."""
    (kind,) = typing.get_args(typing.get_args(array)[1]) or (None,)
    return inspect.isclass(kind) and issubclass(kind, kinds)


def is_named_well(name: str) -> bool:
    """Say whether a name carries its unit, or ends in a word that has none."""
    return bool(WITH_UNIT.search(name)) or any(name == word or name.endswith("_" + word) for word in WITHOUT_UNIT)


def bare_numbers(named: Iterator[Named]) -> list[str]:
    """Give each name of a number that says no unit."""
    return [f"{n.where}: {n.name}" for n in named if holds_number(n.hint) and not is_named_well(n.name)]


def named_in(thing: object) -> Iterator[Named]:
    """Give the fields and arguments of one public function or class."""
    if inspect.isclass(thing):
        yield from named_in_class(thing)
    else:
        yield from named_in_function(thing)


def named_in_class(cls: type) -> Iterator[Named]:
    where = f"{cls.__module__}.{cls.__qualname__}"
    if is_dataclass(cls):
        hints = typing.get_type_hints(cls)
        yield from (Named(where, f.name, hints[f.name]) for f in fields(cls) if not f.name.startswith("_"))
    for name, member in vars(cls).items():
        function = getattr(member, "fget", None) or getattr(member, "__func__", member)
        if not name.startswith("_") and inspect.isfunction(function):
            yield from named_in_function(function, name_of_property=name if isinstance(member, property) else None)


def named_in_function(function: object, name_of_property: str | None = None) -> Iterator[Named]:
    function = getattr(function, "py_func", function)
    where = f"{function.__module__}.{function.__qualname__}"
    hints = typing.get_type_hints(function)
    returned = hints.pop("return", None)
    if UNIT_OF_CALLER.search(inspect.getdoc(function) or ""):
        return
    yield from (Named(where, name, hint) for name, hint in hints.items())
    if not SAID_UNIT.search(inspect.getdoc(function) or ""):
        yield Named(f"{where}, returned", name_of_property or function.__name__, returned)


def public_things(room: str) -> Iterator[object]:
    """Give each public function and class that one room of the trade defines."""
    package = importlib.import_module(f"soakline.{room}")
    for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
        if found.name.rpartition(".")[2].startswith("_"):
            continue
        module = importlib.import_module(found.name)
        for name, thing in vars(module).items():
            plain = getattr(thing, "py_func", thing)
            is_ours = getattr(plain, "__module__", None) == module.__name__
            if is_ours and not name.startswith("_") and (inspect.isclass(plain) or inspect.isfunction(plain)):
                yield thing


@pytest.mark.parametrize("room", ROOMS)
def test_every_number_of_the_trade_says_its_unit(room):
    things = list(public_things(room))
    assert things, f"nothing public found in {room}"
    assert [bare for thing in things for bare in bare_numbers(named_in(thing))] == []


@dataclass(frozen=True, slots=True)
class _Planted:
    depth: float
    reach_cm: Measured
    heights: NDArray[np.float64]
    end_felt: bool

    def area(self, scale: float, from_clock: float) -> float:
        """Return how large it is."""
        return self.depth * scale * from_clock


def test_planted_bare_numbers_are_refused():
    found = [bare.rpartition(": ")[2] for bare in bare_numbers(named_in(_Planted))]
    assert found == ["depth", "heights", "scale", "area"]


@pytest.mark.parametrize(
    "hint", [Measured, tuple[float, ...], dict[str, float], NDArray[np.float32], types.NoneType | int]
)
def test_numbers_are_found_inside_other_types(hint):
    assert holds_number(hint)


@pytest.mark.parametrize(
    "hint", [bool, str | None, typing.Literal["a"], NDArray[np.bool_], NDArray[np.int32], Callable[[float], float]]
)
def test_what_is_no_number_needs_no_unit(hint):
    assert not holds_number(hint)
