"""The part's material: words, a class, or a description; and a question back where that isn't clear.

What is not known of it is never a silent pass: held over the catalog, with facts blanked out at random.
"""

from __future__ import annotations

import random
from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.engine.chain import findings_of
from kb.engine.plan import Engine, Plan
from kb.engine.screened import Screened
from kb.engine.search.k_best import k_best
from kb.job import Job, job_of
from kb.knowledge import Entry, Knowledge
from kb.knowledge.derive import DERIVED, STATED
from kb.materials import classes
from kb.materials.resolve import as_said, described, item_or_class, offered, substrate
from kb.report.items import matches_text, nested
from kb.rules.findings import Finding, judge
from kb.rules.job_facts import job_facts
from kb.rules.roles import CHAIN_KINDS
from tests.oracles.jobs import random_job
from tests.sweep import swept

#: What of an item is no fact about the material.
LABELS = ("id", "name", "kind", "aliases", "summary", "basis", "sources", "field_basis", "ranges", "house", "hazards")
JOBS: tuple[dict[str, dict[str, Any]], ...] = (
    {"service": {"temperature_c": [10, 60]}},
    {"service": {"temperature_c": [-20, 120], "exposures": ["humid-air", "mineral-oil"], "duration_days": 90}},
    {"service": {"temperature_c": [15, 35], "measurement": "dynamic"}, "part": {"thickness_mm": 0.2}},
)
#: Every kind of thing that a chain is made of, and its part.
CHAIN_AND_PART = ("substrate", *CHAIN_KINDS)


def job(number: int) -> Job:
    asked = JOBS[number % len(JOBS)]
    return job_of({**asked, "part": {"substrate": "?", **asked.get("part", {})}}, "t")


def own_facts(entry: Entry) -> dict[str, Any]:
    """A catalogued material as a job file would describe it."""
    facts = {k: v for k, v in entry.facts.items() if k.partition(".")[0] not in LABELS and k not in DERIVED}
    return nested(facts)


def refusals(plan: Plan) -> dict[str, set[str]]:
    """Each item that no chain can use, with the rules that say why."""
    return {item.id: {f.rule.id for f in findings} for item, findings in plan.excluded}


def test_how_it_was_found_is_said(knowledge: Knowledge) -> None:
    assert substrate("aluminium-6061", knowledge, "t").how == "id"
    assert substrate("FR4", knowledge, "t").how == "alias"
    misspelt = substrate("alumnium 6061", knowledge, "t")
    assert (misspelt.entry.id, misspelt.how) == ("aluminium-6061", "fuzzy")


@pytest.mark.parametrize("typed", ["solder mask on FR-4", "plastic", "glass filled nylon 12 rod"])
def test_several_are_offered_where_it_is_not_clear(typed: str, knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match=r"may mean several things; write one of: .* \(\d+\), "):
        substrate(typed, knowledge, "t")


def test_nothing_near_is_told(knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match="'qwxzv' is no substrate that is known"):
        substrate("qwxzv", knowledge, "t")


@pytest.mark.parametrize("typed", ["human skin", "Person"])
def test_what_is_no_part_is_told_so_and_given_no_near_word(typed: str, knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match=f"'{typed}' is not judged as a part; a living body is no part"):
        substrate(typed, knowledge, "t")
    assert offered(typed, knowledge) == ([], None)
    assert "a living body is no part" in " ".join(matches_text(typed, []).split())


def test_a_class_has_the_cautious_end_of_its_members(knowledge: Knowledge) -> None:
    brass = substrate("brass", knowledge, "t")
    members = [knowledge.entry(i).facts for i in ("brass-c26000", "brass-c36000")]
    facts = brass.entry.facts
    assert brass.how == "described"
    assert facts["max_temperature_c"] == min(m["max_temperature_c"] for m in members)
    assert facts["ammonia_sensitive"] is True
    assert set(facts["dust_hazard"]) == {h for m in members for h in m["dust_hazard"]}
    assert "grade not known" in brass.entry.name


def test_the_cautious_end_is_that_of_every_member_of_every_class(knowledge: Knowledge) -> None:
    ends = knowledge.tables["words"]["cautious"]
    differ = 0
    for known_class in knowledge.tables["words"]["classes"]:
        found = substrate(known_class["words"][0], knowledge, "t")
        members = [knowledge.entry(i).facts for i in found.members]
        for fact in ends["lowest"]:
            figures = [m[fact] for m in members if fact in m]
            if len(figures) < len(members):
                assert fact not in found.entry.facts
            else:
                assert found.entry.facts[fact] == min(figures), (found.query, fact)
                differ += min(figures) < max(figures)
        for fact in ends["true"]:
            if any(m.get(fact) is True for m in members):
                assert found.entry.facts[fact] is True, (found.query, fact)
                differ += any(m.get(fact) is not True for m in members)
    assert differ > 20


def test_every_class_of_words_resolves(knowledge: Knowledge) -> None:
    for known_class in knowledge.tables["words"]["classes"]:
        for word in known_class["words"]:
            found = substrate(word, knowledge, "t")
            assert found.entry.family == known_class["family"], word
            assert len(found.members) > 1, word
            assert {knowledge.entry(i).family for i in found.members} == {found.entry.family}


def test_like_takes_over_what_is_not_given(knowledge: Knowledge) -> None:
    found = substrate({"like": "peek", "max_temperature_c": 90}, knowledge, "t")
    peek = knowledge.entry("peek").facts
    assert found.how == "described"
    assert found.entry.facts["max_temperature_c"] == 90
    assert found.entry.facts["modulus_gpa"] == peek["modulus_gpa"]


def test_a_family_alone_leaves_unknown_what_its_members_differ_in(knowledge: Knowledge) -> None:
    found = substrate({"family": "polyamide"}, knowledge, "t")
    assert found.entry.facts["organic"] is True
    assert "modulus_gpa" in found.missing


def test_facts_of_a_description_may_have_units(knowledge: Knowledge) -> None:
    given = {
        "family": "abs", "max_temperature_c": "185 degF", "modulus_gpa": "2300 MPa", "cte_ppm_per_c": "50 ppm/degF",
        "surface_tension_mn_m": "38,5 dyn/cm",
    }  # fmt: skip
    facts = substrate(given, knowledge, "t").entry.facts
    assert [facts[name] for name in list(given)[1:]] == [85.0, 2.3, 90.0, 38.5]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"family": "abs", "max_temperature_c": "85 kg"}, "t: max_temperature_c: '85 kg' is not in a unit"),
        ({"family": "abs", "modulus_gpa": "2,300 MPa"}, "modulus_gpa: '2,300 MPa': a comma may part thousands"),
        ({"name": "a plastic"}, "needs `like`, `family` or facts"),
        ({"family": "polyamid"}, "did you mean 'polyamide'"),
        ({"family": "nylon"}, "did you mean polyamide?"),
        ({"family": "polycarbonate", "metallic": True}, "metallic = yes contradicts the family 'polycarbonate'"),
        ({"family": "carbon-steel", "organic": True}, "organic = yes contradicts the family 'carbon-steel'"),
        ({"like": "peek", "max_temp_c": 9}, "did you mean 'max_temperature_c'"),
        ({"like": "peek", "porous": "very"}, "porous: should be true or false"),
        ({"like": "qwxzv"}, "'qwxzv' is no substrate"),
    ],
)
def test_a_bad_description_is_one_line(given: dict[str, object], said: str, knowledge: Knowledge) -> None:
    with pytest.raises(BadInput) as fault:
        substrate(given, knowledge, "t")
    assert said in str(fault.value)


def test_described_by_its_own_facts_it_is_the_same(knowledge: Knowledge) -> None:
    picked = random.Random(7).sample(list(knowledge.by_kind["substrate"]), 20)
    named = {"id", "name", "kind", "aliases", "summary", "basis", "sources", "field_basis", "ranges", "house"}
    for entry in picked:
        facts = substrate({"like": entry.id}, knowledge, "t").entry.facts
        told = {k: v for k, v in entry.facts.items() if k.partition(".")[0] not in named}
        assert {k: facts.get(k) for k in told} == told


@pytest.mark.parametrize("round_", range(3))
def test_described_by_its_own_facts_it_gets_the_same_refusals(round_: int, engine: Engine) -> None:
    known = engine.knowledge
    for entry in random.Random(round_).sample(known.by_kind["substrate"], 12):
        if entry.id in known.tables["lookup"]["singled"]:
            continue  # a rule that names it can't know it by its facts: the next test
        own = described(own_facts(entry), known, "t").entry
        assert refusals(engine.plan(job(round_), own)) == refusals(engine.plan(job(round_), entry)), entry.id


@pytest.mark.parametrize("part", swept(range(10), 3))
def test_four_facts_get_the_refusals_of_a_catalogued_material_with_those_facts(part: int, engine: Engine) -> None:
    """Every material of the catalog cut down to four of its facts: as a job describes it, and as an entry made by hand.

    The entry never goes through the reading of descriptions: a default or a neighbour that slips in there shows. Of a
    family, what all its members agree in is said as well.
    """
    known, dice = engine.knowledge, random.Random(part)
    refused = 0
    for number, entry in enumerate(known.by_kind["substrate"][part::10]):
        own = own_facts(entry)
        four = sorted(dice.sample(sorted(own), min(4, len(own))))
        said = {k: v for k, v in entry.facts.items() if k.partition(".")[0] in four}
        if "family" in four:
            agreed = agreed_in(entry.family, known)
            said = {k: v for k, v in agreed.items() if k.partition(".")[0] not in (*LABELS, *four)} | said
        if not said.keys().isdisjoint(("polymer_structure", "dust_hazard")):
            said["stated"] = tuple(name for name in STATED if name in said)
        if "family" in four and entry.family not in families_of_named(known):
            said["id"] = "by-hand"  # else it may be the very material that a rule names
        by_hand = Entry("by-hand", "substrate", said.get("family", "unknown"), "by hand", {"name": "by hand", **said})
        as_told = described({name: own[name] for name in four}, known, "t").entry
        told, made = (refusals(engine.plan(job(number), e, 1)) for e in (as_told, by_hand))
        assert told == made, f"{entry.id}: {four}"
        refused += bool(told)
    assert refused > 5


def agreed_in(family: str, knowledge: Knowledge) -> dict[str, Any]:
    """The facts in which all members of a family agree, and what of its usual members can harm somebody."""
    members = [e.facts for e in knowledge.by_kind["substrate"] if e.family == family]
    agreed = {k: v for k, v in members[0].items() if all(k in m and m[k] == v for m in members)}
    usual = [e.facts for e in classes.of_family(family, knowledge)]
    return agreed | classes.harms(usual, knowledge.tables["words"]["cautious"])


def families_of_named(knowledge: Knowledge) -> set[str]:
    """The families of materials that a rule names."""
    return {knowledge.entry(i).family for i in knowledge.tables["lookup"]["singled"] if i in knowledge.entries}


@pytest.mark.parametrize("part", swept(range(10), 3))
def test_like_a_catalogued_material_with_four_of_its_facts_it_gets_its_refusals(part: int, engine: Engine) -> None:
    known, dice = engine.knowledge, random.Random(part)
    for number, entry in enumerate(known.by_kind["substrate"][part::10]):
        own = own_facts(entry)
        given = {name: own[name] for name in dice.sample(sorted(own), min(4, len(own)))}
        like = described({"like": entry.id, **given}, known, "t").entry
        assert refusals(engine.plan(job(number), like, 1)) == refusals(engine.plan(job(number), entry, 1)), entry.id


@pytest.mark.parametrize(
    ("given", "verdict"),
    [({"like": "glass-toughened"}, "block"), ({"family": "glass"}, "caution"), ("glass", "caution")],
)
def test_a_material_that_a_rule_names_is_not_passed_over(given: Any, verdict: str, engine: Engine) -> None:
    """Toughened glass bursts when it is scratched; of "glass" it isn't known whether it is toughened."""
    facts = substrate(given, engine.knowledge, "t").entry.facts
    rule = engine.knowledge.rules_by_id["toughened-glass-is-not-scratched"]
    finding = judge(rule, {"substrate": facts, "abrasive": engine.knowledge.entry("silicon-carbide-p400").facts})
    assert finding is not None
    assert finding.verdict == verdict


def blanked(entry: Entry, dice: random.Random, knowledge: Knowledge) -> tuple[Entry, set[str]]:
    """The material without some of its facts, and the facts that it then lacks."""
    own = own_facts(entry)
    gone = set(dice.sample(sorted(own), dice.randint(1, max(1, len(own) // 2))))
    kept = {name: value for name, value in own.items() if name not in gone}
    lacking = described(kept, knowledge, "t")
    return lacking.entry, gone & set(lacking.missing) | {"id"}


@pytest.mark.parametrize("seed", swept(range(24), 3))
def test_what_is_not_known_is_never_a_silent_pass(seed: int, engine: Engine) -> None:
    """Whatever the full material refuses and the blanked one admits carries a caution that names a missing fact.

    Over the whole catalog. For every such item the best chain that uses it is looked at.
    """
    dice = random.Random(seed)
    admitted = 0
    for entry in engine.knowledge.by_kind["substrate"][seed::24]:
        lacking, gone = blanked(entry, dice, engine.knowledge)
        asked = job(seed) if seed % 2 else random_job(dice.randrange(1000), engine.knowledge)[0]
        full, open_ = engine.plan(asked, entry, top=1), engine.plan(asked, lacking, top=1)
        refused, still = refusals(full), refusals(open_)
        for item in sorted(set(refused) - set(still)):
            admitted += 1
            findings = best_with(item, open_.screened)
            told = {path for f in findings if not f.known for path in f.unknown}
            names = {path.partition(".")[2].partition(".")[0] for path in told if path.startswith("substrate.")}
            names |= {"max_temperature_c"} if "part.max_process_temperature_c" in told else set()
            names |= {"carries_parts"} if "part.populated" in told else set()
            assert names & gone, f"{entry.id} without {sorted(gone)}: {item} is admitted in silence"
    assert admitted or seed % 2 == 0, "nothing was admitted for want of a fact: the test tests nothing"


def best_with(item: str, screened: Screened) -> list[Finding]:
    """What the rules say of the best chain that uses `item`."""
    problem = screened.problem
    for slot, levels in enumerate(problem.options):
        bits = sum(1 << n for n, option in enumerate(screened.domains[slot].options) if option.id == item)
        only = {level: mask & bits for level, mask in levels.items() if mask & bits}
        forced = tuple(only if s == slot else there for s, there in enumerate(problem.options))
        # Exact: what a bounded search leaves out would look as if no chain used it.
        found = k_best(problem._replace(options=forced), 1, 10_000_000).labels if only else []
        if found:
            return findings_of(screened, found[0].picks)
    raise AssertionError(f"{item} is admitted, and no chain uses it")


def test_a_default_that_nobody_stated_is_not_known(knowledge: Knowledge) -> None:
    """ "Gives nothing off" and "carries no parts" are statements: a description without them leaves both open."""
    found = described({"name": "a thing"}, knowledge, "t")
    for name in ("family", "organic", "gives_off", "dust_hazard", "carries_parts", "thin_layer", "fibre"):
        assert name not in found.entry.facts
        assert name in found.missing
    assert found.entry.family == "unknown"


def test_live_parts_that_nobody_mentioned_are_not_known(knowledge: Knowledge) -> None:
    """A part of unknown make may be a populated board."""
    unknown = described({"organic": True}, knowledge, "t").entry
    assert "populated" not in job_facts(job(0), unknown.facts)["part"]
    assert job_facts(job(0), knowledge.entry("peek").facts)["part"]["populated"] is False


def test_what_is_assumed_is_told(knowledge: Knowledge) -> None:
    found = substrate({"like": "peek", "max_temperature_c": 90}, knowledge, "t")
    assert "modulus_gpa" in found.assumed
    assert "max_temperature_c" not in found.assumed
    assert found.model == "PEEK (polyether ether ketone), unfilled (peek)"
    assert "dust_hazard" in substrate("brass", knowledge, "t").assumed
    assert substrate("brass", knowledge, "t").model == (
        "the cautious end of brass-c26000, brass-c36000, where they contradict as brass-c26000"
    )
    assert substrate({"family": "polyamide"}, knowledge, "t").model == "every polyamide of the catalog"
    assert substrate({"organic": True}, knowledge, "t").model == ""


@pytest.mark.parametrize("typed", ["nylon rod", "stainless steel plate", "cast iron housing", "brass tube"])
def test_a_class_with_a_word_of_form_is_the_class(typed: str, knowledge: Knowledge) -> None:
    assert substrate(typed, knowledge, "t").how == "described"


def test_an_exact_name_goes_before_a_class(knowledge: Knowledge) -> None:
    assert substrate("brass rod", knowledge, "t").entry.id == "brass-c36000"
    assert substrate("glass plate", knowledge, "t").entry.id == "glass-soda-lime"


def test_what_is_like_a_class_has_the_cautious_end_of_its_members(knowledge: Knowledge) -> None:
    brass = substrate("brass", knowledge, "t").entry.facts
    like = substrate({"like": "brass", "modulus_gpa": 97}, knowledge, "t").entry.facts
    own = {*LABELS, "modulus_gpa"}
    assert {k: v for k, v in like.items() if k not in own} == {k: v for k, v in brass.items() if k not in own}
    assert like["modulus_gpa"] == 97


@pytest.mark.parametrize("typed", ["alumina", "zirconia"])
def test_a_word_that_names_another_kind_better_is_no_class(typed: str, knowledge: Knowledge) -> None:
    """Alumina is a ceramic part, and an abrasive, and a cement."""
    assert item_or_class(typed, knowledge, "t", ("substrate",)).members
    with pytest.raises(BadInput, match="may mean several things"):
        item_or_class(typed, knowledge, "t", CHAIN_AND_PART)


@pytest.mark.parametrize("typed", ["qwxzv", "ammonia-scrub"])
def test_a_lone_thing_that_is_hardly_alike_is_named_as_the_nearest(typed: str, knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match=r"is no item that is known; (see|the nearest is)"):
        item_or_class(typed, knowledge, "t", CHAIN_AND_PART)


@pytest.mark.parametrize(
    ("typed", "given", "surface", "told"),
    [
        ("rusty S355", ("bare",), ("oxidised",), "'rusty' is taken as its surface, oxidised"),
        ("damp concrete", ("oily",), ("oily", "wet"), "'damp' is taken as its surface, wet"),
        ("rusty S355", ("oxidised",), ("oxidised",), "'rusty' is taken as its surface, oxidised"),
        ("salty S355", ("bare",), ("bare",), "'salty' is not known here"),
    ],
)
def test_what_lies_on_a_material_is_the_surface_of_the_part(
    typed: str, given: tuple[str, ...], surface: tuple[str, ...], told: str, knowledge: Knowledge
) -> None:
    job = job_of({"part": {"substrate": typed, "surface": [*given]}, "service": {"temperature_c": [10, 30]}}, "t")
    found = substrate(typed, knowledge, "t")
    assert as_said(job, found).part.surface == surface
    assert found.said_of_the_rest() == [told]


@pytest.mark.parametrize("typed", ["pipe", "sweating pipe", "wet girder", "rusty bolt"])
def test_a_form_alone_is_no_material(typed: str, knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match="is no substrate that is known"):
        substrate(typed, knowledge, "t")


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("rusted girder", "name the material, .*; 'rusted' belongs to part.surface"),
        ("wet oak xanadu", "if it is .*hardwood.*; 'wet' belongs to part.surface"),
    ],
)
def test_what_lies_on_an_unknown_material_belongs_to_the_surface(typed: str, told: str, knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match=told):
        substrate(typed, knowledge, "t")
