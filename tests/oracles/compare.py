"""The engine against the oracles: one job on one knowledge, and what corner of the matter it lies in."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from math import prod

from kb.engine import scene
from kb.engine.chain import Chain
from kb.engine.plan import Engine, Plan
from kb.engine.search.k_best import k_best
from kb.job import Job
from kb.knowledge import Entry, Knowledge
from kb.rules.findings import Finding
from kb.rules.roles import ALWAYS_FILLED, SLOT_ROLES, SLOTS
from tests.oracles import by_clingo, by_cp_sat
from tests.oracles.evaluate import Choice, Points, Scene, choices, well_formed, worth
from tests.oracles.generated import random_knowledge
from tests.oracles.model import Builder

K = 10
#: A chain's cost, and item (with cure) of each slot.
Told = tuple[int, tuple[str, ...]]


class Disagreement(AssertionError):
    """The engine and an oracle differ."""


def scene_of(knowledge: Knowledge, job: Job, entry: Entry) -> Scene:
    """The facts of a job and its part, without the layer that comes off, by role; what is read beside the slots."""
    return {**scene.scene_of(knowledge, job, entry.facts), "chain": {}}


def costs_agree(engine: Engine, builder: Builder, job: Job, entry: Entry, prefer: str | None = None) -> Plan:
    """The engine's plan, its K best costs being those that clingo and CP-SAT find; Disagreement where they aren't."""
    plan = engine.plan(job, entry, K, prefer)
    model = builder.model(scene_of(plan.knowledge, job, entry))
    own = [chain.cost for chain in plan.chains]
    for name, oracle in (("clingo", by_clingo), ("CP-SAT", by_cp_sat)):
        found = oracle.k_best_costs(model, K)
        if found != own:
            raise Disagreement(f"{job.job.name} on {entry.id}: engine {own}, {name} {found}")
    places = [[d.options.index(o) for d, o in zip(engine.domains, c.picks, strict=True)] for c in plan.chains]
    order = list(zip(own, places, strict=True))
    if order != sorted(order):
        raise Disagreement(f"{job.job.name} on {entry.id}: equals are not in the catalog's order")
    return plan


def chains_agree(plan: Plan, most: int) -> bool:
    """Whether at most `most` chains can be tried; the plan's are then the best of all, in order, or Disagreement."""
    if prod(len(standing(plan.knowledge, slot)) for slot in SLOTS) > most:
        return False
    own = [told(chain) for chain in plan.chains]
    every = sorted_worth(plan.knowledge, scene_of(plan.knowledge, plan.job, plan.substrate))
    if own != every[:K]:
        raise Disagreement(f"{plan.job.job.name} on {plan.substrate.id}: engine {own}, every chain {every[:K]}")
    return True


def told(chain: Chain) -> Told:
    return chain.cost, tuple(Choice(option.entry, option.cure).name for option in chain.picks)


def standing(knowledge: Knowledge, slot: str) -> list[tuple[int, Choice]]:
    """What may stand in a slot, with its position; not the empty choice where every chain fills it."""
    return list(enumerate(choices(knowledge, slot)))[slot in ALWAYS_FILLED :]


def sorted_worth(knowledge: Knowledge, scene: Scene) -> list[Told]:
    """Every allowed chain, judged whole and in order: cost, then positions."""
    points = Points(knowledge.tables["ranking"])
    found: list[tuple[int, tuple[int, ...], tuple[str, ...]]] = []
    for way in product(*(standing(knowledge, slot) for slot in SLOTS)):
        chain = {slot: choice for slot, (_, choice) in zip(SLOTS, way, strict=True)}
        if well_formed(chain):
            known = worth(knowledge, scene, chain, points)
            if known.allowed:
                found.append((known.cost, tuple(p for p, _ in way), tuple(c.name for c in chain.values())))
    return [(cost, names) for cost, _, names in sorted(found)]


def invented(seed: int, knowledge: Knowledge) -> tuple[Engine, Job, Entry]:
    """An engine over the knowledge that is invented from `seed`, its job and part; points as in `knowledge`."""
    made, job, entry = random_knowledge(seed, knowledge.tables["ranking"])
    return Engine(made), job, entry


CORNERS = (
    "no chain", "exactly one", "fewer than asked for", "all tie", "three coats", "needs supplied", "needs that chain",
    "needs that wait", "a limit that bites", "unknown facts",
)  # fmt: skip


def corners(plan: Plan) -> Iterator[str]:
    """Which of CORNERS the plan lies in."""
    count, costs = len(plan.chains), {chain.cost for chain in plan.chains}
    if count < K:
        yield {0: "no chain", 1: "exactly one"}.get(count, "fewer than asked for")
    elif len(costs) == 1:
        yield "all tie"
    findings = [finding for chain in plan.chains for finding in chain.findings]
    if any(_supplied(finding) for finding in findings):
        yield "needs supplied"
    if any(_chained(chain) for chain in plan.chains):
        yield "needs that chain"
    if any(finding.verdict == "need" and not finding.rule.needs for finding in findings):
        yield "needs that wait"
    if any(not finding.known for finding in findings):
        yield "unknown facts"
    if any(len(chain.coatings) == 3 for chain in plan.chains):
        yield "three coats"
    problem = plan.screened.problem
    if problem.limit_ms is not None and k_best(problem, K) != k_best(problem._replace(limit_ms=None), K):
        yield "a limit that bites"


def _supplied(finding: Finding) -> bool:
    return finding.verdict == "need" and bool(finding.rule.needs) and finding.met


def _chained(chain: Chain) -> bool:
    """Whether what supplies one need has another, which is supplied too."""
    needs = [finding.rule for finding in chain.findings if _supplied(finding)]
    supply = [{role for condition in rule.needs for role in condition.roles() & SLOT_ROLES.keys()} for rule in needs]
    have = [{role for condition in rule.when for role in condition.roles() & SLOT_ROLES.keys()} for rule in needs]
    return any(roles & others for n, roles in enumerate(supply) for m, others in enumerate(have) if n != m)
