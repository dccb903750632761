"""What any user of a solver works out first: what each slot may hold, and what joins slots."""

from __future__ import annotations

from tests.benchmarks.generate import COATS, SLOTS, Item, Statement, Term, Written

#: Points and facets of an item; no facets: the slot is left empty.
Pick = tuple[int, tuple[int, ...] | None]


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
            *([(0, None)] if may_be_empty(written, slot) else []),
            *((points, facets) for points, facets, _ in own_points(written, slot)),
        ]
        for slot in SLOTS
    }


def met(term: Term, pick: Pick) -> bool:
    return (pick[1] is not None and pick[1][term.facet] in term.values) != term.absent


def holds(statement: Statement, picks: dict[str, Pick]) -> bool:
    return all(met(term, picks[term.slot]) for term in statement.terms)


def cost_of(written: Written, picks: dict[str, Pick]) -> int:
    """Points of a whole chain that nothing forbids."""
    own = sum(points for points, _ in picks.values())
    return own + sum(s.points or 0 for s in joining(written) if holds(s, picks))
