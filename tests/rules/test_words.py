"""Findings as sentences: values as people write them, units by the fact's name, and what isn't known."""

from __future__ import annotations

from typing import Any

import pytest

from kb.rules.clauses import Calculation, Clause, Ref
from kb.rules.findings import Finding, judge
from kb.rules.rule import Rule
from kb.rules.words import duration, fill, finding_json, message, named, seen_words, shown


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (True, "yes"),
        (False, "no"),
        (60.0, "60"),
        (0.12345, "0.1235"),
        (9999.4, "9999"),
        (10000.0, "10000"),
        (12345.6, "12346"),
        (7, "7"),
        ((30.0, 65.0), "30 to 65"),
        ((1, 2, 3), "1, 2, 3"),
        ((True, False), "yes, no"),
        (("a", 2), "a, 2"),
        ([], ""),
    ],
)
def test_a_value_as_people_write_it(value: Any, words: str) -> None:
    assert shown(value) == words


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("modulus_gpa", ("modulus", "GPa")),
        ("cte_ppm_per_c", ("cte", "ppm per degC")),
        ("surface_tension_mn_m", ("surface tension", "mN/m")),
        ("flammable", ("flammable", "")),
        ("resists.sea-water-immersion", ("resistance to sea water immersion", "")),
    ],
)
def test_a_fact_is_named_with_its_unit(name: str, words: tuple[str, str]) -> None:
    assert named(name) == words


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0.25, "15 s"),
        (0.999, "1 min"),
        (1.25, "1 min 15 s"),
        (9.99, "9 min 59 s"),
        (12.4, "12 min"),
        (59.4, "59 min"),
        (60.0, "1 h"),
        (90.0, "1 h 30 min"),
        (120.0, "2 h"),
        (120.2, "2 h 1 min"),
        (72 * 60 - 1, "71 h 59 min"),
        (72 * 60, "3 days"),
        (72 * 60 + 1, "3 d 1 h"),
        (9 * 1440 + 351, "9 d 6 h"),
        (30 * 1440.0, "30 days"),
    ],
)
def test_time_is_told_as_people_say_it_and_never_too_short(minutes: float, words: str) -> None:
    assert duration(minutes) == words


@pytest.mark.parametrize(
    ("template", "said"),
    [
        ("{adhesive} on {substrate}", "the epoxy on this surface"),
        ("{coating} over it", "coating over it"),
        ("at {service.high_c} degC", "at 120 degC"),
        ("wait {adhesive.pot_min} min", "wait 5 h"),
        ("wait {adhesive.open_min} min", "wait an unknown number of min"),
        ("creep {adhesive.creep}", "creep (not known)"),
        ("{adhesive.pot_min} is long", "300 is long"),
    ],
)
def test_a_template_is_filled(template: str, said: str) -> None:
    scene = {
        "adhesive": {"name": "the epoxy", "pot_min": 300},
        "substrate": {},
        "coating": None,
        "service": {"high_c": 120.0},
    }
    assert fill(template, scene) == said


def test_what_was_seen_is_told_by_what_it_is_of() -> None:
    seen = [("part.populated", True), ("service.high_c", 80.0), ("part.surface", ()), ("chain.possible", True)]
    assert seen_words(seen) == "part: populated yes, surface none; service: high 80 degC"


def finding(verdict: str = "block", **scene: Any) -> Finding:
    rule = Rule(
        id="r", title="t", verdict=verdict, about=("adhesive",), message="{adhesive} is used at {service.high_c} degC",
        because="b", instead="", basis="memory", sources=("s",), when=(Clause("service.high_c", "above", 100),),
        needs=(Clause("coating.organic", "is", False),) if verdict == "need" else (),
    )  # fmt: skip
    found = judge(rule, {"adhesive": {"id": "e", "name": "the epoxy"}, "service": {}, "coating": {}, **scene})
    assert found is not None
    return found


def test_a_message_names_its_item_and_its_facts() -> None:
    assert message(finding(service={"high_c": 120.0})) == "the epoxy is used at 120 degC (recalled, from no source)"


@pytest.mark.parametrize(
    "when",
    [
        Clause("service.exposures", "has", ["steam", "mineral-oil"]),
        Clause("adhesive.ruined_by", "has", Ref("service.exposures")),
    ],
)
def test_a_message_names_of_a_list_what_the_rule_looks_for(when: Clause) -> None:
    rule = finding().rule._replace(basis="standard", message="{adhesive} in {service.exposures}", when=(when,))
    adhesive = {"id": "e", "name": "the epoxy", "ruined_by": ("steam",)}
    found = judge(rule, {"adhesive": adhesive, "service": {"exposures": ("dry-air", "steam")}})
    assert found is not None
    assert message(found) == "the epoxy in steam"


def test_a_refusal_by_a_recalled_number_says_what_would_settle_it() -> None:
    soft = finding().rule._replace(basis="common-practice", when=(Clause("adhesive.max_c", "below", 100),))
    adhesive = {"id": "e", "name": "the epoxy", "basis": "memory", "max_c": 80.0}
    found = judge(soft, {"adhesive": adhesive, "service": {"high_c": 120.0}})
    assert found is not None
    assert message(found) == (
        "the epoxy is used at 120 degC (recalled, from no source: what heat the epoxy endures; "
        "its data sheet or a test would settle it)"
    )


def test_what_is_not_known_is_said_before_what_it_would_mean() -> None:
    said = message(finding())
    assert said.startswith("It is not known ")
    assert said.endswith(". If this applies: the epoxy is used at an unknown number of degC")


def test_a_need_that_is_met_says_so() -> None:
    met = finding("need", service={"high_c": 120.0}, coating={"organic": False})
    assert message(met) == "the epoxy is used at 120 degC (met)"
    assert not message(finding("need", service={"high_c": 120.0}, coating={"organic": True})).endswith("(met)")


def test_a_finding_as_a_document() -> None:
    document = finding_json(finding(service={"high_c": 120.0}))
    assert document == {
        "rule": "r", "verdict": "block", "about": ["e"],
        "message": "the epoxy is used at 120 degC (recalled, from no source)", "because": "b",
        "instead": None, "basis": "memory", "sources": ["s"], "known": True, "met": False,
        "seen": {"service.high_c": 120.0}, "unknown": [], "calculations": [], "settle": None,
        "recalled": [],
    }  # fmt: skip


def test_what_surely_holds_is_said_even_where_its_wait_is_not_known() -> None:
    waits = finding().rule._replace(verdict="need", wait_min="adhesive.open_min")
    found = judge(waits, {"adhesive": {"name": "the epoxy"}, "service": {"high_c": 120.0}})
    assert found is not None
    assert found.unknown == ("adhesive.open_min",)
    assert message(found) == "the epoxy is used at 120 degC"


def test_a_calculation_is_told_with_plain_inputs() -> None:
    inputs = {"part": {"modulus_gpa": "substrate.modulus_gpa", "thickness_mm": 1}, "layers": []}
    reckoned = finding().rule._replace(
        when=(Clause(Calculation("stiffening", {**inputs, "layers": ()}, "ratio"), "is", 0.0),)
    )
    found = judge(reckoned, {"substrate": {"modulus_gpa": 70}})
    assert found is not None
    assert finding_json(found)["calculations"] == [
        {
            "name": "stiffening",
            "inputs": {"part": {"modulus_gpa": 70, "thickness_mm": 1}, "layers": []},
            "result": {"ratio": 0.0},
        }
    ]
