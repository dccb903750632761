"""Small invented knowledge bases and jobs, built to hit corners: rules of every form over items of no meaning.

Profiles, taken in turn by seed: anything goes; nothing costs, so that all chains tie; many needs; needs of which one
supplies what has the next; stacks of three coats; hardly anything left; a time limit that bites.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from kb.job import Job, job_of
from kb.knowledge import Entry, Knowledge
from kb.knowledge.tables import RankingTable
from kb.rules.clauses import AnyOf, Clause, Condition, Ref
from kb.rules.roles import CHAIN_KINDS, OMITS_OF_SLOT, SLOT_ROLES
from kb.rules.rule import Rule

PROFILES = ("anything", "ties", "needs", "ladder", "stacks", "scarce", "late")
#: Few of these, or no brute force would end.
FEW = ("solder", "flux", "wire")
WORDS = ("red", "green", "blue")
SINGLE = tuple(role for role in SLOT_ROLES if role not in ("under", "over", "cure"))
NUMBERS = ("below", "at-most", "above", "at-least")


def random_knowledge(seed: int, ranking: RankingTable) -> tuple[Knowledge, Job, Entry]:
    """Knowledge, a job, and the entry of its substrate. `ranking` is the table of points that is used."""
    draw = random.Random(seed)
    profile = PROFILES[seed % len(PROFILES)]
    entries = {entry.id: entry for kind in ("substrate", *CHAIN_KINDS) for entry in _items(draw, kind, profile)}
    rules = [*_rules(draw, profile), *_omissions(draw, profile)]
    hues = sorted({e.facts["hue"] for e in entries.values() if e.kind == "coating" and "hue" in e.facts})
    if profile == "stacks" and len(hues) > 1:
        rules += _two_coats(*draw.sample(hues, 2))
    rules.sort(key=lambda rule: rule.id)
    if profile == "ties":
        ranking = free(ranking)
    knowledge = Knowledge(entries, tuple(rules), {}, {"ranking": ranking}, f"generated {seed}")
    task: dict[str, Any] = {
        "part": {"substrate": "substrate-1", "clamping": draw.choice(("any", "thumb-only"))},
        "service": {"temperature_c": [draw.choice((0, 20)), draw.choice((40, 90))], "exposures": ["dry-air"]},
    }
    if profile == "late":
        task["limits"] = {"ready_within_h": draw.choice((0.6, 0.8, 1, 1.25, 1.5, 2, 3))}
    return knowledge, job_of(task, "generated"), entries["substrate-1"]


def free(ranking: RankingTable) -> RankingTable:
    """The table with no points in it."""
    return {
        **ranking,
        "levels": dict.fromkeys(ranking["levels"], 0),
        "headroom": [],
    }


def _items(draw: random.Random, kind: str, profile: str) -> Iterator[Entry]:
    most = 1 if profile == "scarce" or kind in FEW else 3 if kind in ("coating", "adhesive") else 2
    for number in range(1, draw.randint(1, most) + 1):
        facts: dict[str, Any] = {"id": f"{kind}-{number}", "basis": draw.choice(("memory", "common-practice"))}
        facts |= {name: value for name, value in _facets(draw) if draw.random() < 0.85}
        facts["hazards"] = tuple(h for h in ("flammable", "toxic") if draw.random() < 0.2)
        if draw.random() < 0.5:
            facts["minutes"] = draw.choice((1, 5, 12.5))
        if kind == "coating" and profile != "ties":
            facts["full_cure_min"] = draw.choice((0, 10, 60))
        if draw.random() < 0.8:
            facts |= {"min_c": draw.choice((-50, 10)), "max_c": draw.choice((50, 120))}
        if kind == "adhesive":
            facts["schedules"] = tuple(_cures(draw, profile == "scarce"))
        yield Entry(facts["id"], kind, draw.choice(WORDS), facts["id"], facts)


def _cures(draw: random.Random, scarce: bool) -> Iterator[dict[str, Any]]:
    for number in range(1 if scarce else draw.randint(1, 2)):
        cure = {"id": f"cure-{number}", "duration_min": draw.choice((3, 20, 45)), "hue": draw.choice(WORDS)}
        if draw.random() < 0.8:
            cure["service_max_c"] = draw.choice((60, 100))
        yield cure


def _facets(draw: random.Random) -> Iterator[tuple[str, Any]]:
    yield "hue", draw.choice(WORDS)
    yield "size", draw.choice((1, 2, 3))
    yield "flag", draw.random() < 0.5
    yield "tags", tuple(word for word in WORDS if draw.random() < 0.4)


def _condition(draw: random.Random, role: str, other: str | None = None) -> Condition:
    """One condition on `role`; with `other`, a comparison of the two."""
    if role == "cure":
        return Clause("cure.hue", draw.choice(("is", "is-not")), draw.choice(WORDS))
    if other is not None and other != "cure":
        field, op = draw.choice((("hue", "is"), ("hue", "is-not"), ("size", draw.choice(NUMBERS)), ("tags", "has")))
        return Clause(f"{role}.{field}", op, Ref(f"{other}.{'hue' if field == 'tags' else field}"))
    form = draw.randrange(7)
    if form == 0:
        return Clause(f"{role}.hue", draw.choice(("is", "is-not")), draw.choice(WORDS))
    if form == 1:
        return Clause(f"{role}.size", draw.choice(NUMBERS), draw.choice((1, 2, 3)))
    if form == 2:
        return Clause(f"{role}.tags", draw.choice(("has", "lacks")), draw.choice((*WORDS, WORDS[:2])))
    if form == 3:
        return Clause(f"{role}.flag", "is", draw.random() < 0.5)
    if form == 4:
        return Clause(f"{role}.hue", draw.choice(("one-of", "none-of")), draw.choice((WORDS[:2], WORDS[1:])))
    if form == 5:
        return AnyOf((Clause(f"{role}.hue", "is", draw.choice(WORDS)), Clause(f"{role}.size", "above", 2)))
    return Clause(f"{role}.size", draw.choice(NUMBERS), Ref("substrate.size", draw.choice((0.0, 1.0))))


def _rules(draw: random.Random, profile: str) -> Iterator[Rule]:
    count = {"needs": 14, "ladder": 5, "stacks": 14, "scarce": 7}.get(profile, 10)
    for number in range(count):
        coats = profile == "stacks" and draw.random() < 0.7
        roles = _roles(draw, coats)
        conditions = [_condition(draw, role) for role in roles]
        if len(roles) > 1 and draw.random() < 0.5:
            conditions.append(_condition(draw, roles[0], roles[1]))
        if draw.random() < 0.3:
            conditions.append(_condition(draw, "substrate"))
        if draw.random() < 0.15:
            conditions.append(Clause(f"{draw.choice(('treatment', 'coating', 'inner'))}.present", "is", True))
        if draw.random() < 0.2:
            conditions.append(Clause("part.clamping", "is", "any"))
        verdicts = ("block", "block", "caution", "caution", "need", "prefer")
        verdict = "need" if profile == "needs" and draw.random() < 0.6 else draw.choice(verdicts)
        yield _rule(draw, f"rule-{number:02}", verdict, tuple(conditions), roles)
    if profile == "ladder":
        yield from _ladder(draw)
    if profile == "scarce":
        # One coat only, so that sometimes one chain is left.
        when = (Clause("second.present", "is", True),)
        yield Rule("one-coat", "one-coat", "block", ("second",), "", "", "", "memory", (), when)


def _ladder(draw: random.Random) -> Iterator[Rule]:
    """The adhesive needs a treatment, that a coat, that a neutraliser: each of some hues."""
    for number, (lower, upper) in enumerate(pairwise(("adhesive", "treatment", "inner", "neutraliser"))):
        when: Condition = Clause(f"{lower}.present", "is", True)
        if draw.random() < 0.5:
            when = _condition(draw, lower)
        needs = (Clause(f"{upper}.hue", "one-of", tuple(draw.sample(WORDS, 2))),)
        name = f"rung-{number}"
        yield Rule(name, name, "need", (lower,), name, name, "", "memory", (), (when,), needs=needs)


def _two_coats(inner: str, other: str) -> Iterator[Rule]:
    """The innermost coat has one hue, and another is needed in the stack: a further coat supplies it."""
    when: Condition = Clause("inner.hue", "is-not", inner)
    yield Rule("inner-hue", "inner-hue", "block", ("inner",), "", "", "", "memory", (), (when,))
    when, needs = Clause("backing.present", "is", True), (Clause("coating.hue", "is", other),)
    yield Rule("stack-hue", "stack-hue", "need", ("backing",), "", "", "", "memory", (), (when,), needs=needs)


def _roles(draw: random.Random, coats: bool) -> list[str]:
    """One to three slot roles; sometimes two coats that touch."""
    if draw.random() < (0.4 if coats else 0.1):
        return ["under", "over"]
    pool = ("coating", "inner", "second", "outer", "adhesive") if coats else (*SINGLE, "cure")
    return draw.sample(pool, draw.choice((1, 1, 2, 2, 3)))


def _rule(draw: random.Random, name: str, verdict: str, when: tuple[Condition, ...], roles: list[str]) -> Rule:
    extra: dict[str, Any] = {"level": draw.choice((None, None, "remark", "habit", "doubt"))}
    if verdict == "need":
        form = draw.randrange(3)
        if form == 0:
            role = draw.choice(("treatment", "coating", "inner", "neutraliser", "adhesive", "cure"))
            extra["needs"] = tuple(_condition(draw, role) for _ in range(draw.choice((1, 1, 2))))
        elif form == 1:
            bound = [role for role in roles if role != "cure"]
            extra["wait_before"] = "protect"
            extra["wait_min"] = f"{bound[0]}.minutes" if bound else 30.0
        else:
            extra |= {"step_stage": "treat", "step_do": "do it", "step_min": draw.choice((0.0, 7.5))}
    about = tuple(draw.sample(roles, 1))
    return Rule(name, name, verdict, about, name, name, "", "memory", (), when, **extra)


def _omissions(draw: random.Random, profile: str) -> Iterator[Rule]:
    """What lets a stage be left out: by the substrate, by what stands in another slot, or not at all."""
    for slot, stage in OMITS_OF_SLOT.items():
        for number in range(draw.choice((0, 0, 0, 0, 1) if profile == "scarce" else (0, 1, 1, 2))):
            others = [role for role in SINGLE if slot not in SLOT_ROLES[role]]
            role = draw.choice(("substrate", "substrate", *others))
            when = (_condition(draw, role),)
            name = f"omit-{stage}-{number}"
            about = (draw.choice(("substrate", *([role] if role != "substrate" else []))),)
            level = draw.choice((None, "free", "habit"))
            yield Rule(name, name, "prefer", about, name, name, "", "memory", (), when, omits=stage, level=level)
