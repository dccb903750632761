"""Preparation harms nobody: every material, class and family of the catalog against what must never be done to it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import pytest

from kb.base.vocabulary import FAMILIES
from kb.engine.domain import EMPTY, Option
from kb.engine.plan import Engine
from kb.engine.screened import Screened
from kb.engine.search.reach import feasible
from kb.engine.slots import INDEX, NAMES
from kb.job import job_of
from kb.materials.resolve import Resolved, substrate
from kb.rules.clauses import AnyOf, Clause
from kb.rules.findings import Finding, judge
from kb.rules.roles import OMITS_OF_SLOT
from kb.rules.rule import Rule

#: Dust that is raised in no case, and dust that is raised with a precaution that names it.
NEVER_DRY = frozenset(
    ("beryllium", "cadmium", "thorium", "arsenic", "chromate", "asbestos", "asbestos-era", "magnesium", "zirconium")
)
NAMED = frozenset(
    ("lead", "titanium", "lithium", "rare-earth", "fibre", "carbon-fibre", "mineral-fibre", "silica", "nickel",
     "cobalt", "tungsten", "antimony", "wood", "leather", "biological", "tantalum")
)  # fmt: skip
#: Dust that a machine may throw about only into a collector made for it.
NEVER_POWERED = frozenset(("titanium", "lithium", "rare-earth", "tantalum", "lead"))


def materials(engine: Engine) -> Iterator[tuple[str, Any]]:
    """Every material that can be named: each item, each word for a class, each family described by itself."""
    yield from ((entry.id, entry.id) for entry in engine.knowledge.by_kind["substrate"])
    for row in engine.knowledge.tables["words"]["classes"]:
        yield f"class {row['words'][0]}", row["words"][0]
    yield from ((f"family {family}", {"family": family}) for family in FAMILIES["substrate"])


def screened(engine: Engine, part: Resolved, **given: Any) -> Screened:
    task = {"part": {"substrate": part.query, **given}, "service": {"temperature_c": [15, 30]}}
    return engine.screened(job_of(task, "test"), part.entry)


def left(job: Screened, slot: str) -> list[Option]:
    """What is still open in a slot, the empty one left out."""
    domain = job.domains[INDEX[slot]]
    return [
        o for place, o in enumerate(domain.options) if job.remaining[INDEX[slot]] >> place & 1 and o.entry is not None
    ]


def says(rules: list[Rule], job: Screened, **roles: Option) -> list[Finding]:
    """What rules surely say where the roles stand for these options."""
    scene: dict[str, Any] = {**job.scene, **{role: option.facts(role) for role, option in roles.items()}}
    return [f for rule in rules if (f := judge(rule, scene)) is not None and f.known]


def names(rule: Rule, fact: str, word: str) -> bool:
    """Whether a condition of the rule asks for that word of a list."""
    clauses = (
        c for condition in rule.when for c in (condition.clauses if isinstance(condition, AnyOf) else (condition,))
    )
    return any(isinstance(c, Clause) and c.fact == fact and c.op == "has" and word in _listed(c.value) for c in clauses)


def _listed(value: Any) -> tuple[Any, ...]:
    return value if isinstance(value, tuple) else (value,)


@pytest.mark.parametrize("surface", ["bare", "painted", "porous"])
def test_no_bare_metal_is_bonded_or_welded_on_as_it_came(engine: Engine, surface: str) -> None:
    """Oxide and skin come off in one step or the other (common practice, no source): not each left to the other."""
    empty = [EMPTY if slot in ("abrasive_dry", "abrasive_wet") else -1 for slot in NAMES]
    tried = 0
    for entry in engine.knowledge.by_kind["substrate"]:
        facts = entry.facts
        cut = facts.get("abrading") != "never" and "cadmium" not in facts.get("dust_hazard", ())
        if facts.get("metallic") and cut and facts.get("layer", "none") == "none":
            problem = screened(
                engine, substrate(entry.id, engine.knowledge, "test"), surface=[surface]
            ).unweighted_problem
            assert not feasible(problem.only(empty)), entry.id
            tried += 1
    assert tried > 80


def test_no_dust_that_poisons_burns_or_pricks_is_raised_unnamed(engine: Engine) -> None:
    fact = "substrate.dust_hazard"
    careful = [
        rule for rule in engine.knowledge.rules
        if rule.verdict in ("caution", "need") and fact in rule.facts() and rule.roles() <= {
            "substrate", "part", "bench", "service", "abrasive_dry", "abrasive"}
    ]  # fmt: skip
    wrong = []
    for name, words in materials(engine):
        part = substrate(words, engine.knowledge, name)
        job = screened(engine, part)
        dust = set((job.scene["substrate"] or {}).get("dust_hazard", ("unknown",)))
        for option in left(job, "abrasive_dry"):
            assert option.entry is not None
            if bad := dust & NEVER_DRY:
                wrong.append(f"{name}: {option.id} raises {sorted(bad)}")
            if "unknown" in dust:
                wrong.append(f"{name}: {option.id} raises nobody knows what")
            if option.entry.facts["powered"] and (bad := dust & NEVER_POWERED):
                wrong.append(f"{name}: {option.id} throws {sorted(bad)} about")
            if option.entry.facts["dust"] and dust & NAMED:
                said = says(careful, job, abrasive_dry=option, abrasive=option)
                silent = [h for h in sorted(dust & NAMED) if not any(names(f.rule, fact, h) for f in said)]
                if silent:
                    wrong.append(f"{name}: {option.id} raises {silent}, and nothing is said of it")
    assert wrong == []


def test_asbestos_is_touched_by_no_abrasive(engine: Engine) -> None:
    found = [e for e in engine.knowledge.by_kind["substrate"] if "asbestos" in e.facts["dust_hazard"]]
    assert len(found) > 3
    for entry in found:
        job = screened(engine, substrate(entry.id, engine.knowledge, entry.id))
        assert not [*left(job, "abrasive_dry"), *left(job, "abrasive_wet")], entry.id
        assert "asbestos-is-licensed-work" in {f.rule.id for f in says(list(engine.knowledge.rules), job)}


def test_no_acid_goes_on_carbonate_or_gypsum(engine: Engine) -> None:
    acids = {e.id for e in engine.knowledge.by_kind["conditioner"] if e.facts["acid"]}
    minerals = [e for e in engine.knowledge.by_kind["substrate"] if e.family in ("stone", "plaster", "fibre-cement")]
    touched = [e.id for e in minerals if e.facts.get("acid_sensitive")]
    assert {"marble", "limestone", "gypsum-plaster"} <= set(touched)
    parts: list[Any] = [
        *touched,
        {"family": "plaster"},
        {"family": "stone"},
        {"like": "marble"},
        {"acid_sensitive": True, "metallic": False, "organic": False},
    ]
    for words in parts:
        job = screened(engine, substrate(words, engine.knowledge, str(words)))
        assert not acids & {option.id for option in left(job, "conditioner")}, words


def test_no_ammonia_goes_on_what_it_cracks(engine: Engine) -> None:
    """Whatever its grade, and below a layer that is taken off."""
    washes = {e.id for e in engine.knowledge.by_kind["neutraliser"] if e.facts["ammonia"]}
    found = 0
    for name, words in materials(engine):
        job = screened(engine, substrate(words, engine.knowledge, name))
        if (job.scene["substrate"] or {}).get("ammonia_sensitive"):
            found += 1
            assert not washes & {option.id for option in left(job, "neutraliser")}, name
    assert found > 8


def test_no_water_is_left_on_bared_iron(engine: Engine) -> None:
    """Wherever water alone is wiped on what rusts, a step of the same preparation takes it off."""
    rules = [r for r in engine.knowledge.rules if "substrate.water_harms" in r.facts() and r.step_do]
    bared = 0
    for name, words in materials(engine):
        job = screened(engine, substrate(words, engine.knowledge, name))
        part: Mapping[str, Any] = job.scene["substrate"] or {}
        if not {"rusts", "corrodes"} & set(part.get("water_harms") or ()) or not part.get("metallic"):
            continue
        bared += bool((job.scene["part"] or {})["layer_off"])
        for slot in ("degreaser", "conditioner", "neutraliser"):
            for option in left(job, slot):
                assert option.entry is not None
                facts = option.entry.facts
                wet = (
                    facts["water_based"]
                    and not facts.get("acid")
                    and not facts.get("ammonia")
                    and facts.get("ph", 7) < 9
                )
                if wet:
                    assert says(rules, job, **{slot: option}), f"{name}: {option.id} is left on it"
    assert bared > 8


@pytest.mark.parametrize("slot", ["degreaser", "abrasive_dry", "abrasive_wet", "conditioner", "neutraliser"])
def test_a_stage_that_is_left_out_names_its_rule(engine: Engine, slot: str) -> None:
    for part in (
        "ptfe",
        "polyethylene-hd",
        "peek",
        "pps-unfilled",
        "zinc-plated",
        "glass-soda-lime",
        "concrete",
        "cortical-bone",
    ):
        plan = engine.plan(job_of({"part": {"substrate": part}, "service": {"temperature_c": [15, 30]}}, "test"),
                           engine.knowledge.entry(part), 1)  # fmt: skip
        chain = plan.chains[0]
        if chain.pick(slot).entry is None:
            assert any(f.rule.omits == OMITS_OF_SLOT[slot] for f in chain.findings), (part, slot)
