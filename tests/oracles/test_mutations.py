"""Faults that are planted in the engine on purpose: the comparison with the oracles must notice each of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

import pytest

from kb.engine import grounding, screen
from kb.engine.grounding import Grounder
from kb.engine.rank import Ranking
from kb.engine.screen import Screener
from kb.engine.search import k_best as search
from kb.engine.slots import Binding
from kb.knowledge import Knowledge
from tests.oracles.compare import Disagreement, chains_agree, costs_agree, invented
from tests.oracles.generated import PROFILES
from tests.oracles.model import Builder

#: A fault that more bases than this don't bring to light would slip through the tests one day.
MOST_BASES = 10 * len(PROFILES)
FEW_CHAINS = 4100


class Fault(NamedTuple):
    """What is replaced: a name in a module or class, and what becomes of the right function."""

    where: Any
    name: str
    wrong: Callable[[Any], Any]


def one_point_too_many(right: Any) -> Any:
    """A cost: what rests on memory costs a point more."""

    def wrong(self: Ranking, basis: str) -> Any:
        price = right(self, basis)
        return price._replace(points=price.points + (basis == "memory"))

    return wrong


def blocks_of_pairs_dropped(right: Any) -> Any:
    """A block: one that joins two slots or more isn't one."""

    def wrong(self: Screener, rule: Any, piece: Any) -> Any:
        found = right(self, rule, piece)
        return [j for j in found if not (j.forbids and rule.verdict == "block" and len(j.sets) > 1)]

    return wrong


def only_the_innermost_coat_supplies(right: Any) -> Any:
    """A need: of the coats that may supply it, the first alone is looked at."""

    def wrong(self: Grounder, view: Any) -> Any:
        found = right(self, view)
        return found and (found[0], dict([*found[1].items()][:1]), dict([*found[2].items()][:1]))

    return wrong


def needs_forgotten(_: Any) -> Any:
    """A need: always taken as supplied."""
    return lambda self, _view: None if self.slot_part.needs else (True, {}, {})


def later_first(right: Any) -> Any:
    """A tie-break: between equals the later positions come first."""
    return lambda mask: reversed(list(right(mask)))


def stack_upside_down(right: Any) -> Any:
    """A rule on a stack: of two coats that touch, the upper is taken for the lower."""

    def wrong(roles: frozenset[str]) -> Any:
        swapped = {"over": "under", "under": "over"}
        return tuple(
            Binding(
                {role: b.slots[swapped.get(role, role)] for role in b.slots},
                b.empty,
                {slot: tuple(swapped.get(role, role) for role in here) for slot, here in b.roles.items()},
            )
            for b in right(roles)
        )

    return wrong


def gaps_in_the_stack(_: Any) -> Any:
    """The stack itself: a coat may lie over a gap."""
    return lambda _: iter(())


FAULTS = (
    Fault(Ranking, "of_basis", one_point_too_many),
    Fault(Screener, "_constraints", blocks_of_pairs_dropped),
    Fault(Grounder, "_unmet", only_the_innermost_coat_supplies),
    Fault(Grounder, "_unmet", needs_forgotten),
    Fault(search, "bits_of", later_first),
    Fault(grounding, "bindings", stack_upside_down),
    Fault(screen, "pairwise", gaps_in_the_stack),
)


def disagreements(knowledge: Knowledge) -> Iterator[str]:
    """What the oracles say against the engine as it stands, on one invented knowledge base after the other."""
    for seed in range(MOST_BASES):
        engine, job, entry = invented(seed, knowledge)
        try:
            chains_agree(costs_agree(engine, Builder(engine.knowledge), job, entry), FEW_CHAINS)
        except Disagreement as fault:
            yield f"base {seed}: {fault}"


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.wrong.__name__)
def test_a_planted_fault_is_noticed(fault: Fault, knowledge: Knowledge, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fault.where, fault.name, fault.wrong(getattr(fault.where, fault.name)))
    assert next(disagreements(knowledge), None), fault.wrong.__doc__


def test_without_a_fault_there_is_nothing_to_notice(knowledge: Knowledge) -> None:
    """The very bases on which the faults come to light agree without them."""
    assert list(disagreements(knowledge)) == []
