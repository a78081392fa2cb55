"""Every source key that is written anywhere exists, and every truth test names what it is held against."""

import ast
import re
from pathlib import Path

from soakline.sources import SOURCES

AREAS = "|".join(sorted({key.partition(".")[0] for key in SOURCES}))
IN_CODE = re.compile(rf"``((?:{AREAS})\.[a-z0-9_*]+)``|\bsource\(\s*\"([^\"]+)\"")
ON_PAGE = re.compile(rf"(?<!`)`((?:{AREAS})\.[a-z0-9_*]+)`(?!`)")
SAID = re.compile(r"[Ss]ource keys?:?\s+((?:``[^`]+``(?:,\s+|\s+and\s+)?)+)")


def keys_in_code(text: str) -> set[str]:
    said = {key for group in SAID.findall(text) for key in re.findall(r"``([^`]+)``", group)}
    return said | {one or other for one, other in IN_CODE.findall(text)}


def unknown(keys: set[str]) -> set[str]:
    """Give the keys that stand for no source; ``area.*`` stands for all of one area."""
    areas = {f"{key.partition('.')[0]}.*" for key in SOURCES}
    return {key for key in keys if key not in SOURCES and key not in areas}


def has_planted_wrong_answer(text: str) -> bool:
    names = [node.name for node in ast.walk(ast.parse(text)) if isinstance(node, ast.FunctionDef)]
    return any(name.startswith("test_") and re.search("planted|wrong|caught", name) for name in names)


def test_every_key_in_the_code_exists(root, package):
    files = [path for path in package.rglob("*.py") if path.name != "sources.py"]
    found = {str(path.relative_to(root)): unknown(keys_in_code(path.read_text("utf-8"))) for path in files}
    assert {path: keys for path, keys in found.items() if keys} == {}


def test_every_key_on_a_page_exists(root, pages):
    found = {str(page.relative_to(root)): unknown(set(ON_PAGE.findall(page.read_text("utf-8")))) for page in pages}
    assert {path: keys for path, keys in found.items() if keys} == {}


def test_a_planted_key_is_found():
    assert unknown(keys_in_code("Source key ``gate.fda``, ``gate.fdaa``.")) == {"gate.fdaa"}
    assert unknown(keys_in_code("Source keys ``measuring.clock`` and ``hearsay.of_old``.")) == {"hearsay.of_old"}
    assert unknown(keys_in_code('source("foam.nothing") and ``foam.*``')) == {"foam.nothing"}
    assert unknown(set(ON_PAGE.findall("as in `fluids.canister_shares`"))) == {"fluids.canister_shares"}


def test_every_source_is_kept_under_its_own_key():
    assert {key: source.key for key, source in SOURCES.items() if source.key != key} == {}


def test_every_truth_file_names_its_source_and_plants_a_wrong_answer(root):
    files = sorted((root / "tests" / "truth").rglob("test_*.py"))
    assert files
    assert [path.name for path in files if not names_source(path)] == []
    assert [path.name for path in files if not has_planted_wrong_answer(path.read_text("utf-8"))] == []


def names_source(path: Path) -> bool:
    return bool(set(re.findall(r"\b[a-z]+\.[a-z0-9_]+\b", path.read_text("utf-8"))) & SOURCES.keys())


def test_a_truth_file_without_a_planted_wrong_answer_is_found():
    assert not has_planted_wrong_answer("def test_volume_is_right(): ...\ndef planted_volume(): ...")
    assert has_planted_wrong_answer("def test_a_planted_volume_fails(): ...")
