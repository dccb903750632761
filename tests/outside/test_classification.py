"""Classification, limits, flash and explosive points of substances against published lists, row by row.

The rows stand in the CSV files beside this one, each with the id of its source in generic_catalog/sources.toml.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest

from kb.knowledge import Knowledge

HERE = Path(__file__).parent


def rows(name: str) -> list[dict[str, str]]:
    with (HERE / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def ids(row: dict[str, str]) -> str:
    return "-".join(v for k, v in row.items() if k in ("substance", "jurisdiction", "kind", "field", "table", "valid"))


@pytest.mark.parametrize("row", rows("classification"), ids=ids)
def test_statements_are_those_of_the_harmonised_entry(row: dict[str, str], knowledge: Knowledge) -> None:
    """What a supplier adds is named as such, and what is left off has its reason."""
    facts = knowledge.entry(row["substance"]).facts
    left_off = {code for off in facts["left_off"] for code in off["statements"]}
    harmonised = set(facts["hazard_statements"]) - set(facts["self_classified"]) | left_off
    assert harmonised == set(row["statements"].split())
    assert row["source"] in knowledge.sources
    if row["cas"]:
        assert facts["cas"] == row["cas"]


def test_more_than_sixty_substances_are_compared() -> None:
    assert len(rows("classification")) >= 60


@pytest.mark.parametrize("row", rows("limits"), ids=ids)
def test_a_limit_is_that_of_its_list(row: dict[str, str], knowledge: Knowledge) -> None:
    """In the list's own unit; a dataset that works out the other unit is read by the one that the list has."""
    kept: list[Any] = [
        limit
        for limit in knowledge.entry(row["substance"]).facts["limits"]
        if (limit["jurisdiction"], limit["kind"]) == (row["jurisdiction"], row["kind"])
        and (limit.get("measured_as") == "NCO") == bool(row["as_nco"])
        and row["valid"] in ("", f"until {limit.get('valid_until')}", f"from {limit.get('valid_from')}")
    ]
    wanted = {unit: float(row[unit]) for unit in ("ppm", "mg_m3") if row[unit]}
    assert any(limit.get(unit) == value for limit in kept for unit, value in wanted.items()), kept


def test_more_than_a_hundred_limits_are_compared() -> None:
    assert len(rows("limits")) >= 100


@pytest.mark.parametrize("row", rows("fire"), ids=ids)
def test_flash_and_explosive_points_are_no_bolder_than_the_tables(row: dict[str, str], knowledge: Knowledge) -> None:
    """The field holds the lowest of the published values; what is above it lies in the class's range."""
    facts = knowledge.entry(row["substance"]).facts
    if row["field"] not in facts:
        pytest.skip("a gas: it burns without a flash point")
    published, held = float(row["value"]), facts[row["field"]]
    slack = 1.5 if row["field"] == "flash_point_c" else 0.04 * published
    low, high = facts["ranges"].get(row["field"], (held, held))
    assert held <= published + 0.05
    assert low - slack <= published <= high + slack


@pytest.mark.parametrize(
    ("substance", "code", "day"),
    [("formaldehyde", "H330", "2026-05-01"), ("dimethyl-p-toluidine", "H350", "2025-09-01"),
     ("ozone", "H351", "2027-02-01")],
)  # fmt: skip
def test_codes_say_from_when_they_apply(substance: str, code: str, day: str, knowledge: Knowledge) -> None:
    """Regulations (EU) 2024/2564 and 2024/197, delegated regulation (EU) 2025/1222."""
    assert knowledge.entry(substance).facts[f"applies_from.{code}"] == day
