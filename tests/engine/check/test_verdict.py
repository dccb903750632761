"""The verdict on single pairs and lists: what bears on it, what is only noted, what is not known."""

from __future__ import annotations

import pytest

from kb.engine.check import NOT_KNOWN, Bench, Setting, Thing, answer, check, question, supplied, worst
from kb.engine.plan import Engine
from kb.job import job_of
from tests.engine.check.asking import spoken, thing, together


@pytest.mark.parametrize(
    ("names", "verdict", "rule"),
    [
        (("acetone", "polycarbonate"), "blocked", "degreaser-crazes-polymer"),
        (("polyimide-film-25um", "ceramic-cement-alumina"), "blocked", "backing-not-bonded-by-adhesive"),
        (("butyl-mastic-tape", "mineral-oil"), "blocked", "mineral-oil-ruins-coat"),
        (("epoxy-room-cure-two-part", "polyurethane-lacquer-air-drying"), "needs", "solvent-coat-waits-for-adhesive"),
        (("ptfe", "ethyl-cyanoacrylate-low-viscosity"), "needs", "low-energy-surface-needs-activation"),
        (("polystyrene", "epoxy-heat-cure-two-part"), "blocked", "cure-hotter-than-part-endures"),
    ],
)
def test_what_speaks_against_a_pair_sets_the_verdict(
    names: tuple[str, ...], verdict: str, rule: str, engine: Engine
) -> None:
    """Common practice, no source."""
    checked = together(engine, *names)
    assert checked.verdict == verdict
    assert rule in spoken(checked)


def test_compatible_rests_on_a_statement(engine: Engine) -> None:
    checked = together(engine, "isopropyl-alcohol", "aluminium-6061")
    assert checked.verdict == "compatible"
    assert "alcohol-wipes-metal" in {f.rule.id for f in checked.suits}
    assert not checked.unknown


def test_where_nobody_knows_it_is_said(engine: Engine) -> None:
    checked = together(engine, "ceramic-cement-alumina", "epoxy-encapsulant-room-cure")
    assert checked.verdict == NOT_KNOWN
    (unknown,) = checked.unknown
    assert (unknown.first, unknown.second) == ("epoxy-encapsulant-room-cure", "ceramic-cement-alumina")


def test_what_never_meets_is_not_approved(engine: Engine) -> None:
    for names in (("aluminium-6061", "stainless-304"), ("acetone", "butyl-mastic-tape"), ("acetone", "acetone")):
        checked = together(engine, *names)
        assert checked.verdict == NOT_KNOWN
        assert [u.relation for u in checked.unknown] == [None], names


def test_what_to_ask_of_the_gauge_is_not_said_of_two_things(engine: Engine) -> None:
    wishes = {rule.id for rule in engine.knowledge.beside if rule.of_gauge}
    assert wishes
    for names in (("sodium-hydroxide", "aluminium-6061"), ("ethyl-cyanoacrylate-low-viscosity", "glass-soda-lime")):
        checked = together(engine, *names)
        assert wishes.isdisjoint(f.rule.id for f in (*checked.findings, *checked.notes)), names


def test_a_rule_about_one_thing_speaks_where_it_bears_on_the_pair(engine: Engine) -> None:
    """Every gauge has copper leads, named or not."""
    for other in ("ethyl-cyanoacrylate-low-viscosity", "polyimide-film-25um"):
        checked = together(engine, other, "silicone-acetoxy-flowable")
        assert checked.verdict == "blocked"
        assert "acetic-acid-next-to-the-grid" in spoken(checked)
    assert "acetic-acid-reaches-copper-leads" in spoken(together(engine, "silicone-acetoxy-flowable", "stainless-304"))


def test_care_in_handling_is_noted_and_no_verdict(engine: Engine) -> None:
    checked = together(engine, "acetone", "carbon-steel")
    assert checked.verdict == "compatible"
    checked = together(engine, "ethyl-cyanoacrylate-low-viscosity", "aluminium-6061")
    assert checked.verdict == "compatible"
    assert "cyanoacrylate-and-cotton" in {f.rule.id for f in checked.notes}


def test_a_need_is_the_pairs_own_where_it_is_met_between_the_two(engine: Engine) -> None:
    on_metal = together(engine, "mild-phosphoric-conditioner", "aluminium-6061")
    assert on_metal.verdict == "compatible"
    assert "acid-must-be-neutralised" in {f.rule.id for f in on_metal.notes}
    under_glue = together(engine, "mild-phosphoric-conditioner", "epoxy-room-cure-two-part")
    assert under_glue.verdict == "needs"
    assert "acid-must-be-neutralised" in spoken(under_glue)


def test_a_need_that_another_of_the_list_supplies_is_none(engine: Engine) -> None:
    checked = together(engine, "mild-phosphoric-conditioner", "dilute-ammonia", "aluminium-6061")
    assert [f.rule.id for f in checked.findings if supplied(f)] == ["acid-must-be-neutralised"]
    assert checked.verdict == "caution"
    etched = together(engine, "ptfe", "sodium-naphthalene-etch", "epoxy-room-cure-two-part")
    assert "low-energy-surface-needs-activation" in {f.rule.id for f in etched.findings if supplied(f)}
    assert not etched.unknown


def test_an_impossible_use_is_no_use(engine: Engine) -> None:
    """Blasting is never wet: that it would be allowed so is nothing for it."""
    blasted = together(engine, "alumina-blast-f120", "titanium-6al-4v")
    assert blasted.verdict == "blocked"
    assert [(use.words, use.possible) for use in blasted.uses] == [(("wet",), False)]
    assert together(engine, "alumina-blast-f120", "carbon-steel").verdict == "compatible"


def test_where_uses_differ_both_are_told(engine: Engine) -> None:
    checked = together(engine, "silicon-carbide-p400", "magnesium-az31b")
    assert checked.verdict == "needs"
    assert [(use.words, use.verdict) for use in checked.uses] == [(("wet",), "needs"), (("dry",), "blocked")]


def test_any_of_several_conditions_may_be_unknown_and_another_hold(engine: Engine) -> None:
    """The rule asks for copper or a populated board: of brass the first is known."""
    assert "oxime-stains-copper" in spoken(together(engine, "silicone-neutral-cure-oxime-paste", "brass-c26000"))
    assert "oxime-stains-copper" in spoken(together(engine, "silicone-neutral-cure-oxime-paste", "solder-masked-board"))


def test_the_order_of_coats_counts(engine: Engine) -> None:
    assert together(engine, "polyurethane-lacquer-air-drying", "butyl-mastic-tape").verdict == "compatible"
    assert together(engine, "butyl-mastic-tape", "polyurethane-lacquer-air-drying").verdict == "blocked"


def test_where_no_order_is_said_both_are_judged(engine: Engine) -> None:
    things = [thing(name, engine) for name in ("butyl-mastic-tape", "polyurethane-lacquer-air-drying")]
    checked = Bench(engine).either_way(things)
    assert checked.verdict == "needs"
    assert sorted(checked.orders.values()) == ["blocked", "compatible"]
    assert checked.items == ("polyurethane-lacquer-air-drying", "butyl-mastic-tape")


def test_an_exposure_needs_no_job(engine: Engine) -> None:
    checked = together(engine, "polyurethane-lacquer-air-drying", "sea-water-immersion")
    assert checked.verdict == "caution"
    assert any("service.wet_days" in f.unknown for f in checked.findings)
    assert together(engine, "nitrile-lacquer-air-drying", "dry-air").verdict == "compatible"


def test_the_jobs_own_part_takes_part(engine: Engine) -> None:
    job = job_of({"part": {"substrate": "polycarbonate"}, "service": {"temperature_c": [15, 35]}}, "t")
    things = [thing(name, engine) for name in ("acetone", "polyimide-film-25um")]
    assert check(engine, things).verdict == NOT_KNOWN
    setting = Setting(job, engine.knowledge.entry("polycarbonate"))
    assert check(engine, things, setting).verdict == "blocked"


def test_a_named_part_stands_in_the_place_of_the_jobs(engine: Engine) -> None:
    job = job_of({"part": {"substrate": "polycarbonate"}, "service": {"temperature_c": [15, 35]}}, "t")
    setting = Setting(job, engine.knowledge.entry("polycarbonate"))
    things = [thing(name, engine) for name in ("acetone", "stainless-304")]
    assert check(engine, things, setting).verdict == "compatible"


def test_verdicts_rank() -> None:
    assert worst(()) == "compatible"
    assert worst(("compatible", NOT_KNOWN)) == NOT_KNOWN
    assert worst((NOT_KNOWN, "caution")) == "caution"
    assert worst(("needs", "caution", "blocked")) == "blocked"


def test_what_is_too_hot_or_too_cold_is_told_without_a_job(engine: Engine) -> None:
    hot = answer(engine, question(("90 C", "microcrystalline-wax-plain"), engine.knowledge, "t")).checked
    assert "coat-too-hot-at-peak" in {f.rule.id for f in hot.findings if f.known}
    cold = answer(engine, question(("minus 60 C", "microcrystalline-wax-plain"), engine.knowledge, "t")).checked
    assert "coat-too-cold-for-long" in {f.rule.id for f in cold.findings if not f.known}
    room = answer(engine, question(("30 C", "microcrystalline-wax-plain"), engine.knowledge, "t")).checked
    assert room.verdict == "compatible"


def test_one_liquid_at_two_heats_is_judged_twice(engine: Engine) -> None:
    bench = Bench(engine)
    oil = [bench.check((Thing("mineral-oil", at_c=c), thing("nitrile-lacquer-air-drying", engine))) for c in (30, 200)]
    assert [one.verdict for one in oil][1] == "blocked" != oil[0].verdict
