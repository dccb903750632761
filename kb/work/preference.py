"""Chains of what is on the shelf and in date, and what stock kept the best chain of all from being one of them.

The search is asked again among the items that have a usable lot, so that the chains it gives are the best ones from
the shelf, and not merely the best stocked of a few. A kind of item of which nothing was ever received isn't kept in
this stock, and doesn't count.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from kb.base.vocabulary import KINDS
from kb.engine.plan import Engine, Plan
from kb.planning.ask import Asked
from kb.rules.roles import CHAIN_KINDS
from kb.stock.flags import Judged
from kb.work.installations import chain_key

_IN_CHAINS = tuple(kind for kind in KINDS if kind in CHAIN_KINDS)


def from_shelf(asked: Asked, lots: Iterable[Judged], on: str) -> Asked:
    """The job as asked, the chains that the shelf can supply first, and notes of what stock kept it from."""
    plan, notes = prefer_stock(asked.engine, asked.plan, lots, on)
    known = replace(plan.knowledge, notes=(*plan.knowledge.notes, *notes))
    return replace(asked, plan=replace(plan, knowledge=known))


def prefer_stock(engine: Engine, plan: Plan, lots: Iterable[Judged], on: str) -> tuple[Plan, list[str]]:
    """`plan` with the chains that the shelf can supply on the day `on` first, and what is to be said of it.

    Points decide among those, and among the others that follow. Where the shelf supplies no chain, the order stays as
    it was.
    """
    shelf = list(lots)
    entries = plan.knowledge.entries
    kept = {entries[one.lot.item].kind for one in shelf if one.lot.item in entries} & set(_IN_CHAINS)
    usable = {one.lot.item for one in shelf if one.life.usable}
    if not plan.chains or not kept:
        return plan, [] if kept else ["Nothing of a chain is kept in stock: the order is as without it."]
    supplied = engine.among(plan, {i for i, entry in entries.items() if entry.kind not in kept or i in usable})
    stocked = supplied.chains
    notes = list(_missing(plan, shelf, kept, usable, on))
    if not stocked:
        return plan, [*notes, f"No chain for this job can be made from what may be used on {on}."]
    notes.append(f"Chains that can be made from what may be used on {on} come first, then the others, each by points.")
    known = [chain_key(chain) for chain in stocked]
    others = (chain for chain in plan.chains if chain_key(chain) not in known)
    chains = [*stocked, *others][: len(plan.chains)]
    ranked = tuple(replace(chain, rank=rank) for rank, chain in enumerate(chains, start=1))
    bound = min((b for b in (plan.bound, supplied.bound) if b is not None), default=None)
    return replace(plan, chains=ranked, bound=bound, supplied=min(len(stocked), len(ranked))), notes


def _missing(plan: Plan, shelf: list[Judged], kept: set[str], usable: set[str], on: str) -> Iterator[str]:
    """What the best chain of all lacks, and why."""
    by_item: dict[str, list[str]] = {}
    for lot, life in shelf:
        by_item.setdefault(lot.item, []).append(f"lot {lot.lot} is {life.state} ({life.reason})")
    for option in plan.chains[0].picks:
        entry = option.entry
        if entry is not None and entry.kind in kept and entry.id not in usable:
            why = "; ".join(by_item.get(entry.id, ["there is none"]))
            yield f"Stock kept the chain that would rank first from being used on {on}: {entry.name}: {why}."
