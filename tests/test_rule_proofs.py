"""Every rule's own cases, and that they would notice: take any one condition out of any rule, and they fail."""

from __future__ import annotations

import pytest

from kb.knowledge import Knowledge
from kb.knowledge.cache import roots
from kb.lint.proof import faults
from kb.rules.clauses import AnyOf, Clause
from kb.rules.form import RuleTable, load_rules
from kb.rules.rule import Rule

RULES = [(rule, table) for rule, table, _ in load_rules(roots(None)["rules"])]
IDS = [rule.id for rule, _ in RULES]


@pytest.mark.parametrize(("rule", "table"), RULES, ids=IDS)
def test_a_rule_proves_itself(rule: Rule, table: RuleTable, knowledge: Knowledge) -> None:
    assert faults(rule, table, knowledge.entries, rule.id) == []


def without_each(rule: Rule) -> list[Rule]:
    """`rule` with one condition taken out, each in turn; also one clause of a group, and the need."""
    found = []
    for index, condition in enumerate(rule.when):
        rest = (*rule.when[:index], *rule.when[index + 1 :])
        found.append(rule._replace(when=rest))
        if isinstance(condition, AnyOf):
            for clause in condition.clauses:
                others = tuple(c for c in condition.clauses if c is not clause)
                found.append(rule._replace(when=(*rule.when[:index], AnyOf(others), *rule.when[index + 1 :])))
    if rule.needs:
        found.append(rule._replace(needs=()))
    return found


def test_taking_any_condition_out_is_noticed(knowledge: Knowledge) -> None:
    tried, missed = 0, []
    for rule, table in RULES:
        for mutant in without_each(rule):
            tried += 1
            if not faults(mutant, table, knowledge.entries, rule.id):
                missed.append(rule.id)
    print(f"{tried - len(missed)} of {tried} mutants noticed")
    assert tried > len(RULES)
    assert not missed


@pytest.mark.parametrize(
    ("op", "wrong"), [("below", "at-most"), ("at-most", "below"), ("above", "at-least"), ("at-least", "above")]
)
def test_a_limit_moved_by_a_hair_is_noticed(op: str, wrong: str, knowledge: Knowledge) -> None:
    """Every plain numeric condition has a case exactly at its limit."""
    tried = 0
    for rule, table in RULES:
        for index, c in enumerate(rule.when):
            if isinstance(c, Clause) and c.op == op and isinstance(c.fact, str):
                tried += 1
                mutant = rule._replace(when=(*rule.when[:index], c._replace(op=wrong), *rule.when[index + 1 :]))
                assert faults(mutant, table, knowledge.entries, rule.id), f"{rule.id}: {c.fact} {op}"
    assert tried
