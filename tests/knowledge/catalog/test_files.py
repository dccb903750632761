"""A lab's own item takes over what it doesn't say itself, and nothing else."""

from __future__ import annotations

from typing import Any

import pytest

from kb.knowledge.catalog import Item
from kb.knowledge.catalog.files import load_item

CLASS = {
    "id": "plain-alcohol",
    "name": "plain alcohol",
    "family": "alcohol",
    "aliases": ["alcohol"],
    "basis": "memory",
    "water_based": False,
    "flammable": True,
    "dry_min": 3,
    "flash_point_c": 12,
    "ranges": {"dry_min": [1, 5], "flash_point_c": [10, 15]},
}
OWN = {"id": "shelf-a", "name": "bottle A", "family": "alcohol", "basis": "memory", "like": "plain-alcohol"}


@pytest.fixture
def base() -> dict[str, Item]:
    return {"plain-alcohol": load_item("degreaser", CLASS, "class", {})}


def own(base: dict[str, Item], **said: Any) -> dict[str, Any]:
    return load_item("degreaser", {**OWN, **said}, "own", base).model_dump()


def test_what_the_lab_says_rules_and_the_class_no_longer_spreads_it(base: dict[str, Item]) -> None:
    """The lab's four minutes are four: the class's one to five are of other bottles."""
    item = own(base, dry_min=4)
    assert item["dry_min"] == 4
    assert set(item["ranges"]) == {"flash_point_c"}


def test_a_value_outside_the_class_is_no_fault(base: dict[str, Item]) -> None:
    assert own(base, dry_min=40)["dry_min"] == 40


def test_what_the_lab_leaves_out_is_the_classes_with_its_range(base: dict[str, Item]) -> None:
    item = own(base)
    assert (item["dry_min"], item["flash_point_c"]) == (3, 12)
    assert item["ranges"] == {"dry_min": (1, 5), "flash_point_c": (10, 15)}


def test_the_lab_may_give_its_own_range(base: dict[str, Item]) -> None:
    assert own(base, dry_min=4, ranges={"dry_min": [3.5, 4.5]})["ranges"] == {"dry_min": (3.5, 4.5)}


def test_names_are_not_taken_over(base: dict[str, Item]) -> None:
    item = own(base)
    assert (item["id"], item["name"], item["aliases"]) == ("shelf-a", "bottle A", ())
    assert item["like"] == "plain-alcohol"
