"""Put the chains first that can be made from what is on the shelf and in date, and say what kept others from it.

The search is asked again among the items that have a usable lot, so that the chains it gives are the best ones from
the shelf, and not merely the best stocked of a few. A kind of item of which nothing was ever received isn't kept in
this stock, and doesn't count.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import NamedTuple

from kb.engine.plan import Engine, Plan
from kb.rules.roles import CHAIN_KINDS


class Shelf(NamedTuple):
    """Hold what may be used on a day, ISO: the items with a lot that may, and what is to be said of every lot."""

    on: str
    usable: frozenset[str]
    #: By item that was ever received.
    lots: Mapping[str, tuple[str, ...]]


def shelf_first(engine: Engine, plan: Plan, shelf: Shelf) -> Plan:
    """Put the chains that the shelf can supply first, with notes on what kept the best chain of all from them.

    Points decide among those, and among the others that follow. Where the shelf supplies no chain, the order stays as
    it was.
    """
    entries = plan.knowledge.entries
    kept = {entries[item].kind for item in shelf.lots if item in entries}.intersection(CHAIN_KINDS)
    if not kept:
        return plan.noted("Nothing of a chain is kept in stock: the order is as without it.")
    if not plan.chains:
        return plan
    there = {item for item, entry in entries.items() if entry.kind not in kept or item in shelf.usable}
    supplied = engine.among(plan, there)
    noted = plan.noted(*_missing(plan, shelf, kept))
    if not supplied.chains:
        return noted.noted(f"No chain for this job can be made from what may be used on {shelf.on}.")
    known = {chain.key for chain in supplied.chains}
    others = (chain for chain in plan.chains if chain.key not in known)
    chains = [*supplied.chains, *others][: len(plan.chains)]
    return replace(
        noted.noted(
            f"Chains that can be made from what may be used on {shelf.on} come first, then the others, each by points."
        ),
        chains=tuple(chain._replace(rank=rank) for rank, chain in enumerate(chains, start=1)),
        bound=min((b for b in (plan.bound, supplied.bound) if b is not None), default=None),
        supplied=min(len(supplied.chains), len(chains)),
    )


def _missing(plan: Plan, shelf: Shelf, kept: set[str]) -> Iterator[str]:
    """Tell what the best chain of all lacks, and why."""
    for option in plan.chains[0].picks:
        entry = option.entry
        if entry is not None and entry.kind in kept and entry.id not in shelf.usable:
            why = "; ".join(shelf.lots.get(entry.id, ("there is none",)))
            yield f"Stock kept the chain that would rank first from being used on {shelf.on}: {entry.name}: {why}."
