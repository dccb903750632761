"""Things side by side: the verdict agrees with what the planner allows, and what is proposed does help."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from itertools import combinations

import pytest

from kb.base.errors import BadInput
from kb.engine.chain import Chain
from kb.engine.check import Checked, Thing, check, grid_of, speakers, supplied, thing, unseen, verdict_of
from kb.engine.plan import Engine
from kb.engine.remedies import remedies
from kb.job import job_of
from kb.knowledge import Knowledge
from kb.materials.resolve import substrate
from kb.report.check import check_json, check_text, grid_csv, grid_html, grid_json
from tests.oracles.jobs import random_job


def together(knowledge: Knowledge, *words: str) -> Checked:
    return check(knowledge, [thing(word, knowledge, "t") for word in words])


@pytest.mark.parametrize(
    ("words", "verdict", "rule"),
    [
        (("acetone", "polycarbonate"), "blocked", "degreaser-crazes-polymer"),
        (("isopropyl-alcohol", "aluminium-6061"), "compatible", None),
        (("polyimide-film-25um", "ceramic-cement-alumina"), "blocked", "backing-not-bonded-by-adhesive"),
        (("butyl-mastic-tape", "mineral-oil"), "blocked", "mineral-oil-ruins-coat"),
        (("epoxy-room-cure-two-part", "polyurethane-lacquer-air-drying"), "needs", "solvent-coat-waits-for-adhesive"),
        (("PTFE", "ethyl-cyanoacrylate-low-viscosity"), "needs", "low-energy-surface-needs-activation"),
    ],
)
def test_known_pairs(words: tuple[str, ...], verdict: str, rule: str | None, knowledge: Knowledge) -> None:
    """Common practice, no source."""
    checked = together(knowledge, *words)
    assert checked.verdict == verdict
    assert rule is None or rule in {f.rule.id for f in checked.findings}


def test_a_need_that_something_supplies_is_none(knowledge: Knowledge) -> None:
    alone = together(knowledge, "polyurethane-lacquer-air-drying", "polysulfide-two-part-paste")
    assert alone.verdict != "blocked"
    checked = together(knowledge, "mild-phosphoric-conditioner", "dilute-ammonia", "aluminium-6061")
    met = [f for f in checked.findings if supplied(f)]
    assert [f.rule.id for f in met] == ["acid-must-be-neutralised"]
    assert checked.verdict == "caution"


def test_the_order_of_coats_counts(knowledge: Knowledge) -> None:
    right = together(knowledge, "polyurethane-lacquer-air-drying", "butyl-mastic-tape")
    wrong = together(knowledge, "butyl-mastic-tape", "polyurethane-lacquer-air-drying")
    assert right.verdict != "blocked"
    assert wrong.verdict == "blocked"


def test_an_abrasive_is_judged_by_its_better_use(knowledge: Knowledge) -> None:
    """Blasting is never wet; that is nothing against blasting steel."""
    assert together(knowledge, "alumina-blast-f120", "carbon-steel-mild").verdict != "blocked"


def chain_things(chain: Chain) -> list[Thing]:
    return [Thing(option.id, option.entry) for option in chain.picks if option.entry is not None]


def pairs_of(chain: Chain) -> Iterator[tuple[Thing, Thing, tuple[Thing, ...]]]:
    """Pairs that the chain itself holds, each with the coats above: the last coat named is taken as the outermost."""
    things = chain_things(chain)
    coats = [t for t in things if t.kind == "coating"]
    for one, other in combinations(things, 2):
        if one.id != other.id and one.kind != other.kind:
            yield one, other, tuple(coats[coats.index(other) + 1 :]) if other in coats else ()


def test_nothing_that_a_chain_holds_together_is_blocked(engine: Engine) -> None:
    """The planner and `check` take the same rules by different roads: they must agree."""
    pairs = 0
    for seed in range(12):
        job, part = random_job(seed, engine.knowledge)
        for chain in engine.plan(job, part, top=1).chains:
            facts = {"substrate": part.facts, **job.facts(part.facts)}
            for one, other, above in pairs_of(chain):
                pairs += 1
                assert check(engine.knowledge, (one, other)).verdict != "blocked", (seed, one.id, other.id)
                with_job = check(engine.knowledge, (one, other, *above), facts)
                assert with_job.verdict != "blocked", (seed, one.id, other.id)
    assert pairs > 150


def test_what_is_blocked_with_the_job_is_in_no_chain(engine: Engine) -> None:
    job = job_of({"part": {"substrate": "brass-c26000"}, "service": {"temperature_c": [15, 60]}}, "t")
    part = engine.knowledge.entry("brass-c26000")
    plan = engine.plan(job, part, top=300)
    facts = {"substrate": part.facts, **job.facts(part.facts)}
    adhesives, backings = (engine.knowledge.by_kind[kind] for kind in ("adhesive", "backing"))
    held = {(chain.pick("backing").id, chain.pick("adhesive").id) for chain in plan.chains}
    blocked = {
        (b.id, a.id)
        for b in backings
        for a in adhesives
        if check(engine.knowledge, (Thing(b.id, b), Thing(a.id, a)), facts).verdict == "blocked"
    }
    assert blocked
    assert not held & blocked


def test_the_jobs_own_part_takes_part(engine: Engine) -> None:
    job = job_of({"part": {"substrate": "polycarbonate"}, "service": {"temperature_c": [15, 35]}}, "t")
    part = substrate("polycarbonate", engine.knowledge, "t").entry
    facts = {"substrate": part.facts, **job.facts(part.facts)}
    things = [thing(word, engine.knowledge, "t") for word in ("acetone", "polyimide-film-25um")]
    assert check(engine.knowledge, things).verdict == "compatible"
    assert check(engine.knowledge, things, facts).verdict == "blocked"


def test_what_is_proposed_helps(knowledge: Knowledge) -> None:
    for words in (("acetone", "polycarbonate"), ("butyl-mastic-tape", "mineral-oil"), ("acetone", "abs", "heptane")):
        things = [thing(word, knowledge, "t") for word in words]
        checked = check(knowledge, things)
        assert checked.verdict == "blocked"
        ways = remedies(knowledge, things, checked)
        for way in ways:
            for name in way.by:
                entry = knowledge.entry(name)
                swapped = [Thing(entry.id, entry) if t.id == way.item else t for t in things]
                assert check(knowledge, swapped).verdict == way.verdict != "blocked"
    assert remedies(knowledge, [], Checked((), "compatible", ())) == []


def test_what_is_proposed_to_be_added_supplies_the_need(knowledge: Knowledge) -> None:
    things = [thing(word, knowledge, "t") for word in ("polypropylene", "epoxy-room-cure-two-part")]
    checked = check(knowledge, things)
    assert checked.verdict == "needs"
    (way,) = remedies(knowledge, things, checked)
    assert way.item == ""
    assert {knowledge.entry(name).kind for name in way.by} == {"treatment"}
    for name in way.by:
        with_it = check(knowledge, [*things, Thing(name, knowledge.entry(name))])
        assert with_it.verdict == way.verdict != "blocked"


def test_an_exposure_alone_needs_no_job(knowledge: Knowledge) -> None:
    checked = together(knowledge, "polyurethane-lacquer-air-drying", "sea-water-immersion")
    assert checked.verdict == "caution"
    assert any("service.wet_days" in f.unknown for f in checked.findings)
    assert not any("coating.water_vapour" in f.unknown for f in checked.findings), "the coat is there to be looked at"


def test_the_grid_holds_what_check_says(knowledge: Knowledge) -> None:
    grid = grid_of(knowledge, "conditioner", "neutraliser")
    for row, cells in zip(grid.rows, grid.cells, strict=True):
        for column, cell in zip(grid.columns, cells, strict=True):
            assert cell == together(knowledge, row, column)
    document = grid_json(grid)
    assert len(document["cells"]) == len(grid.rows) * len(grid.columns)
    assert all(cell["reason"] for cell in document["cells"] if cell["verdict"] != "compatible")
    rows = list(csv.reader(io.StringIO(grid_csv(grid))))
    assert len(rows) == len(document["cells"]) + 1
    html = grid_html(grid)
    assert "<script" not in html
    assert html.count("blocked") >= sum(cell["verdict"] == "blocked" for cell in document["cells"])


def test_a_grid_of_no_kind_is_named(knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match="did you mean 'adhesive'"):
        grid_of(knowledge, "adhesives", "coating")


def test_verdicts_rank(knowledge: Knowledge) -> None:
    checked = together(knowledge, "acetone", "polycarbonate")
    assert verdict_of(checked.findings) == "blocked"
    assert verdict_of(()) == "compatible"


def test_document_and_text(knowledge: Knowledge) -> None:
    things = [thing(word, knowledge, "t") for word in ("acetone", "polycarbonate")]
    checked = check(knowledge, things)
    ways = remedies(knowledge, things, checked)
    document = check_json(checked, ways)
    assert {"schema", "items", "verdict", "findings"} <= set(document)
    text = check_text(checked, ways)
    assert "BLOCKED" in text
    assert "in place of acetone take" in text
    assert max(map(len, text.splitlines())) <= 100


def test_a_class_is_judged_at_the_cautious_end_of_its_members(knowledge: Knowledge) -> None:
    """What is blocked, or may not pass unread, with a member, isn't passed in silence with the class."""
    kinds = ("degreaser", "conditioner", "neutraliser", "abrasive", "adhesive", "coating")
    others = [(speakers(knowledge, ("substrate", k), False), knowledge.by_kind[k]) for k in kinds]
    looked = refused = 0
    for known_class in knowledge.tables["words"]["classes"]:
        found = substrate(known_class["words"][0], knowledge, "t")
        named = Thing(found.entry.id, found.entry, found.members)
        members = [Thing(i, knowledge.entry(i)) for i in found.members]
        for rules, other in ((rules, Thing(e.id, e)) for rules, entries in others for e in entries):
            looked += 1
            if any(check(knowledge, (member, other), None, rules).verdict == "blocked" for member in members):
                refused += 1
                said = check(knowledge, (named, other), None, rules).verdict
                assert said in ("blocked", "needs", "caution"), (named.id, other.id)
    assert looked > 2000
    assert refused > 200


def test_what_a_class_stands_for_is_told(knowledge: Knowledge) -> None:
    things = [thing(word, knowledge, "t") for word in ("brass", "dilute-ammonia")]
    checked = check(knowledge, things)
    assert checked.verdict == "blocked"
    assert check_json(checked)["classes"] == {"brass": ["brass-c26000", "brass-c36000"]}
    told = "Which brass isn't said: each fact is taken at the cautious end of brass-c26000 and brass-c36000."
    assert told in " ".join(check_text(checked).split())


def test_what_no_rule_looks_at_is_said_to_be_unknown(knowledge: Knowledge) -> None:
    things = [thing(word, knowledge, "t") for word in ("aluminium-6061", "stainless-304")]
    checked = check(knowledge, things)
    assert checked.verdict == "compatible"
    assert unseen(knowledge, things)
    assert "NOT KNOWN: no rule looks at these together" in check_text(checked, (), True)
    looked_at = [thing(word, knowledge, "t") for word in ("isopropyl-alcohol", "aluminium-6061")]
    assert not unseen(knowledge, looked_at)


def test_what_speaks_has_looked(knowledge: Knowledge) -> None:
    for pair in combinations([e for k in ("degreaser", "coating") for e in knowledge.by_kind[k][:12]], 2):
        things = [Thing(e.id, e) for e in pair]
        assert not (check(knowledge, things).findings and unseen(knowledge, things)), pair


@pytest.mark.parametrize(
    ("typed", "meant"), [("sea water immersion", "sea-water-immersion"), ("Mineral Oil", "mineral-oil")]
)
def test_an_exposure_may_be_written_as_it_is_said(typed: str, meant: str, knowledge: Knowledge) -> None:
    assert thing(typed, knowledge, "t") == Thing(meant)


@pytest.mark.parametrize(("typed", "near"), [("seawater", "sea-water-immersion"), ("outdoors", "outdoor-weather")])
def test_an_exposure_that_is_near_is_named(typed: str, near: str, knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match=f"did you mean '{near}'"):
        thing(typed, knowledge, "t")
