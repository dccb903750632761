"""Jobs that the tests of the day's arithmetic share."""

from __future__ import annotations

from typing import Any

from kb.engine.chain import Chain
from kb.engine.plan import Engine, Plan
from kb.engine.slots import INDEX
from kb.job import Job, job_of
from kb.knowledge import Entry
from kb.materials import resolve

#: A bare bracket at room temperature: whatever suits it, something is abraded, cleaned, bonded and covered.
BRACKET: dict[str, dict[str, Any]] = {
    "part": {"substrate": "aluminium 6061", "thickness_mm": 4.0},
    "service": {"temperature_c": [10, 40], "duration_days": 5},
    "batch": {"boards": 10, "gauges_per_board": 2},
}
#: A board, as the demo has it.
BOARD: dict[str, dict[str, Any]] = {
    "part": {"substrate": "solder-masked board", "surface": ["solder-masked"], "clamping": "thumb-only"},
    "service": {"temperature_c": [15, 35], "duration_days": 7},
    "gauge": {"grid_mm": [1.5, 1.2], "matrix_mm": [4.5, 3.0]},
    "batch": {"boards": 10, "gauges_per_board": 4},
}
#: An invented road bridge in November.
GIRDER: dict[str, dict[str, Any]] = {
    "part": {"substrate": "S355J2", "surface": ["painted"], "orientation": "overhead", "no_oven": True},
    "service": {"temperature_c": [-25, 45], "exposures": ["outdoor-weather"], "duration_days": 3650},
    "bench": {"air_temperature_c": 6, "relative_humidity_pct": 85, "part_temperature_c": 4},
}


def job_with(base: dict[str, dict[str, Any]], **tables: dict[str, Any]) -> Job:
    """`base` with some of its fields changed, by table."""
    return job_of({**base, **{name: {**base.get(name, {}), **table} for name, table in tables.items()}}, "test")


def substrate_of(job: Job, engine: Engine) -> Entry:
    return resolve.substrate(job.part.substrate, engine.knowledge, "test").entry


def planned(job: Job, engine: Engine) -> tuple[Plan, Chain]:
    """The plan and its first chain."""
    plan = engine.plan(job, substrate_of(job, engine), 1)
    return plan, plan.chains[0]


def with_adhesive(job: Job, engine: Engine, adhesive: str, cure: str | None = None) -> tuple[Plan, Chain]:
    """The plan's first chain with its adhesive exchanged, whatever the rules say of that."""
    plan, chain = planned(job, engine)
    slot = INDEX["adhesive"]
    option = next(
        o
        for o in plan.screened.domains[slot].options
        if o.id == adhesive and (cure is None or (o.cure or {}).get("id") == cure)
    )
    return plan, chain._replace(picks=(*chain.picks[:slot], option, *chain.picks[slot + 1 :]))


def with_coat(plan: Plan, chain: Chain, coat: str) -> Chain:
    """The chain with its first coat exchanged, and no other."""
    first = INDEX["coating_1"]
    options = plan.screened.domains[first].options
    option = next(o for o in options if o.id == coat)
    empty = next(o for o in options if o.entry is None)
    return chain._replace(picks=(*chain.picks[:first], option, empty, empty))
