"""Mixtures classified by hand, at their limits; and every mixture of the catalog against its own composition."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.engine.plan import Engine
from kb.job import job_of
from kb.knowledge import Knowledge
from kb.knowledge.hazards import MIXED_KINDS
from kb.knowledge.mixtures import Bottle, Constituent, classified, estimate_of, flammable, form_of, words_of
from kb.materials.resolve import substrate

CATALOG = Path(__file__).parents[2] / "generic_catalog"
LIMITS: dict[str, Any] = tomllib.loads((CATALOG / "mixtures.toml").read_text())
FIRE = LIMITS["fire"]


def made(*parts: tuple[float, str], **over: Any) -> list[str]:
    """The statements of a bottle with so many per cent of what carries these codes ("H317 1A": a category)."""
    holds = []
    for number, (pct, codes) in enumerate(parts):
        words = [word.split("/") for word in codes.split()]
        facts: dict[str, Any] = {"hazard_statements": [word[0] for word in words]}
        facts |= {f"categories.{word[0]}": word[1] for word in words if len(word) > 1}
        holds.append(Constituent(f"part-{number}", facts | over.get("facts", {}), pct))
    return [f.statement for f in classified(Bottle(tuple(holds), **over.get("bottle", {})), LIMITS)]


def specific(*rows: tuple[str, float]) -> dict[str, Any]:
    return {"facts": {"specific_limits": [{"statement": s, "from_pct": pct} for s, pct in rows]}}


@pytest.mark.parametrize(
    ("codes", "least", "gives"),
    [
        ("H350", 0.1, "H350"), ("H351", 1.0, "H351"), ("H340", 0.1, "H340"), ("H341", 1.0, "H341"),
        ("H360D", 0.3, "H360D"), ("H361f", 3.0, "H361f"), ("H317", 1.0, "H317"), ("H317/1A", 0.1, "H317"),
        ("H317/1B", 1.0, "H317"), ("H334", 1.0, "H334"), ("H334/1A", 0.1, "H334"), ("H370", 10.0, "H370"),
        ("H370", 1.0, "H371"), ("H372", 10.0, "H372"), ("H372", 1.0, "H373"), ("H373", 10.0, "H373"),
        ("H314", 5.0, "H314"), ("H314", 1.0, "H315"), ("H315", 10.0, "H315"), ("H318", 3.0, "H318"),
        ("H314", 3.0, "H318"), ("H318", 1.0, "H319"), ("H319", 10.0, "H319"), ("H335", 20.0, "H335"),
        ("H336", 20.0, "H336"), ("H304", 10.0, "H304"), ("H400", 25.0, "H400"), ("H410", 25.0, "H410"),
        ("H410", 2.5, "H411"), ("H411", 25.0, "H411"), ("H410", 0.25, "H412"), ("H411", 2.5, "H412"),
    ],
)  # fmt: skip
def test_from_its_limit_on_and_not_below(codes: str, least: float, gives: str) -> None:
    """Annex I of CLP, tables 3.2.3 to 4.1.2."""
    assert gives in made((least, codes))
    assert gives not in made((least * 0.99, codes))


def test_shares_add_up_as_parts_of_their_limits() -> None:
    """2 % of what is corrosive and 6 % of what irritates: 10 x 0.5 + 5 = 10."""
    assert "H315" in made((0.5, "H314"), (5.0, "H315"))
    assert "H315" not in made((0.4, "H314"), (5.0, "H315"))
    assert "H336" in made((10.0, "H336"), (10.0, "H336"))


def test_what_decides_alone_does_not_add_up() -> None:
    assert "H351" not in made((0.9, "H351"), (0.9, "H351"))


def test_the_worse_statement_says_the_milder() -> None:
    assert made((50.0, "H314")) == ["H314"]
    assert "H373" not in made((50.0, "H372"))


def test_specific_limits_go_before_the_general_ones() -> None:
    """Phosphoric acid: 3 % is neither, 10 % irritates, 25 % burns."""
    acid = specific(("H314", 25), ("H315", 10), ("H319", 10))
    assert made((3.0, "H314"), **acid) == []
    assert made((10.0, "H314"), **acid) == ["H315", "H319"]
    assert made((25.0, "H314"), **acid) == ["H314"]
    assert made((0.001, "H317"), **specific(("H317", 0.001))) == ["H317"]


def test_a_tenth_of_what_sensitises_is_named() -> None:
    assert made((0.1, "H317")) == ["EUH208"]
    assert made((0.01, "H317/1A")) == ["EUH208"]
    assert made((0.009, "H317/1A")) == []


def test_acute_toxicity_adds_up_as_reciprocals() -> None:
    """100 / ATE = 50 / 100 + 25 / 500: 182 mg/kg, category 3."""
    assert "H301" in made((50.0, "H301"), (25.0, "H302"))
    assert "H302" in made((10.0, "H301"))
    assert made((0.9, "H301")) == []


def test_an_estimate_that_is_given_goes_before_the_category() -> None:
    oral = LIMITS["acute"]["routes"][0]
    assert estimate_of({"hazard_statements": ["H301"], "acute_toxicity.oral_mg_kg": 140}, oral) == 140
    assert estimate_of({"hazard_statements": ["H301"]}, oral) == 100
    assert estimate_of({"hazard_statements": ["H300"]}, oral) == 0.5
    assert estimate_of({"hazard_statements": ["H300"], "categories.H300": "2"}, oral) == 5
    assert estimate_of({"hazard_statements": ["H310"]}, oral) is None


def test_gas_vapour_and_mist_are_told_apart() -> None:
    assert form_of({"boiling_point_c": -33}, 0.005) == "gas"
    assert form_of({"boiling_point_c": 80, "vapour_pressure_kpa": 5}, 0.005) == "vapour"
    assert form_of({"vapour_pressure_kpa": 0.0}, 0.005) == "mist"


@pytest.mark.parametrize(
    ("flash", "boils", "said"),
    [(22.9, 35.0, "H224"), (22.9, 35.1, "H225"), (23.0, 100.0, "H226"), (60.0, 150.0, "H226"), (60.1, 150.0, None)],
)
def test_the_limits_of_the_flammable_classes(flash: float, boils: float, said: str | None) -> None:
    assert flammable(flash, boils, FIRE) == said


def test_fire_is_the_worst_constituents_unless_measured() -> None:
    assert made((1.0, "H225"), (90.0, "")) == ["H225"]
    assert made((0.9, "H225"), (90.0, "")) == []
    assert made((20.0, "H225"), (80.0, ""), bottle={"flash_point_c": 29}) == ["H226"]
    assert made((20.0, "H225"), (80.0, ""), bottle={"flash_point_c": 70}) == []
    assert made((50.0, "H225"), (50.0, ""), bottle={"no_flash_point": True}) == []
    # Nearly pure, it burns as its harmonised entry says, whatever the flash point computes to.
    assert made((99.0, "H226"), bottle={"flash_point_c": 22}) == ["H226"]


def test_what_is_thick_is_not_breathed_into_the_lungs() -> None:
    assert "H304" not in made((50.0, "H304"), bottle={"runny": False})


def test_extreme_ph_burns_where_something_corrosive_is_in_it() -> None:
    assert made((1.0, "H314"), bottle={"ph": 12.5}) == ["H314"]
    assert made((2.0, "H319"), bottle={"ph": 2.0}) == []
    assert "H314" not in made((3.0, "H314"), bottle={"ph": 1.5}, **specific(("H314", 25)))


@given(pct=st.floats(0.001, 99), more=st.floats(1.0, 3.0), codes=st.lists(
    st.sampled_from(["H225", "H301", "H314", "H315", "H317", "H318", "H336", "H350", "H361d", "H372", "H410"]),
    min_size=1, unique=True))  # fmt: skip
def test_more_of_it_is_never_less_hazardous(pct: float, more: float, codes: list[str]) -> None:
    """By the words that a user may exclude: a milder statement may give way to a worse one of the same word."""

    def words(share: float) -> set[str]:
        one = Constituent("one", {"hazard_statements": codes}, min(share, 100.0))
        return words_of(classified(Bottle((one,)), LIMITS), LIMITS)

    assert words(pct) <= words(pct * more)


def mixtures(knowledge: Knowledge) -> list[Any]:
    return [e for kind in MIXED_KINDS for e in knowledge.by_kind[kind] if e.facts.get("composition")]


def test_statements_and_words_of_every_mixture_follow_from_its_composition(knowledge: Knowledge) -> None:
    """Recomputed here bottle by bottle; nothing is typed that the composition gives."""
    found = mixtures(knowledge)
    assert len(found) > 120
    for entry in found:
        said: set[str] = set()
        for part in (1, 2):
            holds = tuple(
                Constituent(row["substance"], knowledge.entries[row["substance"]].facts, row["share_pct"])
                for row in entry.facts["composition"]
                if row.get("part", 1) == part
            )
            thick = entry.facts.get("viscosity") in ("medium", "high") or entry.facts.get("form", "liquid") != "liquid"
            runny = not thick and entry.facts.get("applied_as", "brush") in ("brush", "vapour")
            bottle = Bottle(
                holds,
                entry.facts.get("flash_point_c"),
                entry.facts["no_flash_point"],
                entry.facts.get("ph"),
                runny,
                knowledge.tables["usage"]["air"]["volatile_from_kpa"],
            )
            said |= {f.statement for f in classified(bottle, knowledge.tables["mixtures"])} if holds else set()
        assert set(entry.facts["hazard_statements"]) == said, entry.id
        named = {code for row in entry.facts["hazard_because"] for code in (row["statement"],)}
        assert named == said, entry.id


#: What a specialist expects of these, whatever the arithmetic: id, statements that it has, and that it has not.
EXPECTED = [
    ("cyanoacrylate-accelerator", "H350 H225", "H317"),
    ("cyanoacrylate-accelerator-in-heptane", "H350 H304", ""),
    ("cyanoacrylate-accelerator-without-aromatic-amine", "H225", "H350 H351 H341"),
    ("mild-phosphoric-conditioner", "", "H314 H315 H318 H319"),
    ("technical-toluene", "H225 H361d H373 H304 H336", "H372"),
    ("hexane", "H372 H361f H225", "H373"),
    ("white-spirit", "H372 H304 H226", ""),
    ("epoxy-heat-cure-two-part", "H350 H317", ""),
    ("uv-acrylate-general", "H360Fd H317", "H226"),
    ("ethyl-cyanoacrylate-low-viscosity", "H315 H319 H335 EUH202", "H317 H351"),
    ("polyurethane-two-part", "H334 H351 EUH204", ""),
    ("polyimide-adhesive", "H360D H350", ""),
    ("silicone-neutral-cure-oxime-paste", "H350 H317", ""),
    ("butyl-acetate", "H226", "H225"),
    ("fluorinated-ether-dichloroethylene-blend", "H412", "H225"),
]


@pytest.mark.parametrize(("item", "has", "lacks"), EXPECTED, ids=[row[0] for row in EXPECTED])
def test_what_a_specialist_expects(item: str, has: str, lacks: str, knowledge: Knowledge) -> None:
    said = set(knowledge.entry(item).facts["hazard_statements"])
    assert set(has.split()) <= said
    assert not set(lacks.split()) & said


def test_the_carcinogen_in_the_accelerator_is_excluded_and_another_takes_its_place(engine: Engine) -> None:
    data = {
        "part": {"substrate": "carbon-steel"},
        "service": {"temperature_c": [15, 35]},
        "limits": {"exclude_hazards": ["carcinogen", "toxic"]},
    }
    job = job_of(data, "test")
    plan = engine.plan(job, substrate(job.part.substrate, engine.knowledge, "test").entry)
    out = {item.id for item, _ in plan.excluded}
    assert {"cyanoacrylate-accelerator", "cyanoacrylate-accelerator-in-heptane"} <= out
    assert "cyanoacrylate-accelerator-without-aromatic-amine" not in out
    for chain in plan.chains:
        for option in chain.picks:
            if option.entry is not None:
                assert not {"carcinogen", "toxic"} & set(option.entry.facts.get("hazards", ()))
