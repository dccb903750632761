"""Every file, module and page that a page, a docstring, a comment or the knowledge names is there."""

from __future__ import annotations

import ast
import io
import re
import tokenize
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from tests.mirror import ROOT
from tests.test_templates import FILES as TEMPLATES

#: A path from the root of the checkout; capitals stand for a name of the reader's own.
PATH = re.compile(r"(?<![\w./-])((?:kb|tests|docs|rules|generic_catalog)/[\w./-]*)")
MODULE = re.compile(r"(?<![\w./-])((?:kb|tests)(?:\.[A-Za-z_]\w*)+)")
#: A file named without its folder; TOML files may be the reader's own.
FILE = re.compile(r"(?<![\w./*-])([a-z_]+\.(?:py|md))\b")


def texts(root: Path = ROOT) -> Iterator[tuple[str, str]]:
    """What is said in the checkout, as (where, text): pages and knowledge whole, of the tests what is no code."""
    for pattern in ("*.md", "docs/*.md", "rules/**/*.toml", "generic_catalog/**/*.toml", "kb/**/*.py"):
        for path in sorted(root.glob(pattern)):
            yield str(path.relative_to(root)), path.read_text(encoding="utf-8")
    for path in sorted(root.glob("tests/**/*.py")):
        yield str(path.relative_to(root)), "\n".join(remarks(path.read_text(encoding="utf-8")))


def remarks(source: str) -> Iterator[str]:
    """The docstrings and the comments of a module."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and (said := ast.get_docstring(node)):
            yield said
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type == tokenize.COMMENT:
            yield token.string


def missing(text: str, root: Path = ROOT) -> set[str]:
    """What a text names that isn't there."""
    paths = {name.rstrip("./-") for name in PATH.findall(text) if name.lower() == name}
    gone = {name for name in paths - set(TEMPLATES.values()) if not (root / name).exists()}
    gone |= {name for name in MODULE.findall(text) if not has(name, root)}
    return gone | {name for name in FILE.findall(text) if name not in file_names(root)}


def has(name: str, root: Path) -> bool:
    """Whether a dotted name is a package, a module, or stands in one."""
    parts = name.split(".")
    for count in range(len(parts), 1, -1):
        path = root.joinpath(*parts[:count])
        source = path.with_suffix(".py") if path.with_suffix(".py").exists() else path / "__init__.py"
        if source.exists():
            return count == len(parts) or bool(re.search(rf"\b{parts[count]}\b", source.read_text(encoding="utf-8")))
    return False


@cache
def file_names(root: Path) -> set[str]:
    """The names of all modules and pages."""
    folders = ("kb", "tests", "docs")
    return {path.name for folder in folders for path in (root / folder).rglob("*.*")} | {p.name for p in root.glob("*")}


def test_all_that_is_named_is_there() -> None:
    assert {where: gone for where, text in texts() if (gone := missing(text))} == {}


@pytest.mark.parametrize(
    ("text", "gone"),
    [
        ("See kb/rules/gone.py, docs/gone.md.", {"kb/rules/gone.py", "docs/gone.md"}),
        ("`kb.rules.gone` and `kb.rules.words.gone`", {"kb.rules.gone", "kb.rules.words.gone"}),
        ("held by gone.py", {"gone.py"}),
        (
            "kb/rules/words.py, kb.rules.words.message, words.py, tests/stock/, docs/api.md and generic_catalog/KIND",
            set(),
        ),
    ],
)
def test_what_is_gone_is_named(text: str, gone: set[str]) -> None:
    assert missing(text) == gone


def test_remarks_are_all_that_is_no_code() -> None:
    source = '"""One."""\nX = "kb/gone.py"  # two\ndef f():\n    """Three."""\n'
    assert sorted(remarks(source)) == ["# two", "One.", "Three."]
