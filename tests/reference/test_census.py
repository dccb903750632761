"""Counts of statements: each value is of one kind, stands in one way, and what decides by a constant is named."""

from __future__ import annotations

from dataclasses import replace

from kb.engine.plan import Engine
from kb.knowledge import Knowledge
from kb.knowledge.changed import with_values
from kb.reference.census import STATEMENTS, bases_of_values, compared_bare, markdown, statement_of, statements
from kb.rules.values import Told
from tests.planning.decided import decided

LACQUER = "acrylic-lacquer-alcohol-borne"


def test_every_value_is_counted_once(knowledge: Knowledge) -> None:
    total = sum(counts.total() for counts in statements(knowledge).values())
    assert total == sum(1 for entry in knowledge.entries.values() for _ in bases_of_values(entry))
    assert set(statements(knowledge)) == set(STATEMENTS)


def test_a_source_moves_a_value_to_the_sourced(knowledge: Knowledge) -> None:
    changed = with_values(knowledge, {LACQUER: [Told("modulus_gpa", 2.0, "handbook", "table 3")]})
    before, after = statements(knowledge)["measured"], statements(changed)["measured"]
    assert after["sourced"] == before["sourced"] + 1
    assert after.total() == before.total()


def test_the_kinds_of_statement() -> None:
    assert statement_of("storage_c", (5.0, 30.0)) == "measured"
    assert statement_of("resists.steam.up_to_c", 90.0) == "measured"
    assert statement_of("family", "ketone") == "judgement"
    assert statement_of("layers", ()) == "judgement"


def test_no_number_that_a_rule_compares_with_a_constant_has_neither_source_nor_spread(knowledge: Knowledge) -> None:
    assert compared_bare(knowledge) == []
    assert "0 have neither" in markdown(knowledge)
    bare = replace(knowledge, tables={**knowledge.tables, "spreads": ()})
    assert "abs-printed.surface_tension_mn_m" in compared_bare(bare)


def test_answers_are_counted_by_what_they_hang_on(engine: Engine) -> None:
    answers, _ = decided(engine, range(2))
    assert answers.total() == 2
