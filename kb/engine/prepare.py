"""What the rules come to as far as no job changes it: worked out once, when the knowledge is compiled."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kb.engine.conjoin import Packed, Template
from kb.engine.domain import domains
from kb.knowledge import Knowledge, knowledge_of


def prepared(payload: Mapping[str, Any]) -> dict[str, Any]:
    """What `kb.knowledge.build.build` gives, with the pieces of rules added."""
    return {**payload, "pieces": pieces_of(knowledge_of(payload, ""))}


def pieces_of(knowledge: Knowledge) -> dict[str, Packed]:
    """By id of the rule its pieces in plain values, for each rule of which they are the same for every job."""
    everything = domains(knowledge)
    found = {rule.id: Template(rule).packed(everything) for rule in knowledge.rules}
    return {rule_id: packed for rule_id, packed in found.items() if packed is not None}
