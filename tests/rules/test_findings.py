"""What a rule says of a scene: blocks, needs and preferences, with facts known and not known."""

from __future__ import annotations

from typing import Any

import pytest

from kb.rules.clauses import AnyOf, Calculation, Clause, Condition, Scene
from kb.rules.findings import Finding, distinct, judge
from kb.rules.rule import Rule

HOT = Clause("service.high_c", "above", 100)
DRY: Condition = Clause("coating.water_vapour", "is", "barrier")


def rule(verdict: str = "block", when: tuple[Condition, ...] = (HOT,), **more: Any) -> Rule:
    words = {"title": "t", "message": "m", "because": "b", "instead": "", "basis": "memory", "sources": ()}
    return Rule(id="r", verdict=verdict, about=("adhesive",), when=when, **{**words, **more})


def said(found: Finding | None) -> Finding:
    assert found is not None
    return found


def test_a_block_closes_where_it_is_known_to_hold() -> None:
    known, unknown = said(judge(rule(), {"service": {"high_c": 101}})), said(judge(rule(), {"service": {}}))
    assert (known.known, known.closes, known.verdict, known.unknown) == (True, True, "block", ())
    assert (unknown.known, unknown.closes, unknown.verdict, unknown.unknown) == (
        False, False, "caution", ("service.high_c",),
    )  # fmt: skip
    assert judge(rule(), {"service": {"high_c": 100}}) is None


@pytest.mark.parametrize("verdict", ["caution", "prefer"])
def test_only_blocks_and_needs_close(verdict: str) -> None:
    assert not said(judge(rule(verdict), {"service": {"high_c": 101}})).closes


@pytest.mark.parametrize(
    ("service", "coating", "expected"),
    [
        (101, "barrier", ("need", True, True, False)),
        (101, "open", ("need", True, False, True)),
        (101, None, ("caution", False, False, False)),
        (None, "open", ("caution", False, False, False)),
        (None, "barrier", None),
        (100, "open", None),
    ],
)
def test_a_need(service: float | None, coating: str | None, expected: tuple[Any, ...] | None) -> None:
    """It closes only where it surely holds and surely isn't supplied; supplied, it is said only if it surely holds."""
    scene: Scene = {
        "service": {} if service is None else {"high_c": service},
        "coating": {} if coating is None else {"water_vapour": coating},
    }
    found = judge(rule("need", needs=(DRY,)), scene)
    assert (found and (found.verdict, found.known, found.met, found.closes)) == expected


def test_a_need_may_be_supplied_in_any_of_several_scenes() -> None:
    scene: Scene = {"service": {"high_c": 101}, "coating": {"water_vapour": "open"}}
    need = rule("need", needs=(DRY,))
    assert said(judge(need, scene, [scene, {**scene, "coating": {"water_vapour": "barrier"}}])).met
    assert said(judge(need, scene, [scene])).closes
    assert said(judge(need, scene)).closes


def test_a_wait_is_met_by_waiting() -> None:
    found = said(judge(rule("need", wait_min=20.0), {"service": {"high_c": 101}}))
    assert (found.met, found.closes, found.wait_min) == (True, False, 20.0)


def test_how_long_a_wait_is_may_be_a_fact_and_may_be_unknown() -> None:
    waits = rule("need", wait_min="adhesive.open_min")
    known = said(judge(waits, {"service": {"high_c": 101}, "adhesive": {"open_min": 7}}))
    unknown = said(judge(waits, {"service": {"high_c": 101}, "adhesive": {}}))
    assert (known.wait_min, known.unknown) == (7.0, ())
    assert (unknown.wait_min, unknown.unknown) == (0.0, ("adhesive.open_min",))


def test_a_preference_that_can_not_be_told_is_silent() -> None:
    assert judge(rule("prefer"), {"service": {}}) is None
    assert said(judge(rule("prefer"), {"service": {"high_c": 101}})).verdict == "prefer"


def test_what_was_seen_is_told_and_only_what_decides_is_unknown() -> None:
    """A group that holds through one clause hangs on none of its others."""
    group = AnyOf((Clause("adhesive.creep", "is", "high"), Clause("adhesive.flow", "is", "high")))
    found = said(judge(rule(when=(HOT, group)), {"service": {"high_c": 101}, "adhesive": {"creep": "high"}}))
    assert dict(found.seen) == {"service.high_c": 101, "adhesive.creep": "high"}
    assert (found.known, found.unknown) == (True, ())
    open_ = said(judge(rule(when=(HOT, group)), {"service": {"high_c": 101}, "adhesive": {"creep": "low"}}))
    assert (open_.known, open_.unknown) == (False, ("adhesive.flow",))


def test_what_a_need_lacks_is_told_with_what_is_there() -> None:
    scene: Scene = {"service": {"high_c": 101}, "coating": {"water_vapour": "open"}}
    assert dict(said(judge(rule("need", needs=(DRY,)), scene)).seen) == {
        "service.high_c": 101,
        "coating.water_vapour": "open",
    }


def test_a_calculation_is_told_with_inputs_and_result() -> None:
    inputs = {"tml_pct": "adhesive.tml_pct", "cvcm_pct": 0.05}
    clause = Clause(Calculation("outgassing", inputs, "passes"), "is", False)
    found = said(judge(rule(when=(clause,)), {"adhesive": {"tml_pct": 2.0}}))
    assert found.calculations == (("outgassing", {"tml_pct": 2.0, "cvcm_pct": 0.05}, "passes", False),)
    assert said(judge(rule(when=(clause,)), {"adhesive": {}})).calculations == ()


def test_who_it_is_about() -> None:
    found = said(judge(rule(), {"service": {"high_c": 101}, "adhesive": {"id": "epoxy", "name": "the epoxy"}}))
    assert found.names == (("adhesive", "epoxy", "the epoxy"),)
    assert found.about == ("epoxy",)
    nobody = said(judge(rule(), {"service": {"high_c": 101}, "adhesive": None}))
    assert (nobody.names, nobody.about) == ((("adhesive", "", ""),), ())


def test_each_statement_once_in_order() -> None:
    def about(item: str) -> Finding:
        return said(judge(rule(), {"service": {"high_c": 101}, "adhesive": {"id": item}}))

    first, second, again = about("a"), about("b"), about("a")
    assert [id(one) for one in distinct([first, second, again])] == [id(first), id(second)]


SOFT = Clause("cure.service_max_c", "below", 100)
BOND: Scene = {"cure": {"id": "warm", "service_max_c": 75.0}}


@pytest.mark.parametrize(
    ("adhesive", "recalled"),
    [
        ({"basis": "memory"}, ("cure.service_max_c",)),
        ({"basis": "common-practice"}, ()),
        (
            {"basis": "memory", "field_basis": ({"fields": ("schedules.warm.service_max_c",), "basis": "confirmed"},)},
            (),
        ),
        (
            {"basis": "memory", "field_basis": ({"fields": ("schedules.hot.service_max_c",), "basis": "confirmed"},)},
            SOFT,
        ),
    ],
    ids=["recalled", "practice", "confirmed", "another cure confirmed"],
)
def test_a_block_names_the_number_that_only_memory_bears_out(adhesive: Any, recalled: Any) -> None:
    found = said(judge(rule(when=(SOFT,), basis="common-practice"), {**BOND, "adhesive": adhesive}))
    assert found.recalled == (("cure.service_max_c",) if recalled is SOFT else recalled)
    assert found.on_memory == bool(recalled)


def test_what_only_cautions_or_compares_no_number_of_an_item_names_none() -> None:
    scene: Scene = {**BOND, "adhesive": {"basis": "memory"}, "service": {"high_c": 101}}
    assert said(judge(rule("caution", when=(SOFT,)), scene)).recalled == ()
    assert said(judge(rule(), scene)).recalled == ()
    assert said(judge(rule(), scene)).on_memory, "the rule itself is recalled"
