"""Plan a job: the one way from a job to its chains that every answer about it takes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING

from kb.base.errors import NO_CHAIN, BadInput, TackroomError
from kb.engine.chain import Chain
from kb.engine.plan import Engine, Plan, Yields
from kb.job import Choose, Job
from kb.knowledge import Knowledge
from kb.materials import resolve
from kb.materials.resolve import Resolved
from kb.planning.choice import notes_on, settled
from kb.planning.shelf import Shelf, shelf_first
from kb.rules.values import value_of
from kb.rules.words import shown

if TYPE_CHECKING:
    # A plan that has a chain loads neither the search for conflicts nor what judges single pairs.
    from kb.engine.check import Setting
    from kb.engine.conflict import Trouble
    from kb.planning.alternatives import Alternative
    from kb.planning.hangs_on import Hang
    from kb.planning.supposed import Supposed


#: The preference that isn't one of weights: chains that the shelf can supply come first.
STOCK = "stock"


class NoChain(TackroomError):
    """No chain suits the job."""

    exit_status = NO_CHAIN


@dataclass(frozen=True)
class Asked:
    """A job with what its part is made of and its plan; `where` names it in messages."""

    engine: Engine
    job: Job
    resolved: Resolved
    plan: Plan
    where: str
    prefer: str | None = None
    #: Facts of items that the question changes.
    supposed: tuple[Supposed, ...] = ()
    #: The answer to the same question under another name, which has worked out all that doesn't hang on the name.
    like: Asked | None = field(default=None, compare=False, repr=False)

    def called(self, name: str) -> Asked:
        """Give the same answer for a job of another name: what was worked out for this one serves it as well."""
        if name == self.job.job.name:
            return self
        job = self.job.model_copy(update={"job": self.job.job.model_copy(update={"name": name})})
        return replace(self, job=job, plan=self.plan.called(job), like=self.like or self)

    def chain(self, rank: int = 1) -> Chain:
        """Give the chain of that rank; NoChain where there is none at all, BadInput where there are fewer."""
        if not self.plan.chains:
            raise NoChain(self.where, "no chain suits this job", "plan it, to see what stands against it")
        if rank > len(self.plan.chains):
            raise BadInput("chain", f"there are only {len(self.plan.chains)} chains", "give a lower rank")
        return self.plan.chains[rank - 1]

    def ranked(self, rank: int) -> Chain | None:
        """Give the chain of that rank; None where there are fewer."""
        return self.plan.chains[rank - 1] if rank <= len(self.plan.chains) else None

    @cached_property
    def others(self) -> list[Alternative]:
        """What else there is beside the first chain."""
        from kb.planning.alternatives import alternatives

        if self.like is not None:
            return [o._replace(plan=self.plan) if o.plan is self.like.plan else o for o in self.like.others]
        return alternatives(self.engine, self.plan)

    @cached_property
    def hangs_on(self) -> list[Hang] | None:
        """What the answer hangs on; a second or so of work, and none where nobody asks."""
        from kb.planning.hangs_on import hangs_on

        if self.like is not None:
            return self.like.hangs_on
        return hangs_on(self.engine, self.plan, None if self.prefer == STOCK else self.prefer)

    @property
    def trouble(self) -> Trouble | None:
        """What stands against the job and what would help; None where it has a chain."""
        return None if self.plan.chains else self._trouble

    # Apart, since Python 3.11 has one lock for a cached property of all objects: who has a chain must not wait for it.
    @cached_property
    def _trouble(self) -> Trouble | None:
        from kb.engine.conflict import trouble

        if self.like is not None:
            return self.like.trouble
        return trouble(self.engine, self.plan)


def setting_for(job: Job, knowledge: Knowledge, where: str) -> Setting:
    """Give a job with what its part is made of, to judge things for it.

    BadInput, which names the field by `where`, where the material isn't clear.
    """
    from kb.engine.check import Setting

    resolved = resolve.of_part(job.part, knowledge, where)
    return Setting(resolve.as_said(job, resolved), resolved.entry)


def ask(
    engine: Engine,
    job: Job,
    where: str,
    top: int = 3,
    prefer: str | None = None,
    shelf: Shelf | None = None,
    part: Resolved | None = None,
    settings: Sequence[str] = (),
    yields: Yields = MappingProxyType({}),
) -> Asked:
    """Plan `job` with its `top` best chains; with `shelf`, those that it can supply come first.

    `part` is what the job's part is made of, where that is known already. `settings` are facts that the question
    changes, each ITEM.FIELD=VALUE; the answer says which. `yields` is what the lab's record says. Raises BadInput where
    the part's material isn't clear, where `prefer` is no preference, and where the shelf is preferred and not given.
    """
    supposed: tuple[Supposed, ...] = ()
    if settings:
        from kb.planning.supposed import suppose

        found = suppose(engine.knowledge, job, settings, "--set")
        engine, part, supposed = Engine(found.knowledge, engine.most_transitions), part or found.part, found.facts
    job = settled(job, engine.knowledge, where)
    check_preference(prefer, engine.knowledge, "prefer")
    check_preference(job.choose.prefer, engine.knowledge, f"{where}: choose.prefer")
    prefer = prefer or job.choose.prefer
    if prefers_stock(job, prefer) and shelf is None:
        raise BadInput("prefer", "there is no shelf to prefer", "name the lab's workspace")
    resolved = part or resolve.of_part(job.part, engine.knowledge, f"{where}: part.substrate")
    job = resolve.as_said(job, resolved)
    plan = engine.plan(job, resolved.entry, top, None if prefer == STOCK else prefer)
    plan = replace(plan, yields=yields)
    if shelf is not None:
        plan = shelf_first(engine, plan, shelf)
    if job.choose.pins:
        free = engine.plan(job.model_copy(update={"choose": Choose()}), resolved.entry, top=1)
        plan = plan.noted(*notes_on(job.choose, plan, free))
        if not plan.chains:
            from kb.planning.apart import why_not_kept

            plan = plan.noted(*why_not_kept(job.choose, plan, engine))
    plan = plan.noted(*confirmed_notes(plan))
    if supposed:
        plan = plan.noted(*(fact.words() for fact in supposed))
    plan = plan.noted(*_learned(plan))
    return Asked(engine, job, resolved, plan, where, prefer, supposed)


def _learned(plan: Plan) -> Iterator[str]:
    """Say that the first chain's yield is the one of the record, where there is one."""
    if plan.chains and plan.yields:
        found = plan.yield_of(plan.chains[0])
        if found != plan.job.batch.expected_yield:
            share, said = (f"{100 * value:.3g} %" for value in (found, plan.job.batch.expected_yield))
            yield f"Reckoned with the yield that the lab's record gives this chain, {share}; the job says {said}."


def confirmed_notes(plan: Plan) -> Iterator[str]:
    """Say which values of the part and of the first chain's members the lab has confirmed, and by what."""
    entries = {plan.substrate.id: plan.substrate}
    entries |= {o.entry.id: o.entry for chain in plan.chains[:1] for o in chain.picks if o.entry is not None}
    for entry in entries.values():
        for row in entry.facts.get("field_basis", ()):
            if row["basis"] == "confirmed":
                for field in row["fields"]:
                    yield f"{entry.id}.{field} = {shown(value_of(entry.facts, field))}: {row['locator']}."


def prefers_stock(job: Job, prefer: str | None) -> bool:
    """Tell whether what the shelf can supply is to come first, for the job or for who asks."""
    return STOCK in (prefer, job.choose.prefer) or job.choose.stock


def preferences(knowledge: Knowledge) -> tuple[str, ...]:
    """Everything that may be preferred."""
    return (*knowledge.tables["ranking"]["prefer"], STOCK)


def check_preference(prefer: str | None, knowledge: Knowledge, where: str) -> None:
    """BadInput, which names the option by `where`, where `prefer` is none."""
    known = preferences(knowledge)
    if prefer is not None and prefer not in known:
        raise BadInput(where, f"'{prefer}' is not a preference", f"one of: {', '.join(known)}")
