"""Every law of the knowledge lets its good example pass and finds its bad one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from kb.knowledge import Knowledge
from kb.knowledge.cache import roots
from kb.lint import LINTERS
from kb.lint.laws import Law, LawTable, law_of, load_laws

LAWS = load_laws(roots(None)["generic_catalog"] / "laws")


def facts_of(example: str | Mapping[str, Any], knowledge: Knowledge) -> dict[str, Any]:
    """The facts of an example: an item's, with what the example says laid over them."""
    if isinstance(example, str):
        return dict(knowledge.entry(example).facts)
    facts = dict(knowledge.entry(example["like"]).facts)
    for name, value in example.items():
        if value == "unknown":
            facts.pop(name, None)
        elif name != "like":
            facts[name] = tuple(value) if isinstance(value, list) else value
    return facts


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.table.name)
def test_a_law_knows_good_from_bad(law: Law, knowledge: Knowledge) -> None:
    assert list(law.faults(facts_of(law.table.good, knowledge))) == []
    assert list(law.faults(facts_of(law.table.bad, knowledge))), "its bad example breaks nothing"
    examples = (law.table.good, law.table.bad["like"])
    kinds = {knowledge.entry(e if isinstance(e, str) else e["like"]).kind for e in examples}
    assert kinds <= set(law.table.kinds)


def test_each_law_and_each_linter_has_a_name_of_its_own() -> None:
    names = [*LINTERS, *(law.table.name for law in LAWS)]
    assert len(set(names)) == len(names)


def test_an_unknown_fact_breaks_no_law_unless_it_is_wanted() -> None:
    data = {
        "name": "made-up",
        "kinds": ["coating"],
        "says": "s",
        "tip": "t",
        "then": [{"fact": "max_c", "below": 10}],
        "known": ["min_c"],
        "absent": ["melts_at_c"],
        "good": "x",
        "bad": {},
    }
    law = law_of(LawTable.model_validate(data))
    assert list(law.faults({"min_c": 0})) == []
    assert list(law.faults({"min_c": 0, "max_c": 10})) == ["s"]
    assert list(law.faults({})) == ["s: min_c is not given"]
    assert list(law.faults({"min_c": 0, "melts_at_c": 50})) == ["s: melts_at_c is given"]
