"""What any user of a solver works out first: what each slot may hold, and what joins slots."""

from __future__ import annotations

from collections.abc import Mapping
from math import prod
from typing import NamedTuple

from tests.benchmarks.generate import COATS, SLOTS, Item, Statement, Term, Written


class Pick(NamedTuple):
    """What stands in a slot: points and facets, and how many items are so. No facets: the slot is left empty."""

    points: int
    facets: tuple[int, ...] | None
    members: int = 1


def own_points(written: Written, slot: str) -> list[Item]:
    """(points, facets, count) of the items of a slot that no statement about the slot alone forbids."""
    alone = [s for s in written.statements if len(s.terms) == 1 and s.terms[0].slot == slot]
    found = []
    for points, facets, count in written.items[slot]:
        held = [s for s in alone if facets[s.terms[0].facet] in s.terms[0].values]
        if all(s.points is not None for s in held):
            found.append((points + sum(s.points or 0 for s in held), facets, count))
    return found


def joining(written: Written) -> list[Statement]:
    return [s for s in written.statements if len(s.terms) > 1]


def may_be_empty(written: Written, slot: str) -> bool:
    return slot in written.may_be_empty or slot in COATS[1:]


def domains_of(written: Written) -> dict[str, list[Pick]]:
    """What may stand in each slot, the empty one first."""
    return {
        slot: [
            *([Pick(0, None)] if may_be_empty(written, slot) else []),
            *(Pick(*item) for item in own_points(written, slot)),
        ]
        for slot in SLOTS
    }


def met(term: Term, pick: Pick) -> bool:
    return (pick.facets is not None and pick.facets[term.facet] in term.values) != term.absent


def holds(statement: Statement, picks: Mapping[str, Pick]) -> bool:
    return all(met(term, picks[term.slot]) for term in statement.terms)


def costs_of(written: Written, picks: Mapping[str, Pick], k: int) -> list[int]:
    """Points of a whole chain that nothing forbids: once for each choice of like items, `k` times at the most."""
    points = sum(pick.points for pick in picks.values())
    points += sum(s.points or 0 for s in joining(written) if holds(s, picks))
    return [points] * min(k, prod(pick.members for pick in picks.values()))
