"""Everything that is public is documented, and the pages say nothing that is not there."""

import ast
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path

from soakline.faces.cli.main import app
from soakline.settings import PREFIX, Settings
from soakline.workflows.in_words import CAUTION

HEADING = re.compile(r"^#{1,6} .*$", re.MULTILINE)
LINK = re.compile(r"\]\((?!https?://|#|mailto:)([^)#\s]+)(?:#[^)]*)?\)")
TOML_BLOCK = re.compile(r"^```toml\n(.*?)^```", re.MULTILINE | re.DOTALL)
NAMED_TEST = re.compile(r"`[\w/]*(?:test_\w+\.py)?::(test_\w+)`")
SESSION = re.compile(r"^```console\n\$ \.venv/bin/(soakline .*)\n((?:.*\n)*?)```", re.MULTILINE)
Documented = ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef


def undocumented(tree: ast.Module, where: str) -> list[str]:
    """Give each public thing without a docstring, and the module when its first line is not one sentence."""
    found = [f"{where}: {name}" for name, node in public(tree) if not ast.get_docstring(node)]
    first_line = (ast.get_docstring(tree) or "").partition("\n")[0]
    return found if first_line.endswith(".") else [f"{where}: first line", *found]


def public(node: Documented, within: str = "") -> Iterator[tuple[str, Documented]]:
    """Give each public class and function in a module, and each public method of a public class."""
    for child in node.body:
        if isinstance(child, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) and not child.name.startswith("_"):
            yield within + child.name, child
            if isinstance(child, ast.ClassDef):
                yield from public(child, f"{child.name}.")


def headings(pages: list[Path]) -> str:
    return "\n".join(line for page in pages for line in HEADING.findall(page.read_text("utf-8")))


def without_heading(names: list[str], lines: str) -> list[str]:
    """Give each name that no heading holds as a whole, set as code."""
    return [name for name in names if not re.search(rf"`{re.escape(name)}(?![\w-])", lines)]


def commands() -> list[str]:
    alone = [found.name or found.callback.__name__ for found in app.registered_commands]
    return [f"soakline {name}" for name in [*alone, *(group.name for group in app.registered_groups)]]


def test_every_public_thing_says_in_words_what_it_is(package):
    files = [path for path in package.rglob("*.py") if "versions" not in path.parts]
    found = [line for path in files for line in undocumented(ast.parse(path.read_text("utf-8")), path.name)]
    assert found == []


def test_a_planted_silent_function_is_found():
    planted = '"""No sentence"""\nclass A:\n    """Say."""\n    def b(self): ...\n    def _c(self): ...\n'
    assert undocumented(ast.parse(planted), "x") == ["x: first line", "x: A.b"]


def test_every_command_has_its_heading(pages):
    assert len(commands()) >= 5
    assert without_heading(commands(), headings(pages)) == []


def test_every_setting_has_its_heading(pages):
    assert without_heading([PREFIX + field.name.upper() for field in fields(Settings)], headings(pages)) == []


def test_no_heading_names_a_setting_or_a_command_that_is_gone(pages):
    lines = headings(pages)
    known = {PREFIX + field.name.upper() for field in fields(Settings)} | set(commands())
    assert set(re.findall(rf"`({PREFIX}[A-Z_]+|soakline [a-z]+)", lines)) - known == set()


def test_a_planted_command_without_heading_is_found():
    assert without_heading(["soakline plan", "soakline warm"], "## `soakline plan CASE.toml`\n# soakline warm") == [
        "soakline warm"
    ]
    assert without_heading(["soakline plan"], "## `soakline planned`") == ["soakline plan"]


def test_every_room_has_its_page(root, package):
    rooms = sorted(path.parent.name for path in package.glob("*/__init__.py"))
    assert [room for room in rooms if not has_page(root / "docs" / f"{room}.md")] == []


def has_page(page: Path) -> bool:
    return page.is_file() and page.read_text("utf-8").startswith("# ")


def test_every_link_of_a_page_leads_somewhere(root, pages):
    links = [(page, link) for page in pages for link in LINK.findall(page.read_text("utf-8"))]
    assert [f"{page.relative_to(root)}: {link}" for page, link in links if not (page.parent / link).exists()] == []


def test_every_piece_of_a_case_file_on_a_page_can_be_read(pages):
    pieces = [piece for page in pages for piece in TOML_BLOCK.findall(page.read_text("utf-8"))]
    assert pieces
    for piece in pieces:
        assert tomllib.loads(piece)


def test_every_case_file_that_a_page_names_is_there(root, pages):
    named = {(page, name) for page in pages for name in re.findall(r"examples/[\w-]+\.toml", page.read_text("utf-8"))}
    assert [f"{page.name}: {name}" for page, name in sorted(named) if not (root / name).is_file()] == []


def gone_tests(text: str, root: Path) -> list[str]:
    written = "\n".join(path.read_text("utf-8") for path in (root / "tests").rglob("test_*.py"))
    return [name for name in NAMED_TEST.findall(text) if f"def {name}(" not in written]


def test_every_test_that_a_page_names_is_there(root, pages):
    assert [name for page in pages for name in gone_tests(page.read_text("utf-8"), root)] == []


def test_a_planted_test_that_is_not_there_is_found(root):
    named = "`test_x.py::test_" + "not_written`, `::test_the_readme_carries_the_caution_word_for_word`"
    assert gone_tests(named, root) == ["test_not_written"]


def test_the_readme_carries_the_caution_word_for_word(root):
    readme = (root / "README.md").read_text("utf-8")
    assert [part for part in CAUTION if part not in readme] == []


def not_answered(session: re.Match[str], root: Path) -> list[str]:
    """Give the lines that a page shows as an answer and that the program does not give; … stands for lines left out."""
    command = [str(Path(sys.executable).with_name("soakline")), *session[1].split()[1:]]
    answer = subprocess.run(command, cwd=root, capture_output=True, text=True, check=True).stdout.splitlines()
    return [line for line in session[2].splitlines() if line != "…" and line not in answer]


def test_what_the_pages_show_of_the_terminal_is_what_it_answers(root, pages):
    sessions = [found for page in pages for found in SESSION.finditer(page.read_text("utf-8"))]
    assert sessions
    assert [line for session in sessions for line in not_answered(session, root)] == []


def test_a_planted_answer_is_found(root):
    planted = SESSION.search("```console\n$ .venv/bin/soakline plan --help\n…\nMeasure nothing.\n```\n")
    assert planted is not None
    assert not_answered(planted, root) == ["Measure nothing."]
