"""`python -m tests.mutate`: small changes of a module are tried on a copy, and those that nothing notices are named."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.mutate.__main__ import main, spread
from tests.mutate.changes import changes
from tests.mutate.trial import try_changes

MODULE = '''"""Doors."""


def may_enter(age: int, with_parent: bool) -> bool:
    """Let in who is of age."""
    return age >= 18 or with_parent
'''
#: Notices all but that eighteen itself is of age.
TEST = """from kb.door import may_enter


def test_the_door():
    assert may_enter(30, False) is True
    assert may_enter(3, False) is False
    assert may_enter(3, True) is True
    assert may_enter(19, False) is True
"""


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    for name, text in {"kb/__init__.py": "", "kb/door.py": MODULE, "tests/test_door.py": TEST}.items():
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text)
    return tmp_path


def made(source: str) -> set[str]:
    """Every change of a piece of source, as it would be said."""
    return {f"{change.was} -> {change.now}" for change in changes(source)}


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("x = a < b", {"a < b -> a <= b"}),
        ("x = a is b", {"a is b -> a is not b"}),
        ("x = a and b", {"a and b -> a or b", "a and b -> a", "a and b -> b"}),
        ("x = not a", {"not a -> a"}),
        ("x = 7", {"7 -> 8"}),
        ("x = 0.4", {"0.4 -> 0.5"}),
        ("x = True", {"True -> False"}),
        ("x = a - b", {"a - b -> a + b"}),
        ("x = min(a, b)", {"min(a, b) -> max(a, b)"}),
        ("x = sorted(a, key=b)", {"sorted(a, key=b) -> list(a)"}),
        ("x = f(a, b)", {"f(a, b) -> f(b, a)"}),
        ("x = [a for a in b if a]", {"[a for a in b if a] -> [a for a in b]"}),
        ("def f():\n    return a", {"return a -> return None"}),
        ("if a:\n    f()", {"if a: f() -> if not a: f()", "f() -> (left out)"}),
        ("a.b = c", {"a.b = c -> (left out)"}),
    ],
)
def test_the_changes_of_a_line(source: str, expected: set[str]) -> None:
    assert made(source) == expected


@pytest.mark.parametrize(
    "source",
    [
        '"""Two < three."""',
        "x: int | None",
        "x = 'a' + b",
        "def f(a: 'b < c') -> int | None: ...",
        "@d(1)\nclass A: ...",
    ],
)
def test_words_types_and_decorators_stay(source: str) -> None:
    assert made(source) == set()


def test_each_change_stands_alone_and_in_its_line() -> None:
    found = changes(MODULE)
    assert [change.line for change in found] == [6] * len(found)
    assert all(change.source.count("\n") == changes(MODULE)[0].source.count("\n") for change in found)
    assert len({change.source for change in found}) == len(found)


def test_what_lives_is_named_and_the_checkout_is_left_alone(checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["kb.door", "--at-once", "2", "--tests", "tests/test_door.py"], checkout) == 1
    said = capsys.readouterr().out.splitlines()
    assert said[0] == "kb/door.py: 6 changes, 2 live [tests/test_door.py]"
    assert said[1:] == ["  kb/door.py:6: age >= 18  ->  age > 18", "  kb/door.py:6: 18  ->  19"]
    assert (checkout / "kb/door.py").read_text() == MODULE
    assert not list(checkout.rglob("*.pyc"))


def test_it_stops_when_time_is_up(checkout: Path) -> None:
    outcome = try_changes(checkout, "kb/door.py", ["tests/test_door.py"], changes(MODULE), seconds=0)
    assert (outcome.tried, outcome.live, outcome.left) == (0, (), 6)


def test_tests_that_fail_anyway_tell_nothing(checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (checkout / "tests/test_door.py").write_text("def test_it():\n    assert False\n")
    assert main(["kb/door.py", "--tests", "tests/test_door.py"], checkout) == 2
    assert "fail on kb/door.py as it is" in capsys.readouterr().err


def test_a_module_that_is_not_there_is_a_line(checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["kb/gone.py"], checkout) == 2
    assert capsys.readouterr().err == "kb/gone.py: is not there; name a module of kb\n"


def test_few_of_many_changes_are_spread_over_the_module() -> None:
    found = changes("\n".join(f"x = {number}" for number in range(100)))
    assert [change.line for change in spread(found, 4)] == [1, 26, 51, 76]
