"""The grid: what each cell says, and that it says what the pair alone does."""

from __future__ import annotations

import csv
import io
import time

import pytest

from kb.base.errors import BadInput
from kb.engine.check import NOT_KNOWN, PRESET, grid_of
from kb.engine.plan import Engine
from kb.report.matrix import SIGNS, cell_of, counts, grid_csv, grid_html, grid_json, grid_text, resting_on
from tests.engine.check.asking import together


def test_the_grid_holds_what_each_pair_has_alone(engine: Engine) -> None:
    grid = grid_of(engine, "conditioner", "neutraliser")
    for row, cells in zip(grid.rows, grid.cells, strict=True):
        for column, cell in zip(grid.columns, cells, strict=True):
            assert cell == together(engine, row, column)
    document = grid_json(grid)
    assert len(document["cells"]) == len(grid.rows) * len(grid.columns)
    assert all(cell["reason"] for cell in document["cells"])
    assert all(cell["unseen"] == (cell["verdict"] == NOT_KNOWN) for cell in document["cells"])
    rows = list(csv.reader(io.StringIO(grid_csv(grid))))
    assert len(rows) == len(document["cells"]) + 1


def test_what_never_meets_is_not_known_in_every_cell(engine: Engine) -> None:
    grid = grid_of(engine, "degreaser", "coating")
    assert {verdict for verdict, number in counts(grid).items() if number} <= {NOT_KNOWN, "blocked", "caution"}
    assert counts(grid)["compatible"] == 0


def test_a_cell_says_two_reasons_and_what_would_make_it_right(engine: Engine) -> None:
    cell = cell_of(together(engine, "ethyl-cyanoacrylate-low-viscosity", "silicone-acetoxy-flowable"))
    assert cell.verdict == "blocked"
    assert len(cell.reasons) == 2
    assert "alkoxy" in cell.mend


def test_not_known_looks_unlike_compatible_without_colour(engine: Engine) -> None:
    assert len(set(SIGNS.values())) == len(SIGNS)
    grid = grid_of(engine, "adhesive", "coating", family="ceramic-cement")
    html, text = grid_html(grid), grid_text(grid)
    assert "? not known" in html
    assert "· compatible" in html
    assert "dashed" in html
    assert "<script" not in html
    assert "?" in text.splitlines()[-1]


def test_the_preset_grid_is_mostly_known_and_quick(engine: Engine) -> None:
    begun = time.process_time()
    grid = grid_of(engine, *PRESET)
    assert time.process_time() - begun < 4, "a second on a quiet machine"
    found = counts(grid)
    assert found["compatible"] > 700
    assert found[NOT_KNOWN] < 400
    assert sum(resting_on(grid).values()) == found["compatible"]


def test_a_grid_of_no_kind_or_family_is_named(engine: Engine) -> None:
    with pytest.raises(BadInput, match="did you mean 'adhesive'"):
        grid_of(engine, "adhesives", "coating")
    with pytest.raises(BadInput, match="no family"):
        grid_of(engine, "adhesive", "coating", family="glue")


@pytest.mark.parametrize(("kinds", "where"), [(("glue", "coating"), "rows"), (("adhesive", "coats"), "columns")])
def test_a_kind_that_is_none_is_told_by_its_place(engine: Engine, kinds: tuple[str, str], where: str) -> None:
    with pytest.raises(BadInput, match=f"^{where}: '(glue|coats)' is no kind"):
        grid_of(engine, *kinds)
