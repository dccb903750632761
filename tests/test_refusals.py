"""The refusals and warnings that an experienced bonder, a chemist and a safety officer would each give.

Common practice, no source, unless a line says otherwise.
"""

from __future__ import annotations

from typing import Any

import pytest

from kb import calc
from kb.engine.check import answer, question
from kb.engine.plan import Engine
from kb.job import job_of
from kb.knowledge import Knowledge
from kb.materials.resolve import substrate
from kb.report.plan_json import plan_json
from kb.rules.words import duration, message


def planned(engine: Engine, part: dict[str, Any], **service: Any) -> dict[str, Any]:
    data = {"part": part, "service": {"temperature_c": [15, 35], **service}}
    job = job_of(data, "t")
    resolved = substrate(job.part.substrate, engine.knowledge, "t")
    return plan_json(engine.plan(job, resolved.entry), resolved, None)


def rules_of(document: dict[str, Any]) -> set[str]:
    """Every rule that speaks in the first chain or against an item."""
    found = {f["rule"] for chain in document["chains"][:1] for f in chain["findings"]}
    return found | {f["rule"] for row in document["excluded"] for f in row["findings"]}


def together(engine: Engine, *words: str) -> tuple[str, str]:
    """The verdict on some things, and all that is said of them."""
    checked = answer(engine, question(words, engine.knowledge, "t")).checked
    return checked.verdict, " ".join(message(f) + " " + f.rule.because for f in checked.findings)


@pytest.mark.parametrize(
    ("material", "word"),
    [
        ("magnesium-az31b", "magnesium"),
        ("titanium-6al-4v", "titanium"),
        ("beryllium-copper-c17200", "beryllium"),
        ("lead-sheet", "lead"),
        ("concrete", "silica"),
        ("glass-epoxy-laminate", "fibre"),
        ("carbon-epoxy-laminate", "fibre"),
    ],
)
def test_each_dust_has_its_caution(material: str, word: str, engine: Engine) -> None:
    document = planned(engine, {"substrate": material})
    said = [
        f["message"] + f["because"]
        for source in (*document["chains"][:1], *document["excluded"])
        for f in source["findings"]
        if "dust" in f["message"] + f["because"]
    ]
    assert any(word in text.lower() for text in said), said[:3]


@pytest.mark.parametrize("material", ["beryllium-copper-c17200", "magnesium-az31b", "lead-sheet"])
def test_poisonous_and_burning_dust_is_never_raised_dry(material: str, engine: Engine) -> None:
    for chain in planned(engine, {"substrate": material})["chains"]:
        assert chain["items"]["abrasive_dry"] is None


def test_oxygen_refuses_organics_on_top_and_defers_to_specialists(engine: Engine) -> None:
    document = planned(engine, {"substrate": "stainless-304"}, exposures=["oxygen-enriched"])
    for chain in document["chains"]:
        for coat in chain["items"]["coatings"]:
            assert engine.knowledge.entry(coat).facts["organic"] is False
    said = " ".join(f["message"] + str(f["instead"]) for c in document["chains"][:1] for f in c["findings"])
    assert "specialist" in said


def test_acetoxy_silicone_never_touches_copper(knowledge: Knowledge, engine: Engine) -> None:
    acetoxy = next(e.id for e in knowledge.by_kind["coating"] if e.family == "silicone-acetoxy")
    assert together(engine, acetoxy, "copper-c11000")[0] == "blocked"


def test_addition_cure_silicone_over_an_amine_cured_epoxy_is_warned_of(engine: Engine) -> None:
    verdict, said = together(engine, "epoxy-room-cure-two-part", "silicone-addition-cure-room-temperature")
    assert verdict in ("blocked", "needs", "caution")
    assert "amine" in said


def test_alcohol_on_acrylic_is_warned_of_although_it_does_not_dissolve_it(knowledge: Knowledge, engine: Engine) -> None:
    """A solubility ratio above 1 says that it does not dissolve; stress cracking happens all the same."""
    alcohol, acrylic = knowledge.entry("isopropyl-alcohol").facts, knowledge.entry("acrylic-pmma").facts
    inputs = {"a": list(alcohol["hansen.dph"]), "b": list(acrylic["hansen.dph"]), "radius": acrylic["hansen.radius"]}
    assert calc.run("solubility-distance", inputs)["result"]["red"] > 1
    verdict, said = together(engine, "isopropyl-alcohol", "acrylic-pmma")
    assert verdict == "caution"
    assert "craze" in said


def test_a_thin_film_is_warned_of_with_the_figure(engine: Engine) -> None:
    document = planned(engine, {"substrate": "pet-film", "thickness_mm": 0.1})
    found = [f for f in document["chains"][0]["findings"] if any(c["name"] == "stiffening" for c in f["calculations"])]
    assert found
    assert found[0]["calculations"][0]["result"]["ratio"] > 0.01


def test_a_solvent_coat_says_how_long_it_waits(knowledge: Knowledge, engine: Engine) -> None:
    verdict, said = together(engine, "epoxy-room-cure-two-part", "polyurethane-lacquer-air-drying")
    minutes = knowledge.entry("epoxy-room-cure-two-part").facts["solvent_safe_min"]
    assert verdict == "needs"
    assert f" {duration(minutes)} " in said


def test_phosphate_ester_leaves_butyl_and_not_nitrile(knowledge: Knowledge, engine: Engine) -> None:
    assert together(engine, "butyl-mastic-electrical", "phosphate-ester-fluid")[0] != "blocked"
    nitrile = next(e.id for e in knowledge.by_kind["coating"] if e.family == "nitrile-lacquer")
    assert together(engine, nitrile, "phosphate-ester-fluid")[0] == "blocked"


def test_no_hazard_that_is_excluded_is_used(engine: Engine) -> None:
    for hazard in ("isocyanate", "flammable", "amine"):
        job = job_of(
            {
                "part": {"substrate": "stainless-304"},
                "service": {"temperature_c": [15, 35]},
                "limits": {"exclude_hazards": [hazard]},
            },
            "t",
        )
        for chain in engine.plan(job, engine.knowledge.entry("stainless-304")).chains:
            for option in chain.picks:
                assert option.entry is None or hazard not in option.entry.facts.get("hazards", ()), hazard
