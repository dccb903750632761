"""A worse rating never costs less, and never opens what a better one closes: held for each rating, over random jobs."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from functools import cache
from itertools import pairwise
from typing import NamedTuple

from kb.engine.chain import finding_of, standings
from kb.engine.domain import Option
from kb.engine.plan import Engine
from kb.engine.screened import Screened
from kb.engine.slots import INDEX
from kb.rules.clauses import Value
from kb.rules.roles import SLOT_OF_OMITS, SLOTS
from kb.rules.rule import Rule
from tests.oracles.jobs import random_job

SEEDS = range(40)
GRADES = ("good", "fair", "poor")
#: From the best to the worst.
RATINGS: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "adhesive": {"creep": ("low", "medium", "high"), "fatigue": ("high", "medium", "low")},
    "backing": {"fatigue": ("high", "medium", "low")},
}
RESISTING = ("adhesive", "backing", "coating_1", "coating_2", "wire")


class Twin(NamedTuple):
    """An item but for one rating: what the rules that read it say of it, and the points that they add."""

    grade: str
    closed: bool
    points: int
    spoken: frozenset[str]


def test_a_worse_rating_never_costs_less(engine: Engine) -> None:
    tried = dearer = 0
    for seed in SEEDS:
        plan = engine.plan(*random_job(seed, engine.knowledge), top=1)
        draw = random.Random(seed)
        for chain in plan.chains:
            # Any adhesive, whether or not the job admits it: what is said of it counts.
            for adhesive in draw.sample(engine.domains[INDEX["adhesive"]].options[1:], 4):
                picks = [*chain.picks]
                picks[INDEX["adhesive"]] = adhesive
                for where, twins in ladders(engine, plan.screened, picks):
                    for better, worse in pairwise(twins):
                        tried += 1
                        told = f"{seed}, {adhesive.id}: {where} {better} {worse}"
                        assert worse.closed or not better.closed, told
                        assert worse.closed or worse.points >= better.points, told
                        dearer += worse.points > better.points or worse.closed > better.closed
    assert tried > 800
    assert dearer > 250


def ladders(engine: Engine, screened: Screened, picks: list[Option]) -> Iterator[tuple[str, list[Twin]]]:
    """Give each rating of what stands in each slot, with a twin for every grade of it."""
    exposures = (screened.scene["service"] or {})["exposures"]
    for slot in SLOTS:
        entry = picks[INDEX[slot]].entry
        if entry is None:
            continue
        ratings = dict(RATINGS.get(slot, {}))
        if slot in RESISTING:
            ratings |= {f"resists.{exposure}": GRADES for exposure in exposures}
        for field, grades in ratings.items():
            if field in entry.facts:
                rules = [rule for rule in engine.knowledge.rules if reads(rule, field)]
                yield f"{slot} {field}", [twin(screened, rules, picks, slot, field, grade) for grade in grades]


def reads(rule: Rule, field: str) -> bool:
    read = fields_of(rule)
    return field in read or (field.startswith("resists.") and "resists_well" in read)


@cache
def fields_of(rule: Rule) -> frozenset[str]:
    return frozenset(path.partition(".")[2] for path in rule.facts())


def twin(screened: Screened, rules: list[Rule], picks: list[Option], slot: str, field: str, grade: str) -> Twin:
    option = picks[INDEX[slot]]
    assert option.entry is not None
    facts: dict[str, Value] = {**option.entry.facts, field: grade}
    if field.startswith("resists."):
        exposure = field.partition(".")[2]
        well = set(facts.get("resists_well", ())) - {exposure} | ({exposure} if grade == "good" else set())
        facts["resists_well"] = tuple(sorted(well))
    chain = [*picks]
    chain[INDEX[slot]] = option._replace(entry=option.entry._replace(facts=facts))
    return held(screened, rules, chain, grade)


def held(screened: Screened, rules: list[Rule], chain: list[Option], grade: str) -> Twin:
    """Hold the rules against the chain by themselves, without the engine's masks."""
    picks = dict(enumerate(chain))
    service = screened.scene["service"] or {}
    findings = [
        finding
        for rule in rules
        if not rule.omits or chain[INDEX[SLOT_OF_OMITS[rule.omits]]].entry is None
        for binding in standings(rule)
        if (finding := finding_of(screened, rule, binding, picks)) is not None
    ]
    open_ = [finding for finding in findings if not finding.closes]
    points = sum(screened.ranking.of_rule(finding.rule, finding.known).points for finding in open_)
    points += sum(screened.ranking.of_minutes(finding.wait_min, service).points for finding in open_)
    return Twin(grade, len(open_) < len(findings), points, frozenset(finding.rule.id for finding in findings))
