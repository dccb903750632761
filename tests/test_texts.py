"""Ten explanations word for word. Each was read aloud: a technician should understand it without a manual."""

from __future__ import annotations

import re
from typing import Any

from kb.engine.check import answer, question, remedies
from kb.engine.conflict import trouble
from kb.engine.plan import Engine, Plan
from kb.engine.why import explain
from kb.job import job_of
from kb.materials.resolve import substrate
from kb.report.check import check_text
from kb.report.trouble import conflict_words, relaxation_words
from kb.report.why import why_text, why_words
from kb.rules.words import message

ROOM = {"temperature_c": [15, 35]}


def planned(engine: Engine, part: str | dict[str, Any], service: dict[str, Any], **tables: Any) -> Plan:
    data = {"part": part if isinstance(part, dict) else {"substrate": part}, "service": service, **tables}
    job = job_of(data, "t")
    return engine.plan(job, substrate(job.part.substrate, engine.knowledge, "t").entry, top=1)


def conflict(engine: Engine, part: str | dict[str, Any], service: dict[str, Any], **tables: Any) -> str:
    return conflict_words(trouble(engine, planned(engine, part, service, **tables)))


def reasons(plan: Plan, item: str) -> list[str]:
    return [message(f) for entry, findings in plan.excluded if entry.id == item for f in findings]


def test_a_cure_that_the_part_does_not_endure_for_a_heat_that_it_must_live_at(engine: Engine) -> None:
    brass = {"substrate": "brass-c26000", "max_process_temperature_c": 60}
    assert conflict(engine, brass, {"temperature_c": [15, 300]}) == (
        "Nothing cures within 60 degC and then lives at 300 degC on cartridge brass (70Cu-30Zn). Either let the part "
        "be heated to 150 degC (not 60) while the adhesive cures; or keep the service at 80 degC and below "
        "(not 300)."
    )


def test_a_board_at_300_degrees(engine: Engine) -> None:
    board = {"substrate": "solder-masked board", "max_process_temperature_c": 60}
    assert conflict(engine, board, {"temperature_c": [15, 300]}) == (
        "Nothing lives at 300 degC on circuit board with solder mask, populated. Keep the service at 80 degC "
        "and below (not 300)."
    )


def test_no_time(engine: Engine) -> None:
    assert conflict(engine, "brass-c26000", {"temperature_c": [15, 60]}, limits={"ready_within_h": 1}) == (
        "Nothing is ready within 1 h and then lives at 60 degC and lasts 7 days on cartridge brass "
        "(70Cu-30Zn). Either keep the service at 50 degC and below (not 60); or allow 1 h 29 min (not 1 h) until "
        "it is ready; or end the service after 12 h (not 7 days)."
    )


def test_a_year_in_cold_sea_water(engine: Engine) -> None:
    sea = {"temperature_c": [-60, 60], "exposures": ["sea-water-immersion"], "duration_days": 365}
    plan = planned(engine, "aluminium-6061", sea)
    found = trouble(engine, plan)
    assert conflict_words(found) == (
        "Nothing lives at -60 degC, stands immersion in sea water and lasts 365 days on aluminium alloy 6061. "
        "Either keep the service at -50 degC and above (not -60); or end the service after 1 day (not 365 "
        "days); or keep it from immersion in sea water."
    )
    assert relaxation_words(found.relaxations[0]) == (
        "Keep the service at -50 degC and above (not -60); then bond with epoxy, warm-cure, "
        "cycloaliphatic-amine-hardened. Doubtful still: a cure at 100 degC on a part that stays outdoors or in water "
        "for 365 days."
    )
    assert "Doubtful" not in relaxation_words(found.relaxations[2]), "a day in a dry room is nothing to doubt"


def test_why_acetone_is_out(engine: Engine) -> None:
    board = {"substrate": "solder-masked board", "populated": True}
    why = explain(engine, planned(engine, board, ROOM), engine.knowledge.entry("acetone"))
    assert (
        why_text(why)
        == """\
Acetone is out: no chain for this job can use it. No change to the job that was tried lets it in
on circuit board with solder mask, populated.

  block: acetone swells or dissolves circuit board with solder mask, populated
    [degreaser-softens-polymer; handbook: orwoll-arnold-chi]
    because: A swollen surface is weak, takes minutes to days to give the solvent back, and
             shrinks under the gauge as it does.
    seen:    part: organic yes, polymer structure thermoset, family solder mask, swollen by
             ketone, chlorinated; degreaser: main solvent families ketone
    instead: use a degreaser of a family that does not swell it

  block: acetone attacks connectors, labels and seals of a populated assembly
    [strong-solvent-on-populated-board; standard: nasa-std-8739.1-1999]
    because: Housings of amorphous plastic craze, marking inks run, and seals of switches and
             capacitors swell.
    seen:    part: populated yes; degreaser: solvent families ketone
    instead: use an alcohol on a damp swab

Tried: part.populated, part.tested_free_of, service.temperature_c[0], service.temperature_c[1],
service.duration_days, service.max_strain_ue, bench.dust_collector, all of them let go. Of other
fields of the job nothing is said.

Class values only: the data sheet of the item on your shelf rules. Read its safety data sheet;
local rules come first; leave to licensed practice what the law or the hazard asks for.
"""
    )


def test_what_would_let_a_slow_adhesive_in(engine: Engine) -> None:
    plan = planned(engine, "brass-c26000", {"temperature_c": [15, 60]}, limits={"ready_within_h": 25})
    why = explain(engine, plan, engine.knowledge.entry("polyurethane-moisture-cure"))
    assert (
        why_text(why)
        == """\
Polyurethane, one-part, moisture-curing is out: no chain for this job can use it.

  block: the fastest chain with polyurethane, one-part, moisture-curing is ready after 25 h 25
    min; the job allows 25 h [ready-in-time; computed]
    because: Drying, curing and coating take the time they take; cutting them short leaves
             solvent, creep and a zero that wanders.
    seen:    chain: critical path 25 h 25 min; job's limits: ready within 25 h
    instead: allow more time, or let a warmer cure do it where the part endures it

What would let it in, least first (each was planned again):
  - Allow 25 h 25 min (not 25 h) until it is ready.
  - Keep the service at 50 degC and below (not 60).
  - End the service after 12 h (not 7 days).

Class values only: the data sheet of the item on your shelf rules. Read its safety data sheet;
local rules come first; leave to licensed practice what the law or the hazard asks for.
"""
    )


def test_an_item_that_lacks_its_partner(engine: Engine) -> None:
    """Two rules together: what it serves is closed, and what is open it does not serve."""
    cold = {"temperature_c": [-196, 35], "exposures": ["cryogenic-liquid"]}
    assert reasons(planned(engine, "brass-c26000", cold), "cyanoacrylate-accelerator") == [
        "cyanoacrylate accelerator in alcohol does not serve epoxy, heat-cure, toughened, for cold",
        "methoxyethyl cyanoacrylate, low bloom does not stand a cryogenic liquid",
        "hermetic gauge in a nickel-alloy tube, spot-welded can't be spot-welded to cartridge brass (70Cu-30Zn)",
    ]


def test_behind_by_a_few_points(engine: Engine) -> None:
    """The figures that it loses by are the whole gap."""
    plan = planned(engine, "cast-iron-grey", {"temperature_c": [15, 60]})
    said = why_words(explain(engine, plan, engine.knowledge.entry("butyl-mastic-tape")))
    found = re.fullmatch(
        r"Butyl mastic tape is allowed, but another chain comes first. The best chain with it is (\d+) points "
        r"dearer: it loses (\d+ by .*)\.",
        said,
    )
    assert found, said
    lost = [int(points) for points in re.findall(r"(\d+) by ", found[2])]
    assert len(lost) > 1
    assert int(found[1]) == sum(lost) > 0


def test_a_fact_that_nobody_has_given(engine: Engine) -> None:
    chain = planned(engine, "pet-film", ROOM).chains[0]
    said = [message(f) for f in chain.findings if f.unknown]
    assert all(one.startswith("It is not known how thick the part is. If this applies: ") for one in said)
    assert {one.partition("applies: ")[2] for one in said} >= {
        "PET film, biaxially drawn will curl by its mismatch with polyimide film, 25 um after a cure at 23 degC",
        "polyimide film, 25 um with its grid carries more than 1 % of the load of PET film, biaxially drawn",
    }


def test_two_things_that_never_go_together_and_what_would_do(engine: Engine) -> None:
    asked = question(["butyl-mastic-tape", "mineral-oil"], engine.knowledge, "t")
    found = answer(engine, asked)
    assert (
        check_text(found, remedies(engine, [one.things[0] for one in asked.asked], found.checked))
        == """\
butyl-mastic-tape + mineral-oil
  BLOCKED: never together
  never as the first coat: butyl mastic tape may not touch a live grid and its leads
  block: butyl mastic tape does not last in mineral oil [mineral-oil-ruins-coat;
    common-practice]
    because: Oil is its own kind of chemistry: waxes and butyl dissolve in it, silicone swells
             and lets go.
    instead: take nitrile, polysulfide, epoxy or a fluoropolymer
  Said of one of them by itself, whatever it goes with:
  - need: butyl mastic tape seals only where it was pressed home [knead-on-and-roll-down]
  - caution: a part for mineral oil may be under pressure, hot, cold or full: have it isolated,
    emptied and released by whoever runs it [isolate-pressurised-plant]
  What would do:
  - in place of butyl-mastic-tape take epoxy-encapsulant-anhydride, epoxy-encapsulant-filled,
    epoxy-encapsulant-flexible, epoxy-encapsulant-frozen-one-part or
    epoxy-encapsulant-heat-cure: compatible
Class values only: the data sheets of the items on your shelf rule. Try it on an offcut.
"""
    )
