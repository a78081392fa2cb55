"""The rules of the house name every room that they are for."""

import tomllib
from importlib.util import find_spec

import pytest

TRADE = ("wound", "fluid", "layout", "therapy", "guard", "supplies", "progress")


@pytest.fixture(scope="module")
def contracts(root) -> dict[str, dict[str, object]]:
    rules = tomllib.loads((root / "pyproject.toml").read_text("utf-8"))["tool"]["importlinter"]["contracts"]
    return {rule["name"]: rule for rule in rules}


def test_every_room_of_the_trade_is_held_pure(contracts):
    pure = next(rule for name, rule in contracts.items() if name.startswith("The trade is pure"))
    there = {f"soakline.{room}" for room in TRADE if find_spec(f"soakline.{room}")}
    assert set(pure["source_modules"]) == there
