"""One law: what is blocked for a job is in no chain of it, what is in a chain is not blocked, whatever its name."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import combinations

import pytest

from kb.engine.chain import Chain
from kb.engine.check import VERDICTS, Bench, Setting, Thing, verdict_of
from kb.engine.check.hearing import Hearing
from kb.engine.check.layout import layouts
from kb.engine.check.things import Situation
from kb.engine.plan import Engine
from kb.engine.search.reach import feasible
from kb.engine.slots import COATS, NAMES
from kb.knowledge import Entry, Knowledge
from kb.lint.proof import scene_of
from kb.rules.clauses import Clause
from kb.rules.findings import Finding
from kb.rules.form import Case, RuleTable, load_rules
from kb.rules.roles import JOB_ROLES, SLOT_ROLES
from kb.rules.rule import Rule
from tests.mirror import ROOT
from tests.oracles.jobs import random_job
from tests.sweep import swept

#: Of these random jobs; 500 were looked at when this was written.
JOBS = swept(range(40), 4)
#: Pairs of options tried for each job.
PAIRS = 12


def pairs_of(chain: Chain) -> Iterator[tuple[Thing, Thing]]:
    """Pairs that the chain itself holds in a relation; of coats only those that touch, the first on the gauge."""
    slots = [slot for slot, option in enumerate(chain.picks) if option.entry is not None]
    for one, other in combinations(slots, 2):
        coats = [slot for slot in (one, other) if slot in COATS]
        apart = len(coats) == 2 and other != one + 1
        above = len(coats) == 1 and coats != [COATS[0]] and NAMES[one] in ("backing", "adhesive")
        things = [Thing(option.id, option.entry) for option in (chain.picks[one], chain.picks[other])]
        if not apart and not above and things[0].id != things[1].id:
            yield things[0], things[1]


def test_nothing_that_a_chain_holds_together_is_blocked(engine: Engine) -> None:
    pairs = 0
    for seed in JOBS:
        job, part = random_job(seed, engine.knowledge)
        bench, bare = Bench(engine, Setting(job, part)), Bench(engine)
        for chain in engine.plan(job, part, top=1).chains:
            for pair in pairs_of(chain):
                pairs += 1
                assert bench.check(pair).verdict != "blocked", (seed, pair[0].id, pair[1].id)
                assert bare.check(pair).verdict != "blocked", (seed, pair[0].id, pair[1].id)
    assert pairs > 10 * len(JOBS)


def test_what_is_blocked_with_the_job_is_in_no_chain_of_it(engine: Engine) -> None:
    """Asked of the search itself: whether any chain holds the two so, of all chains that there are."""
    blocked = 0
    for seed in JOBS:
        job, part = random_job(seed, engine.knowledge)
        problem = engine.screened(job, part).unweighted_problem
        bench, draw = Bench(engine, Setting(job, part)), random.Random(seed)
        for _ in range(PAIRS):
            one, other = sorted(draw.sample(range(len(NAMES)), 2))
            if {one, other} <= set(COATS) and other != one + 1:
                continue
            things = [draw.choice(engine.domains[slot].options[1:]) for slot in (one, other)]
            pair = [Thing(option.id, option.entry) for option in things]
            if NAMES[one] in ("backing", "adhesive") and other in COATS[1:]:
                continue
            if bench.check(pair).verdict == "blocked":
                blocked += 1
                masks = [domain.all for domain in engine.domains]
                for slot, option in zip((one, other), things, strict=True):
                    masks[slot] = engine.domains[slot].places({option.id})
                assert not feasible(problem.only(masks)), (seed, pair[0].id, pair[1].id)
    assert blocked > len(JOBS)


def surroundings_alone(findings: Iterable[Finding]) -> int:
    """How bad what is said of a coat in its surroundings is, as a place in VERDICTS."""
    read = ("service.exposures", "service.met", "service.creeps_in", "service.immersed_in")
    of = (f for f in findings if not {p for c in f.rule.when for p in c.facts()}.isdisjoint(read))
    return VERDICTS.index(verdict_of(of))


def test_covering_a_coat_never_makes_its_surroundings_worse(engine: Engine) -> None:
    """In every job a coat fares below another coat no worse than as the outermost, as far as surroundings go."""
    compared = better = 0
    for seed in JOBS:
        bench = Bench(engine, Setting(*random_job(seed, engine.knowledge)))
        for entry in engine.knowledge.by_kind["coating"]:
            uses = {use.words: use for use in bench.check((Thing(entry.id, entry),)).uses}
            for words, covered in uses.items():
                bare = uses.get(tuple("outermost" if word == "under another coat" else word for word in words))
                if "under another coat" in words and bare is not None:
                    ranks = surroundings_alone(covered.findings), surroundings_alone(bare.findings)
                    assert ranks[0] <= ranks[1], (seed, entry.id, words)
                    compared += 1
                    better += ranks[0] < ranks[1]
    assert compared > 25 * len(JOBS)
    assert better > 2 * len(JOBS)


def copied(knowledge: Knowledge) -> tuple[Knowledge, dict[str, str]]:
    """The knowledge in which each item is followed by a copy of a lab's own, and the names of the copies."""
    entries: dict[str, Entry] = {}
    for entry in knowledge.entries.values():
        entries[entry.id] = entry
        facts = {**entry.facts, "id": f"house-{entry.id}", "name": f"ours, {entry.name}", "house": True, "aliases": ()}
        entries[f"house-{entry.id}"] = entry._replace(id=facts["id"], name=facts["name"], facts=facts)
    return replace(knowledge, entries=entries, index={}), {name: f"house-{name}" for name in knowledge.entries}


def test_a_house_copy_under_another_name_fares_as_what_it_is_like(knowledge: Knowledge) -> None:
    both, names = copied(knowledge)
    bench, draw = Bench(Engine(both)), random.Random(7)
    kinds = [kind for kind in both.by_kind if kind not in ("aid", "substance")]
    compared = 0
    for one, other in combinations(kinds, 2):
        own = [[e for e in both.by_kind[kind] if e.id in names] for kind in (one, other)]
        for _ in swept(range(25), 5):
            pair = [draw.choice(entries) for entries in own]
            first = bench.check([Thing(e.id, e) for e in pair])
            copies = [both.entry(names[e.id]) for e in pair]
            for tried in ([pair[0], copies[1]], [copies[0], pair[1]], copies):
                said = bench.check([Thing(e.id, e) for e in tried])
                assert said.verdict == first.verdict, [e.id for e in pair]
                assert [f.rule.id for f in said.findings] == [f.rule.id for f in first.findings]
                compared += 1
    assert compared > 500


def asks_for_nothing(rule: Rule) -> bool:
    """Whether it speaks only where a slot is empty: nothing that is named leaves one empty."""
    return any(isinstance(c, Clause) and str(c.fact).endswith(".present") and c.value is False for c in rule.when)


def firing_cases() -> list[tuple[Rule, RuleTable, Case]]:
    """Every block with each of its cases in which it fires; not those that ask for a stage that is left out."""
    loaded = load_rules(ROOT / "rules")
    return [
        (rule, table, case)
        for rule, table, _ in loaded
        if rule.verdict == "block" and "chain" not in rule.roles() and not asks_for_nothing(rule)
        for case in table.cases
        if case.fires is True
    ]


@pytest.mark.parametrize(("rule", "case"), [pytest.param(rule, case, id=rule.id) for rule, _, case in firing_cases()])
def test_every_block_fires_for_the_things_of_its_own_cases(rule: Rule, case: Case, knowledge: Knowledge) -> None:
    """What a case describes and the catalog lacks is put into it for the test."""
    scene = scene_of(case, knowledge.entries, rule.id)
    added, standing = dict(knowledge.entries), dict[str, Entry]()
    for role, facts in scene.items():
        if facts is None or role == "cure" or role not in case.with_ or role in JOB_ROLES:
            continue
        like = knowledge.entries.get(str(facts.get("id", "")))
        if like is None:
            pytest.skip("a case of bare facts is no thing that can be named")
        entry = like._replace(id=f"case-{role}", facts={**facts, "id": f"case-{role}"})
        standing[role] = added[entry.id] = entry
    if not standing or "third" in standing or ("cure" in case.with_ and "adhesive" not in standing):
        pytest.skip("nothing is named that stands there")
    order = ("inner", "under", "coating", "second", "over", "outer")
    named = sorted(standing, key=lambda role: order.index(role) if role in order else -1)
    things = tuple(Thing(standing[role].id, standing[role]) for role in named)
    tables = {role: scene[role] for role in (*JOB_ROLES, "chain")}
    told = tables | {role: scene[role] for role in standing if role not in SLOT_ROLES}
    job, part = random_job(0, knowledge)
    situation = Situation(things, Setting(job, part), told)
    engine = Engine(replace(knowledge, entries=added, index={}, rules=(rule,)))
    hearing = Hearing(engine.grounders, engine.domains, situation)
    ways = list(layouts(situation, engine.domains))
    heard = [one for way in ways for one in hearing.says(way)]
    assert any(one.finding.rule is rule and one.finding.known for one in heard), [t.id for t in things]
