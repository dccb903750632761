"""What was chosen or made earlier, against the knowledge of today: is it refused now, no longer first, or first still.

A chain is looked at as it was recorded, slot by slot with its cure, for the job as its file has it now.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from kb.engine.chain import Chain, findings_of
from kb.engine.domain import Domain
from kb.engine.plan import Engine
from kb.engine.search.reach import feasible
from kb.engine.slots import NAMES
from kb.job import Choose, Job
from kb.planning.ask import Asked, ask
from kb.rules.findings import Finding, distinct
from kb.stock.stores import Document

Verdict = Literal["first", "behind", "refused", "unknown-item"]


@dataclass(frozen=True)
class Rechecked:
    """One chain that a job chose or that was recorded, and how it stands today."""

    job: str
    #: Whose chain it is: "chosen", or the number of the record.
    of: str
    items: Mapping[str, str]
    verdict: Verdict
    #: What refuses it now.
    findings: tuple[Finding, ...] = ()
    #: Items that the catalog no longer has, or cures.
    missing: tuple[str, ...] = ()
    #: How many points it is behind the first chain of today, and that chain.
    behind: int = 0
    first: Chain | None = None


def recheck(engine: Engine, job: Job, where: str, records: Iterable[Document]) -> list[Rechecked]:
    """Look at what a job chose, and at what was recorded under its name, the same chain once."""
    free = ask(engine, job.model_copy(update={"choose": Choose()}), where, 1)
    found: list[Rechecked] = []
    if job.choose.pins:
        found.append(_chosen(ask(engine, job, where, 1), free))
    seen: list[Mapping[str, str]] = []
    for record in records:
        if record["type"] == "installed" and record["job"] == job.job.name and record["chain"] not in seen:
            seen.append(record["chain"])
            found.append(_recorded(free, record["chain"], f"record {record['id']}"))
    return found


def _chosen(pinned: Asked, free: Asked) -> Rechecked:
    """Say how the choice of a job file stands: the chain that keeps it, or what refuses what it names."""
    name = free.job.job.name
    if pinned.plan.chains:
        return _beside(free, pinned.plan.chains[0], "chosen")
    choose = pinned.job.choose
    named = [*(choose.adhesive or ()), *(choose.backing or ()), *(choose.treatment or ())]
    named += [item for coat in choose.coatings or () for item in coat]
    findings = [f for entry, why in free.plan.excluded if entry.id in named for f in why]
    items = {str(place): item for place, item in enumerate(named, start=1)}
    return Rechecked(name, "chosen", items, "refused", tuple(distinct(findings)), first=_first(free))


def _recorded(free: Asked, chain: Mapping[str, str], of: str) -> Rechecked:
    """Say how a chain stands that was recorded slot by slot."""
    name, screened = free.job.job.name, free.plan.screened
    positions = [_position(domain, chain.get(slot, ""), chain.get("cure", "")) for slot, domain in _slots(free)]
    missing = [chain[slot] for (slot, _), at in zip(_slots(free), positions, strict=True) if at is None]
    if missing:
        return Rechecked(name, of, chain, "unknown-item", missing=tuple(missing), first=_first(free))
    known = [at for at in positions if at is not None]
    alone = screened.problem.only([1 << at for at in known])
    if not feasible(alone):
        closing = tuple(distinct(f for f in findings_of(screened, known) if f.closes))
        return Rechecked(name, of, chain, "refused", closing, first=_first(free))
    found = free.engine.best(screened, alone)
    assert found is not None
    return _beside(free, found, of)


def _beside(free: Asked, chain: Chain, of: str) -> Rechecked:
    first = _first(free)
    behind = chain.cost - first.cost if first is not None else 0
    verdict: Verdict = "first" if behind <= 0 else "behind"
    return Rechecked(free.job.job.name, of, chain.named, verdict, behind=behind, first=first)


def _first(free: Asked) -> Chain | None:
    return free.plan.chains[0] if free.plan.chains else None


def _slots(free: Asked) -> Sequence[tuple[str, Domain]]:
    return list(zip(NAMES, free.engine.domains, strict=True))


def _position(domain: Domain, item: str, cure: str) -> int | None:
    """Find where an item stands in a slot, an adhesive with its cure; the empty place for "", None where it is gone."""
    if not item:
        return 0
    for place, option in enumerate(domain.options):
        if option.id == item and (option.cure is None or option.cure["id"] == cure):
            return place
    return None
