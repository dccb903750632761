"""Three-valued logic, operators, references and calculations."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.rules.clauses import AnyOf, Calculation, Clause, Ref, Scene, all_of, any_of

TRUTHS = st.lists(st.sampled_from([True, False, None]), max_size=6)


@given(TRUTHS)
def test_and_is_what_every_completion_agrees_on(truths: list[bool | None]) -> None:
    completions = [
        all(t if t is not None else fill for t, fill in zip(truths, fills, strict=True))
        for fills in product([True, False], repeat=len(truths))
    ]
    agreed = completions[0] if len(set(completions)) == 1 else None
    assert all_of(truths) == agreed


@given(TRUTHS)
def test_or_is_and_upside_down(truths: list[bool | None]) -> None:
    upside_down = all_of(None if t is None else not t for t in truths)
    assert any_of(truths) == (None if upside_down is None else not upside_down)


@pytest.mark.parametrize(
    ("op", "value", "right", "wrong"),
    [
        ("is", "a", "a", "b"),
        ("is-not", "a", "b", "a"),
        ("one-of", ("a", "b"), "b", "c"),
        ("none-of", ("a", "b"), "c", "a"),
        ("below", 5, 4.9, 5),
        ("at-most", 5, 5, 5.1),
        ("above", 5, 5.1, 5),
        ("at-least", 5, 5, 4.9),
        ("has", "x", ("x", "y"), ("y",)),
        ("has", ("x", "z"), ("z",), ("y",)),
        ("lacks", "x", ("y",), ("x",)),
    ],
)
def test_operators(op: str, value: object, right: object, wrong: object) -> None:
    clause = Clause("adhesive.f", op, value)
    assert clause.truth({"adhesive": {"f": right}}) is True
    assert clause.truth({"adhesive": {"f": wrong}}) is False
    assert clause.truth({"adhesive": {}}) is None
    assert clause.truth({"adhesive": None}) is False
    assert clause.truth({}) is None


def test_reference_with_an_offset() -> None:
    clause = Clause("adhesive.min_c", "above", Ref("service.low_c", -10.0))
    assert clause.truth({"adhesive": {"min_c": -29}, "service": {"low_c": -20}}) is True
    assert clause.truth({"adhesive": {"min_c": -30}, "service": {"low_c": -20}}) is False
    assert clause.truth({"adhesive": {"min_c": -30}, "service": {}}) is None
    assert clause.truth({"adhesive": {"min_c": -30}, "service": None}) is False


def test_a_calculation_is_a_fact() -> None:
    inputs = {"a": "degreaser.dph", "b": "substrate.dph", "radius": "substrate.radius"}
    clause = Clause(Calculation("solubility-distance", inputs, "red"), "below", 1.0)
    scene: Scene = {"degreaser": {"dph": (15.5, 10.4, 7.0)}, "substrate": {"dph": (15.5, 10.4, 7.0), "radius": 5.0}}
    assert clause.truth(scene) is True
    assert clause.truth({**scene, "substrate": {"dph": (25.0, 0.0, 0.0), "radius": 5.0}}) is False
    assert clause.truth({**scene, "substrate": {}}) is None
    assert clause.truth({**scene, "substrate": {"dph": (25.0, 0.0, 0.0), "radius": 0.0}}) is None, "outside its domain"


def test_a_group_needs_one() -> None:
    group = AnyOf((Clause("treatment.present", "is", False), Clause("treatment.family", "is-not", "plasma")))
    assert group.truth({"treatment": None}) is True
    assert group.truth({"treatment": {"family": "corona"}}) is True
    assert group.truth({"treatment": {"family": "plasma"}}) is False
    assert group.truth({"treatment": {}}) is None
