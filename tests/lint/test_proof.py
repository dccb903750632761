"""A rule's own cases: each thing that they leave unproven is said, and a rule that proves itself has nothing said."""

from __future__ import annotations

from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.knowledge import Entry
from kb.lint.proof import faults, given_facts, scene_of
from kb.rules.form import Case, RuleTable, rule_of

ENTRIES = {
    "soap": Entry("soap", "degreaser", "aqueous-detergent", "soap", {"id": "soap", "ph": 9.0, "flammable": False}),
    "glue": Entry(
        "glue",
        "adhesive",
        "epoxy-heat-cure",
        "glue",
        {"id": "glue", "schedules": [{"id": "hot", "temperature_c": 120}]},
    ),
}
PH = {"fact": "degreaser.ph", "above": 8}
DRY = {"fact": "part.populated", "is": True}


def case(fires: Any, **scene: Any) -> dict[str, Any]:
    return {"fires": fires, "with": scene}


def said(*cases: dict[str, Any], when: list[dict[str, Any]] | None = None, **over: Any) -> list[str]:
    data = {
        "id": "r", "title": "t", "verdict": "block", "about": ["degreaser"], "message": "m", "because": "b",
        "basis": "memory", "added": "2026-11-25", "when": when or [PH, DRY], "cases": list(cases), **over,
    }  # fmt: skip
    table = RuleTable.model_validate(data)
    return faults(rule_of(table, "w"), table, ENTRIES, "w")


FIRES = case(True, degreaser={"ph": 9}, part={"populated": True})
AT_LIMIT = case(False, degreaser={"ph": 8}, part={"populated": True})
BARE = case(False, degreaser={"ph": 9}, part={"populated": False})


def test_a_rule_that_proves_itself() -> None:
    assert said(FIRES, AT_LIMIT, BARE) == []
    assert said(case(True, degreaser="soap", part={"populated": True}), AT_LIMIT, BARE) == []


@pytest.mark.parametrize(
    ("cases", "expected"),
    [
        ((AT_LIMIT, BARE), ["no case shows it firing"]),
        ((FIRES, AT_LIMIT), ["no case shows condition 2 (part.populated is) alone being false"]),
        (
            (FIRES, BARE),
            [
                "no case shows condition 1 (degreaser.ph above) alone being false",
                "no case stands exactly at the limit of condition 1 (degreaser.ph above)",
            ],
        ),
        (
            (FIRES, case(False, degreaser={"ph": 7}, part={"populated": True}), BARE),
            ["no case stands exactly at the limit of condition 1 (degreaser.ph above)"],
        ),
        (
            (FIRES, AT_LIMIT, case(False, degreaser={"ph": 7}, part={"populated": False})),
            ["no case shows condition 2 (part.populated is) alone being false"],
        ),
        (
            (FIRES, AT_LIMIT, BARE, case(True, degreaser={}, part={"populated": True})),
            [
                "case 4 says fires = True, but it is unknown: condition 1 (degreaser.ph above) unknown, "
                "condition 2 (part.populated is) true"
            ],
        ),
    ],
)
def test_what_is_unproven_is_said(cases: tuple[dict[str, Any], ...], expected: list[str]) -> None:
    assert said(*cases) == expected


def test_a_case_that_can_not_tell() -> None:
    unknown = case("unknown", degreaser={"like": "soap", "ph": "unknown"}, part={"populated": True})
    assert said(FIRES, AT_LIMIT, BARE, unknown) == []


def test_a_limit_that_another_condition_hides_is_no_proof() -> None:
    hidden = case(False, degreaser={"ph": 8}, part={"populated": False})
    low = case(False, degreaser={"ph": 7}, part={"populated": True})
    assert said(FIRES, hidden, low, BARE) == ["no case stands exactly at the limit of condition 1 (degreaser.ph above)"]


def test_a_limit_is_looked_for_wherever_its_condition_stands() -> None:
    when = [DRY, PH, {"fact": "degreaser.flammable", "is": False}]
    safe, part = {"flammable": False}, {"populated": True}
    cases = [
        case(True, degreaser={"ph": 9, **safe}, part=part),
        case(False, degreaser={"ph": 8, **safe}, part=part),
        case(False, degreaser={"ph": 9, **safe}, part={"populated": False}),
        case(False, degreaser={"ph": 9, "flammable": True}, part=part),
    ]
    assert said(*cases, when=when) == []


def test_each_clause_of_a_group_needs_a_case_of_its_own() -> None:
    group = [{"any": [{"fact": "degreaser.ph", "above": 8}, {"fact": "degreaser.flammable", "is": True}]}]
    high, low = {"ph": 9, "flammable": False}, {"ph": 7, "flammable": False}
    both, burns = {"ph": 9, "flammable": True}, {"ph": 7, "flammable": True}
    silent = case(False, degreaser=low)
    assert said(case(True, degreaser=high), case(True, degreaser=burns), silent, when=group) == []
    assert said(case(True, degreaser=high), case(True, degreaser=both), silent, when=group) == [
        "no case fires through clause 2 of condition 1 (any) alone"
    ]


def test_a_need_is_proven_by_a_case_in_which_it_is_supplied() -> None:
    need: dict[str, Any] = {"verdict": "need", "needs": [{"fact": "conditioner.ph", "below": 8}], "when": [DRY]}
    fires = case(True, part={"populated": True}, conditioner={"ph": 9})
    supplied = case(False, part={"populated": True}, conditioner={"ph": 7})
    bare = case(False, part={"populated": False}, conditioner={"ph": 9})
    assert said(fires, supplied, bare, **need) == []
    assert said(fires, bare, **need) == ["no case shows the need being supplied (needs) alone being false"]


def test_a_calculation_owes_no_case_at_its_limit() -> None:
    when = [
        {"calc": "outgassing", "inputs": {"tml_pct": "degreaser.ph", "cvcm_pct": 0}, "result": "passes", "is": True},
    ]
    assert said(case(True, degreaser={"ph": 0.5}), case(False, degreaser={"ph": 2}), when=when) == []


@pytest.mark.parametrize(
    ("scene", "fault"),
    [
        ({"degreasr": "soap"}, "case: 'degreasr' is not a role; did you mean 'degreaser'?"),
        ({"degreaser": "soup"}, "case: there is no degreaser 'soup'; did you mean 'soap'?"),
        ({"liquid": "soup"}, "case: there is no item 'soup'; did you mean 'soap'?"),
        ({"degreaser": "glue"}, "case: there is no degreaser 'glue'"),
        ({"degreaser": 3}, "case: degreaser: 3 is neither id nor table; write an id or { fact = value }"),
        ({"degreaser": {"like": "soup"}}, "case: there is no degreaser 'soup'"),
        ({"adhesive": "glue", "cure": "cold"}, "case: 'glue' has no schedule 'cold'; it has hot"),
    ],
)
def test_a_case_of_what_is_not_there_is_told(scene: dict[str, Any], fault: str) -> None:
    with pytest.raises(BadInput) as raised:
        scene_of(Case.model_validate(case(True, **scene)), ENTRIES, "w")
    assert fault in str(raised.value)


def test_a_cure_is_named_as_one_of_the_adhesives() -> None:
    for adhesive in ("glue", {"like": "glue", "ph": 7}):
        scene = scene_of(Case.model_validate(case(True, adhesive=adhesive, cure="hot")), ENTRIES, "w")
        assert scene["cure"] == {"id": "hot", "temperature_c": 120}


def test_what_a_case_does_not_name_is_empty_or_unknown() -> None:
    scene = scene_of(Case.model_validate(case(True, degreaser={"hansen": {"d": 1}, "layers": ["a"]})), ENTRIES, "w")
    assert scene["coating"] is None
    assert scene["service"] == scene["substrate"] == scene["chain"] == {}
    assert scene["degreaser"] == {"hansen.d": 1, "layers": ("a",)}


def test_what_a_case_gives_by_hand() -> None:
    like = scene_of(Case.model_validate(case(True, degreaser={"like": "soap", "ph": 8})), ENTRIES, "w")
    assert like["degreaser"] == {"id": "soap", "ph": 8, "flammable": False}
    given = case(True, degreaser={"like": "soap", "ph": "unknown", "hansen": {"d": 1}}, backing="film")
    assert given_facts(Case.model_validate(given)) == {"degreaser.ph": (), "degreaser.hansen.d": 1}
