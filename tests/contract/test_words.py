"""Nothing that is shown orders, praises or promises: the words and marks that an aid must not use."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from soakline.sources import SOURCES

FORBIDDEN = re.compile(
    r"\b(recommend(s|ed|ing|ations?)?|optimal(ly)?|optimum|best|safe(r|st|ly|ty)?|ok|okay|approved?|approves"
    r"|guarantee(s|d)?)\b|[✓✔✅☑]",
    re.IGNORECASE,
)
# A filter of the template language, not a word that is shown.
JINJA_SAFE = re.compile(r"\|\s*safe\b(?=[^{}]*[}%]\})")
COMMENT = re.compile(r"<!--.*?-->|\{#.*?#\}|/\*.*?\*/|(?m:^\s*//.*$)", re.DOTALL)
# The title or the place of a published source is quoted as it is.
QUOTED = tuple(source.citation for source in SOURCES.values())
SHOWN = ("*.html", "*.jinja", "*.j2", "*.typ", "*.js", "*.svg", "*.md", "*.toml")


def forbidden_in(text: str) -> list[str]:
    """Give the forbidden words of a text, but for those inside a quoted source."""
    for quoted in QUOTED:
        text = text.replace(quoted, "")
    return [found.group().lower() for found in FORBIDDEN.finditer(text)]


def shown_strings(tree: ast.Module, *, with_docstrings: bool) -> Iterator[ast.Constant]:
    """Give each string of a module that may be shown; docstrings are shown by the command line alone."""
    documents = {
        id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    for node in ast.walk(tree):
        if (
            isinstance(node, ast.Constant)
            and isinstance(node.value, str)
            and (with_docstrings or id(node) not in documents)
        ):
            yield node


def forbidden_in_python(path: Path) -> list[str]:
    tree = ast.parse(path.read_text("utf-8"))
    strings = shown_strings(tree, with_docstrings="cli" in path.parts)
    return [f"{path.name}:{node.lineno}: {word}" for node in strings for word in forbidden_in(node.value)]


def forbidden_in_shown_file(path: Path) -> list[str]:
    text = JINJA_SAFE.sub("", COMMENT.sub("", path.read_text("utf-8")))
    return [f"{path.name}: {word}" for word in forbidden_in(text)]


def test_no_string_of_the_program_uses_a_forbidden_word(package):
    assert [found for path in sorted(package.rglob("*.py")) for found in forbidden_in_python(path)] == []


def test_no_template_script_or_example_uses_a_forbidden_word(root, package):
    files = [path for pattern in SHOWN for folder in (package, root / "examples") for path in folder.rglob(pattern)]
    assert [found for path in sorted(files) for found in forbidden_in_shown_file(path)] == []


def test_planted_words_are_found(tmp_path):
    template = tmp_path / "page.html"
    template.write_text("<p>{{ words|safe }} is Safe</p><!-- best --><b>✔</b>", "utf-8")
    assert forbidden_in_shown_file(template) == ["page.html: safe", "page.html: ✔"]
    module = tmp_path / "answer.py"
    module.write_text('"""The best."""\nSAYS = f"{1} is optimal"\n', "utf-8")
    assert forbidden_in_python(module) == ["answer.py:2: optimal"]


def test_words_that_only_begin_alike_are_let_be():
    assert forbidden_in("token, book, unsafe_allow, bestow, approving glance") == []
