"""Facts of the trade about preparing a surface, asked of the shipped items and rules as a user's job would ask them.

Each is common practice with no source, or (where it says so) recalled by the author and to be confirmed.
"""

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import pytest

from kb.knowledge import load
from kb.rules.findings import judge
from kb.rules.roles import SLOT_ROLES

KNOWLEDGE = load()
JOB: dict[str, Mapping[str, Any]] = {
    "part": {"surface": ("bare",), "max_process_temperature_c": 400.0, "populated": False, "thickness_mm": 5.0,
             "clamping": "any", "orientation": "horizontal"},
    "service": {"low_c": 15.0, "high_c": 35.0, "peak_c": 35.0, "peak_h": 0.0, "exposures": ("dry-air",),
                "duration_days": 7.0, "measurement": "static", "max_strain_ue": 2000.0},
    "bench": {"air_temperature_c": 22.0, "relative_humidity_pct": 45.0, "part_temperature_c": 22.0,
              "room_volume_m3": 60.0, "air_changes_per_h": 4.0},
    "limits": {"ready_within_min": 1e12, "exclude_hazards": (), "outgassing": False},
    "batch": {"installations": 1},
    "gauge": {"backing": "any"},
    "chain": {},
}  # fmt: skip


def said(verdict: str, substrate: str, slots: Mapping[str, str], part: Mapping[str, Any] | None = None) -> set[str]:
    """Ids of the rules that say `verdict` (a block or need only where it shuts out) where these items meet."""
    scene: dict[str, Mapping[str, Any] | None] = dict.fromkeys(SLOT_ROLES)
    scene |= {**JOB, "part": {**JOB["part"], **(part or {})}, "substrate": KNOWLEDGE.entry(substrate).facts}
    for slot, item in slots.items():
        for role, places in SLOT_ROLES.items():
            if slot in places:
                scene[role] = KNOWLEDGE.entry(item).facts
    findings = (judge(rule, scene) for rule in KNOWLEDGE.rules if rule.verdict != "prefer")
    return {f.rule.id for f in findings if f and f.verdict == verdict and (f.closes or verdict == "caution")}


@pytest.mark.parametrize(
    ("substrate", "slots"),
    [
        ("polycarbonate", {"degreaser": "acetone"}),
        ("acrylic-pmma", {"degreaser": "technical-toluene"}),
        ("polystyrene", {"degreaser": "ethyl-acetate"}),
        ("titanium-6al-4v", {"degreaser": "trichloroethylene"}),
        ("magnesium-az31b", {"degreaser": "fluorinated-ether-dichloroethylene-blend"}),
        ("concrete", {"degreaser": "white-spirit"}),
        ("aluminium-6061", {"degreaser": "alkaline-detergent"}),
        ("marble", {"conditioner": "mild-phosphoric-conditioner"}),
        ("zinc-plated", {"conditioner": "mild-phosphoric-conditioner"}),
        ("brass-c26000", {"neutraliser": "dilute-ammonia", "conditioner": "mild-citric-conditioner"}),
        ("polycarbonate", {"neutraliser": "dilute-ammonia", "conditioner": "mild-citric-conditioner"}),
        ("stainless-304", {"neutraliser": "dilute-ammonia", "conditioner": "deionised-water"}),
        ("stainless-304", {"abrasive_dry": "steel-grit-blast"}),
        ("fr4-laminate", {"abrasive_dry": "alumina-blast-f120"}),
        ("carbon-epoxy-laminate", {"abrasive_dry": "silicon-carbide-p180"}),
        ("alumina-96", {"abrasive_dry": "alumina-p320"}),
        ("white-metal-lead-base", {"abrasive_wet": "silicon-carbide-cami-400"}),
        ("stainless-304", {"abrasive_dry": "silicon-carbide-cami-600", "abrasive_wet": "silicon-carbide-cami-220"}),
        ("fr4-laminate", {"treatment": "flame-treatment"}),
        ("ptfe", {"treatment": "polyolefin-primer"}),
    ],
)
def test_never_together(substrate: str, slots: dict[str, str]) -> None:
    assert said("block", substrate, slots)


@pytest.mark.parametrize(
    ("substrate", "slots"),
    [
        ("stainless-304", {"degreaser": "acetone"}),
        ("polycarbonate", {"degreaser": "heptane"}),
        ("polycarbonate", {"degreaser": "aqueous-detergent"}),
        ("solder-masked-board", {"degreaser": "isopropyl-alcohol"}),
        ("titanium-6al-4v", {"degreaser": "acetone"}),
        ("carbon-steel", {"conditioner": "mild-phosphoric-conditioner", "neutraliser": "dilute-ammonia"}),
        ("brass-c26000", {"conditioner": "mild-citric-conditioner", "neutraliser": "bicarbonate"}),
        ("solder-masked-board", {"abrasive_dry": "silicon-carbide-cami-400"}),
        ("alumina-96", {"abrasive_dry": "diamond-film-30"}),
        ("polypropylene", {"treatment": "polyolefin-primer"}),
        ("ptfe", {"treatment": "sodium-naphthalene-etch"}),
        ("glass-soda-lime", {"treatment": "silane-primer"}),
        ("concrete", {"treatment": "epoxy-fill-coat"}),
    ],
)
def test_customary_together(substrate: str, slots: dict[str, str]) -> None:
    assert said("block", substrate, slots) == set()


def test_alcohol_on_stressed_polycarbonate_is_allowed_with_a_warning() -> None:
    """It lies outside the solubility sphere, and crazes all the same where the part is under stress."""
    alcohol = {"degreaser": "isopropyl-alcohol"}
    assert said("block", "polycarbonate", alcohol) == set()
    assert "liquid-cracks-stressed-polymer" in said("caution", "polycarbonate", alcohol)


def test_coarse_paper_on_a_soft_plastic_is_allowed_with_a_warning() -> None:
    """Finer paper takes its furrows out again (common practice); alone below a thin bond it is warned of twice."""
    coarse = {"abrasive_dry": "silicon-carbide-p180"}
    assert said("block", "polycarbonate", coarse) == set()
    assert "coarse-grain-on-soft-polymer" in said("caution", "polycarbonate", coarse)
    thin = {**coarse, "adhesive": "ethyl-cyanoacrylate-low-viscosity"}
    assert "coarse-only-step-under-thin-bond" in said("caution", "polycarbonate", thin)


def test_acid_must_be_followed_by_a_neutraliser_that_is_alkaline() -> None:
    acid = {"conditioner": "mild-phosphoric-conditioner"}
    assert "acid-must-be-neutralised" in said("need", "stainless-304", acid)
    assert "acid-must-be-neutralised" in said("need", "stainless-304", {**acid, "neutraliser": "deionised-water-rinse"})
    assert "acid-must-be-neutralised" not in said("need", "stainless-304", {**acid, "neutraliser": "bicarbonate"})


@pytest.mark.parametrize("plastic", ["polyethylene-hd", "polypropylene", "acetal-copolymer", "ptfe", "rubber-epdm"])
def test_low_energy_plastics_are_never_bonded_as_they_are(plastic: str) -> None:
    epoxy = KNOWLEDGE.entry("epoxy-room-cure-two-part").facts
    scene = {"substrate": KNOWLEDGE.entry(plastic).facts, "adhesive": epoxy}
    full = {**dict.fromkeys(SLOT_ROLES), **JOB, **scene}
    needs = [judge(rule, full) for rule in KNOWLEDGE.rules if any("activates" in str(c) for c in rule.needs)]
    assert any(finding is not None and finding.closes for finding in needs)


def test_carbon_dust_is_kept_from_live_boards() -> None:
    paper = {"abrasive_dry": "silicon-carbide-cami-400"}
    assert said("block", "carbon-epoxy-laminate", paper, {"populated": True})
    assert said("block", "carbon-epoxy-laminate", paper, {"populated": False}) == set()


@pytest.mark.parametrize("substrate", ["marble", "limestone", "concrete", "mortar", "concrete-high-strength"])
def test_carbonates_and_cement_fear_acid_and_soak_up_liquid(substrate: str) -> None:
    facts = KNOWLEDGE.entry(substrate).facts
    assert facts["acid_sensitive"]
    assert facts["porous"]


def test_ammonia_cracks_every_brass() -> None:
    brasses = [e for e in KNOWLEDGE.by_kind["substrate"] if e.id.startswith("brass")]
    assert len(brasses) >= 2
    assert all(e.facts["ammonia_sensitive"] for e in brasses)


def test_a_board_carries_parts_unless_it_is_bare() -> None:
    boards = ("pcb-laminate", "solder-mask", "conformally-coated-board", "mould-compound", "board-finish")
    for entry in KNOWLEDGE.by_kind["substrate"]:
        if entry.family in boards:
            assert entry.facts["carries_parts"] != entry.id.endswith("-bare"), entry.id


def test_four_hundred_is_three_sizes() -> None:
    """The trap of the trade: the same number on three scales."""
    sizes = [KNOWLEDGE.entry(f"silicon-carbide-{name}").facts["mean_um"] for name in ("cami-400", "jis-400", "p400")]
    assert all(coarser / finer > 1.1 for finer, coarser in pairwise(sizes))


@pytest.mark.parametrize("family", ["polyethylene", "polypropylene", "acetal", "fluoropolymer", "silicone-rubber"])
def test_low_energy_plastics_have_two_ways_of_activation(family: str) -> None:
    treatments = [e for e in KNOWLEDGE.by_kind["treatment"] if e.facts["activates"]]
    assert len({e.family for e in treatments if family in e.facts["treats"]}) >= 2


@pytest.mark.parametrize("word", ["plastic", "rubber", "ceramic", "stone", "foam"])
def test_a_word_for_half_the_catalog_is_no_name_of_one_material(word: str) -> None:
    assert word not in {alias.lower() for e in KNOWLEDGE.by_kind["substrate"] for alias in e.facts["aliases"]}
