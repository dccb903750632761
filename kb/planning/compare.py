"""Two chains of a job, or one job under two conditions, side by side."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from kb.base.errors import BadInput
from kb.base.files import typed
from kb.engine.chain import Chain
from kb.engine.conflict import Trouble
from kb.engine.plan import Plan
from kb.engine.requirements import differences
from kb.engine.why import Gap, gaps
from kb.job import Job, job_of
from kb.planning.ask import Asked
from kb.rules.findings import Finding, distinct
from kb.rules.roles import SLOTS


@dataclass(frozen=True)
class Side:
    """One of the two: what it is called, the plan that it comes from, and its chain; or why there is none."""

    name: str
    plan: Plan
    chain: Chain | None
    trouble: Trouble | None = None


@dataclass(frozen=True)
class Comparison:
    """Two sides, and what differs."""

    one: Side
    other: Side

    @property
    def conditions(self) -> list[tuple[str, Any, Any]]:
        """(field, value, value) of what the two jobs ask differently."""
        return differences(self.one.plan.job, self.other.plan.job)

    @property
    def slots(self) -> list[tuple[str, str, str]]:
        """(slot, item, item) for every slot that either fills; "" for one left empty."""
        rows = [(slot, _item(self.one.chain, slot), _item(self.other.chain, slot)) for slot in SLOTS]
        return [row for row in rows if row[1] or row[2]]

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """The criteria in which the two chains differ."""
        return gaps(self.one.chain, self.other.chain) if self.one.chain and self.other.chain else ()

    @property
    def findings(self) -> tuple[list[Finding], list[Finding]]:
        """What the rules say of the one chain only, and of the other only; a rule that speaks of both is in neither."""
        return _only(self.one.chain, self.other.chain), _only(self.other.chain, self.one.chain)

    @property
    def excluded(self) -> tuple[list[str], list[str]]:
        """Ids of the items that are refused under the one job only, and under the other only."""
        if self.one.plan is self.other.plan:
            return [], []
        one, other = ([entry.id for entry, _ in side.plan.excluded] for side in (self.one, self.other))
        return [i for i in one if i not in set(other)], [i for i in other if i not in set(one)]


def side_of(asked: Asked, name: str) -> Side:
    """Take the first chain of a job as a side; where there is none, with the reason why."""
    chains = asked.plan.chains
    return Side(name, asked.plan, chains[0] if chains else None, asked.trouble)


def ranked(plan: Plan, one: int, other: int) -> Comparison:
    """Give two chains of one plan by their ranks; BadInput where there are not so many."""
    if len(plan.chains) < max(one, other):
        raise BadInput("compare", f"the job has {len(plan.chains)} chains, no more", "name ranks that there are")
    return Comparison(*(Side(f"chain {rank}", plan, plan.chains[rank - 1]) for rank in (one, other)))


def _item(chain: Chain | None, slot: str) -> str:
    return chain.pick(slot).id if chain else ""


def _only(one: Chain | None, other: Chain | None) -> list[Finding]:
    if one is None or other is None:
        return []
    known = {(finding.rule.id, finding.known) for finding in other.findings}
    return [f for f in distinct(one.findings) if (f.rule.id, f.known) not in known]


def changed(job: Job, settings: Sequence[str], where: str) -> Job:
    """Give `job` with each `FIELD=VALUE` put in, as the job file would have it; BadInput where one can't be read.

    >>> job = job_of({"part": {"substrate": "brass"}, "service": {"temperature_c": [10, 60]}}, "a job")
    >>> changed(job, ["service.temperature_c[1]=80", "part.clamping=thumb-only"], "--with").service.temperature_c
    (10.0, 80.0)
    """
    data = job.model_dump(mode="json")
    for setting in settings:
        field, sign, value = setting.partition("=")
        parts = re.findall(r"[a-z0-9_]+", field)
        if not sign or len(parts) < 2:
            raise BadInput(where, f"'{setting}' is not FIELD=VALUE", "for instance service.temperature_c[1]=80")
        *path, last = (int(part) if part.isdecimal() else part for part in parts)
        try:
            table: Any = data
            for part in path:
                table = table[part]
            table[last] = typed(value)
        except (KeyError, IndexError, TypeError):
            raise BadInput(where, f"'{field}' is no field of this job", "name it as the job file does") from None
    return job_of(data, where)
