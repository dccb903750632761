"""The table of the levels: its laws, what criteria name, and a lab's own numbers."""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.base.errors import BadInput
from kb.base.places import shipped
from kb.knowledge.ranking import LEVELS_FILE, load_levels, load_ranking, named_levels

ROW = '[[levels]]\nid = "{0}"\nwhat = "w"\npoints = {1}\n{2}'


def where(house: Path | None = None) -> dict[str, Path]:
    rules, catalog = shipped()
    return {"rules": rules, "generic_catalog": catalog} | ({"house catalog": house} if house else {})


def test_a_labs_own_numbers_are_taken(tmp_path: Path) -> None:
    text = (shipped()[1] / LEVELS_FILE).read_text()
    ours = load_ranking(where())["levels"]
    (tmp_path / LEVELS_FILE).write_text(text.replace(f"points = {ours['last-resort']}", "points = 5000"))
    assert load_ranking(where(tmp_path))["levels"] == {**ours, "last-resort": 5000}


def test_a_labs_table_of_other_levels_is_refused(tmp_path: Path) -> None:
    (tmp_path / LEVELS_FILE).write_text(ROW.format("free", 0, ""))
    with pytest.raises(BadInput, match="is not a level of both tables"):
        load_ranking(where(tmp_path))


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (ROW.format("a", 1, "") + ROW.format("a", 2, ""), "stands twice"),
        (ROW.format("a", 1, 'above = "b"'), "no 'b' stands before it"),
        (ROW.format("a", 5, "") + ROW.format("b", 5, 'above = "a"'), "costs no more than 'a'"),
        (ROW.format("a", -1, ""), "points"),
    ],
)
def test_a_broken_table_is_one_line(rows: str, said: str, tmp_path: Path) -> None:
    (tmp_path / LEVELS_FILE).write_text(rows)
    with pytest.raises(BadInput, match=said):
        load_levels(tmp_path / LEVELS_FILE, "levels.toml")


def test_every_criterion_names_a_level() -> None:
    table = load_ranking(where())
    assert set(named_levels(table)) <= set(table["levels"])
