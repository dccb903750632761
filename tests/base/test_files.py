"""Files in, records out: each fault is one line that names the file, the field and the mend."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

import pytest
from pydantic import AfterValidator, Field

from kb.base.errors import BadInput
from kb.base.files import read_toml, toml_files, validated
from kb.base.models import Positive, Strict


def _even(number: str) -> str:
    if len(number) % 2:
        raise ValueError(f"'{number}' is not even; did you mean '{number}0'?")
    return number


class Innermost(Strict):
    depth_mm: Positive = 1.0


class Inner(Strict):
    length_mm: Positive
    colour: Literal["red", "green"] = "red"
    code: Annotated[str, AfterValidator(_even)] = "12"
    inside: Innermost = Innermost()


class Form(Strict):
    """A form with every kind of field."""

    name: str
    is_: int | None = Field(None, alias="is")
    parts: tuple[Inner, ...] = ()
    by_name: dict[str, Inner] = Field(default_factory=dict)
    ready: bool = False
    first: Innermost = Innermost()


GOOD = {"name": "x", "parts": [{"length_mm": 1}]}


def fault(**changed: Any) -> str:
    with pytest.raises(BadInput) as raised:
        validated(Form, {**GOOD, **changed}, "f.toml")
    return str(raised.value)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"nam": 1}, "f.toml: nam: there is no such field; did you mean 'name'?"),
        ({"qqq": 1}, "f.toml: qqq: there is no such field; known here: name, is, parts, by_name, ready, first"),
        ({"depth_mm": 1}, "f.toml: depth_mm: there is no such field; write it below [first]"),
        ({"length_mm": 1}, "f.toml: length_mm: there is no such field; known here: name"),
        ({"iss": 1}, "f.toml: iss: there is no such field; did you mean 'is'?"),
        ({"parts": [{"length_m": 1}]}, "f.toml: parts[0].length_m: there is no such field (and 1 more fault); did you"),
        ({"parts": [{}]}, "f.toml: parts[0].length_mm: is missing; give it a value"),
        ({"parts": [{"length_mm": 0}]}, "f.toml: parts[0].length_mm: should be greater than 0 (given: 0)"),
        (
            {"parts": [{"length_mm": 1}, {"length_mm": "long"}]},
            "parts[1].length_mm: should be a number (given: 'long')",
        ),
        ({"parts": [{"length_mm": 1, "colour": "gren"}]}, "(given: 'gren'); did you mean 'green'?"),
        ({"parts": [{"length_mm": 1, "colour": 3}]}, "parts[0].colour: should be 'red' or 'green' (given: 3)"),
        ({"parts": [{"length_mm": 1, "code": "123"}]}, "code: '123' is not even; did you mean '1230'? (given: '123')"),
        ({"parts": [{"length_mm": 1, "inside": {"dept_mm": 1}}]}, "there is no such field; did you mean 'depth_mm'?"),
        ({"by_name": {"a": {"length_m": 1}}}, "by_name.a.length_m: there is no such field (and 1 more fault); did you"),
        ({"parts": 3}, "f.toml: parts: should be a list, such as [a, b] (given: 3)"),
        ({"name": 3}, "f.toml: name: should be a text in quotes (given: 3)"),
        ({"name": ["x"]}, "f.toml: name: should be a text in quotes"),
        ({"ready": "maybe"}, "f.toml: ready: should be true or false (given: 'maybe')"),
        ({"is": 1.5}, "f.toml: is: should be a whole number (given: 1.5)"),
        ({"name": 3, "ready": "maybe"}, "(and 1 more fault)"),
    ],
)
def test_a_fault_names_field_and_mend(changed: dict[str, Any], said: str) -> None:
    assert said in fault(**changed)


def test_an_unknown_field_is_told_before_what_is_missing() -> None:
    with pytest.raises(BadInput, match=r"nme: there is no such field \(and 1 more fault\); did you mean 'name'"):
        validated(Form, {"nme": "x"}, "f.toml")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"a = [1", "is not TOML: "),
        (b"a = \xff", "is not UTF-8 text (byte 4); save it as UTF-8"),
        (b"a = " + b"[" * 5000, "is not TOML: it is nested without end"),
        (b"a = " + b"9" * 5000, "is not TOML: "),
    ],
)
def test_a_file_that_can_not_be_read_is_told(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(content)
    with pytest.raises(BadInput) as raised:
        read_toml(path, "x")
    assert str(raised.value).startswith(f"x: {said}")


def test_a_file_that_is_not_there_and_a_folder_are_told(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="there is no such file; check the path"):
        read_toml(tmp_path / "none.toml")
    with pytest.raises(BadInput, match=r"is a folder, not a file; name a file in it"):
        read_toml(tmp_path)
    with pytest.raises(BadInput, match="file name too long; check the name and its permissions"):
        read_toml(tmp_path / ("x" * 5000))


def test_a_mark_at_the_beginning_is_no_content(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(b"\xef\xbb\xbfa = 1\n")
    assert read_toml(path) == {"a": 1}


def test_hidden_files_and_templates_are_left_out(tmp_path: Path) -> None:
    for name in ("b.toml", "a/c.toml", "_template.toml", ".hidden.toml", "_x/d.toml", ".git/e.toml", "notes.md"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.touch()
    assert [str(path.relative_to(tmp_path)) for path in toml_files(tmp_path)] == ["a/c.toml", "b.toml"]
