"""Tests mirror kb: every module has a test of its name, or tests/mirror.toml names the test that serves it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.mirror import faults, modules, own_test, path_of, serving


def test_every_module_has_its_test() -> None:
    assert list(faults()) == []


@pytest.fixture
def trees(tmp_path: Path) -> Path:
    """A made-up checkout of three modules with something in them and two without, and one test."""
    for name, text in {
        "kb/a/__init__.py": '"""A."""\n',
        "kb/a/b.py": "X = 1\n",
        "kb/a/c/__init__.py": "def f(): ...\n",
        "kb/a/d.py": 'from kb.a import b\n__all__ = ["b"]\n',
        "kb/e.py": "def g(): ...\n",
        "tests/a/test_b.py": "",
    }.items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    return tmp_path


def test_a_module_without_a_test_is_named(trees: Path) -> None:
    said = list(faults(trees, {"tests/a/test_b.py": ("kb/e.py",)}))
    assert [line.partition(";")[0] for line in said] == ["kb/a/c/__init__.py: no tests/a/c/test_c.py"]
    assert modules(trees) == ["kb/a/b.py", "kb/a/c/__init__.py", "kb/e.py"]


def test_a_row_that_names_nothing_is_named(trees: Path) -> None:
    rows = {"tests/gone.py": ("kb/a/c/__init__.py",), "tests/a/test_b.py": ("kb/e.py", "kb/gone.py")}
    assert [line.removeprefix("tests/mirror.toml: ") for line in faults(trees, rows)] == [
        "tests/gone.py is not there; mend its row",
        "kb/gone.py is not there, or holds nothing to test; take it out",
    ]


def test_own_tests_come_first(trees: Path) -> None:
    assert serving("kb/a/b.py", trees, {"tests/more.py": ("kb/a/b.py",)}) == ("tests/a/test_b.py", "tests/more.py")


@pytest.mark.parametrize(
    ("module", "test"),
    [
        ("kb/job.py", "tests/test_job.py"),
        ("kb/calc/__init__.py", "tests/calc/test_calc.py"),
        ("kb/engine/wide/tree.py", "tests/engine/wide/test_tree.py"),
    ],
)
def test_a_test_has_the_name_of_its_module(module: str, test: str) -> None:
    assert own_test(module) == test


@pytest.mark.parametrize("name", ["kb/calc/__init__.py", "kb.calc"])
def test_a_module_is_named_in_two_ways(name: str) -> None:
    assert path_of(name) == "kb/calc/__init__.py"
