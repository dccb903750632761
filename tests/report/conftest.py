"""Shared: the demo's jobs, planned once a process."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from kb.engine.chain import Chain
from kb.engine.plan import Engine, Plan
from kb.job import read_job
from kb.materials.resolve import Resolved, substrate
from kb.planning.demo import jobs


@dataclass(frozen=True)
class Planned:
    """A demo job, its part, its plan and its first chain."""

    plan: Plan
    resolved: Resolved

    @property
    def chain(self) -> Chain:
        return self.plan.chains[0]


@pytest.fixture(scope="session")
def planned(engine: Engine) -> dict[str, Planned]:
    found = {}
    for name, path in jobs().items():
        job = read_job(path)
        resolved = substrate(job.part.substrate, engine.knowledge, name)
        found[name] = Planned(engine.plan(job, resolved.entry), resolved)
    return found
