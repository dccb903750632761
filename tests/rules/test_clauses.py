"""Three-valued logic, operators, references and calculations."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.base.errors import BadInput
from kb.rules.clauses import AnyOf, Calculation, Clause, Ref, Scene, all_of, any_of, filled, look_up

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


def test_what_can_not_be_compared_does_not_hold() -> None:
    """A word is neither above nor below a number; that is known, and no missing fact."""
    assert Clause("adhesive.f", "above", 5).truth({"adhesive": {"f": "high"}}) is False
    assert Clause("adhesive.f", "one-of", 5).truth({"adhesive": {"f": 5}}) is False


def test_an_empty_role_on_either_side_is_false() -> None:
    clause = Clause("adhesive.f", "is-not", Ref("coating.f"))
    assert clause.truth({"adhesive": {"f": 1}, "coating": {"f": 2}}) is True
    assert clause.truth({"adhesive": {"f": 1}, "coating": None}) is False
    assert clause.truth({"adhesive": None, "coating": {"f": 2}}) is False
    assert clause.truth({"adhesive": {}, "coating": None}) is False, "absent is stronger than unknown"


CALCULATION = Calculation(
    "stiffening",
    {"part": {"modulus_gpa": "substrate.modulus_gpa"}, "layers": [{"a": "coating.b"}], "word": "cami"},
    "r",
)


def test_a_condition_says_which_facts_and_roles_it_reads() -> None:
    plain = Clause("adhesive.f", "above", Ref("service.low_c", 5))
    reckoned = Clause(CALCULATION, "above", Ref("part.limit"))
    assert list(plain.facts()) == ["adhesive.f", "service.low_c"]
    assert list(reckoned.facts()) == ["substrate.modulus_gpa", "coating.b", "part.limit"]
    assert list(AnyOf((plain, reckoned)).facts()) == [*plain.facts(), *reckoned.facts()]
    assert AnyOf((plain, reckoned)).roles() == {"adhesive", "service", "substrate", "coating", "part"}


def test_inputs_are_filled_with_facts_and_words_stay() -> None:
    scene: Scene = {"substrate": {"modulus_gpa": 70}, "coating": {"b": 2}}
    assert filled(CALCULATION.inputs, scene) == {"part": {"modulus_gpa": 70}, "layers": [{"a": 2}], "word": "cami"}
    assert repr(filled(CALCULATION.inputs, {"substrate": {"modulus_gpa": 70}, "coating": None})) == "absent"
    assert repr(filled(CALCULATION.inputs, {"substrate": {"modulus_gpa": 70}, "coating": {}})) == "unknown"
    assert repr(filled({"d": {"difference": ["coating.b", "coating.c"]}}, scene)) == "unknown"


def test_presence_is_known_of_every_role_in_the_scene() -> None:
    assert look_up("coating.present", {"coating": None}) is False
    assert look_up("coating.present", {"coating": {}}) is True
    assert repr(look_up("coating.present", {})) == "unknown"


def test_a_calculation_that_is_given_what_it_does_not_take_is_told() -> None:
    clause = Clause(Calculation("outgassing", {"tml": 1}, "passes"), "is", True)
    with pytest.raises(BadInput, match=r"calc outgassing: does not take \{'tml': 1\}; see `tackroom calc`"):
        clause.truth({})
    assert Clause(Calculation("outgassing", {"tml_pct": 1, "cvcm_pct": 0}, "no_such"), "is", True).truth({}) is None
