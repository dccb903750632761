"""Laws that hold whatever the knowledge says, over seeded random jobs: reasons, and what asking more may not do."""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest

from kb.base.surroundings import Conditions, exposures
from kb.base.vocabulary import EXPOSURES
from kb.engine.grounding import Grounder
from kb.engine.plan import Engine, Plan
from kb.engine.rank import Ranking
from kb.engine.screen import Screener
from kb.engine.screened import Screened
from kb.engine.search.masks import positions_of, union
from kb.engine.search.reach import fastest
from kb.job import Job
from kb.knowledge import Entry
from kb.rules.job_facts import job_facts
from kb.rules.roles import CHAIN_KINDS
from kb.rules.rule import Rule
from tests.oracles.jobs import random_job

SEEDS = range(200)
#: What the law of asking more speaks of. (A degreaser, say, may be let in: a hotter part needs another adhesive.)
BONDING = ("adhesive", "backing", "coating")
#: As far as figures of exposures go.
LARGEST = {"depth_m": 1000.0, "pressure_bar": 1000.0, "concentration_pct": 100.0, "dose_kgy": 10000.0}


def usable(screened: Screened) -> set[str]:
    """Ids of the items that some allowed chain uses."""
    limit = screened.problem.limit_ms
    found: set[str] = set()
    for domain, by_time in zip(screened.domains, fastest(screened.problem), strict=True):
        members = union(mask for ms, mask in by_time.items() if limit is None or ms <= limit)
        found |= {domain.options[place].id for place in positions_of(members)}
    return found - {""}


@pytest.fixture(scope="module")
def plans(engine: Engine) -> list[Plan]:
    return [engine.plan(*random_job(seed, engine.knowledge), top=5) for seed in SEEDS]


def test_every_item_that_no_chain_can_use_has_a_finding_that_closes_it(plans: list[Plan]) -> None:
    kinds = set(CHAIN_KINDS)
    for plan in plans:
        free = usable(plan.screened)
        items = [entry.id for entry in plan.knowledge.entries.values() if entry.kind in kinds]
        assert [entry.id for entry, _ in plan.excluded] == [item for item in items if item not in free]
        for entry, findings in plan.excluded:
            assert findings, entry.id
            assert all(finding.closes for finding in findings), entry.id


def test_no_item_is_both_used_and_excluded(plans: list[Plan]) -> None:
    for plan in plans:
        excluded = {entry.id for entry, _ in plan.excluded}
        used = {option.id for chain in plan.chains for option in chain.picks}
        assert not used & excluded


def harder(job: Job, draw: random.Random) -> Iterator[tuple[str, Job]]:
    """The job with each of three exposures more, a hotter and a colder end, a longer time, more cycles, and each figure
    of its exposures larger: deeper, stronger, more pressure, more dose. What the part endures stays as it was."""
    service = job.service
    low, high = service.temperature_c
    for new in draw.sample([word for word in EXPOSURES if word not in service.exposures], 3):
        yield f"and {new}", asked(job, exposures=(*service.exposures, new))
    hotter = high + draw.choice((1, 10, 30, 60, 120, 300))
    if service.peak is None or service.peak.temperature_c >= hotter:
        yield f"up to {hotter}", asked(job, temperature_c=(low, hotter))
    yield "colder", asked(job, temperature_c=(max(-273.0, low - draw.choice((1, 10, 30, 60, 120))), high))
    yield "longer", asked(job, duration_days=service.duration_days * draw.choice((1.5, 10, 100)))
    yield "more cycles", asked(job, thermal_cycles=service.thermal_cycles * 100)
    for word in service.exposures:
        for name in sorted(set(LARGEST) & set(exposures()[word].takes)):
            least = exposures()[word].assumed.get(name, 0.0)
            figure = Conditions(**{name: draw.uniform(least, LARGEST[name])})
            yield f"{name} of {word}", asked(job, conditions={**service.conditions, word: figure})


def asked(job: Job, **service: object) -> Job:
    return job.model_copy(update={"service": job.service.model_copy(update=service)})


def test_asking_more_never_admits_what_was_refused(engine: Engine) -> None:
    tried = shut_out = 0
    bonding = {e.id for kind in BONDING for e in engine.knowledge.by_kind[kind]}
    for seed in SEEDS:
        job, part = random_job(seed, engine.knowledge)
        endures = job_facts(job, part.facts)["part"].get("max_process_temperature_c")
        job = job.model_copy(
            update={"part": job.part.model_copy(update={"max_process_temperature_c": endures})},
        )
        before = usable(engine.screened(job, part))
        for what, more in harder(job, random.Random(seed)):
            after = usable(engine.screened(more, part))
            tried += 1
            shut_out += bool((before - after) & bonding)
            let_in = (after - before) & bonding
            assert not let_in, f"{seed}, {part.id} {what}: {sorted(let_in)}"
    assert tried > 4 * len(SEEDS)
    assert shut_out > len(SEEDS)


class Reduced:
    """The engine with some of its rules only."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self.templates = [Grounder(rule) for rule in engine.knowledge.rules]
        self.ranking = Ranking(engine.knowledge.tables["ranking"])

    def usable(self, plan: Plan, kept: set[Rule]) -> set[str]:
        """What can be used where only `kept` and the rules that forbid nothing speak, whatever time it takes."""
        templates = [t for t in self.templates if t.rule in kept or not (t.rule.verdict == "block" or t.rule.needs)]
        screener = Screener(self.engine.knowledge, self.engine.domains, self.ranking, templates)
        scene = dict(plan.screened.scene)
        return usable(screener.screen({**scene, "limits": {**(scene["limits"] or {}), "ready_within_min": 1e12}}))


def reasoned(plans: list[Plan], draw: random.Random, most: int) -> Iterator[tuple[Plan, Entry, set[Rule]]]:
    """Some excluded items of jobs that have chains, with the rules that their findings name."""
    for plan in plans:
        named = [(entry, {finding.rule for finding in findings}) for entry, findings in plan.excluded]
        by_item = [(entry, rules) for entry, rules in named if not any("chain" in rule.roles() for rule in rules)]
        for entry, rules in draw.sample(by_item, min(most, len(by_item))):
            yield plan, entry, rules


def test_the_rules_that_are_named_close_the_item_and_without_them_it_is_in(engine: Engine, plans: list[Plan]) -> None:
    """Brute force: plan with the named rules only, and with all others only.

    Named rules nearly always suffice to shut the item out: but a stage that may be left out only with certain
    neighbours is counted as one that may be. Without them it is in, unless still others, in a second line, close it.
    """
    reduced = Reduced(engine)
    every = set(engine.knowledge.rules)
    tried = enough = let_in = 0
    # One of each job: what is left out beside a welded gauge fails together.
    for plan, entry, rules in reasoned([p for p in plans if p.chains], random.Random(1), 1):
        tried += 1
        enough += entry.id not in reduced.usable(plan, rules)
        let_in += entry.id in reduced.usable(plan, every - rules)
    assert tried > len(SEEDS) / 2
    assert enough >= 0.98 * tried
    assert let_in >= 0.7 * tried
