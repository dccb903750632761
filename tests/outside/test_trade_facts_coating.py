"""Facts of the trade about coats, asked of the shipped items and rules as a user's job would ask them.

Each is common practice with no source, or (where it says so) recalled by the author and to be confirmed.
"""

from collections.abc import Mapping
from typing import Any

import pytest

from kb.job import job_of
from kb.knowledge import load
from kb.rules.findings import judge
from kb.rules.job_facts import job_facts
from kb.rules.roles import SLOT_ROLES

KNOWLEDGE = load()
COATINGS = KNOWLEDGE.by_kind["coating"]
PART = {"surface": ("bare",), "max_process_temperature_c": 400.0, "populated": False, "thickness_mm": 5.0,
        "orientation": "horizontal"}  # fmt: skip
AREA = {"installations": 1, "coated_cm2": 6.48}
BENCH = {"air_temperature_c": 22.0, "relative_humidity_pct": 45.0, "part_temperature_c": 22.0}


def asked(low_c: float = 15.0, high_c: float = 35.0, **service: Any) -> Mapping[str, Any]:
    """The facts of a service near room temperature that differs so."""
    job = {"part": {"substrate": "stainless-304"}, "service": {"temperature_c": [low_c, high_c], **service}}
    return job_facts(job_of(job, "a service"), {})["service"]


def refused(coat: str, under: str | None = None, substrate: str = "stainless-304", **service: Any) -> set[str]:
    """Ids of the rules that shut `coat` out, as the only coat or over `under`, in a service that differs so."""
    facts = KNOWLEDGE.entry(coat).facts
    scene: dict[str, Mapping[str, Any] | None] = dict.fromkeys(SLOT_ROLES)
    scene |= {
        "substrate": KNOWLEDGE.entry(substrate).facts,
        "part": PART,
        "bench": BENCH,
        "limits": {"ready_within_min": 1e12, "exclude_hazards": (), "outgassing": False},
        "batch": AREA,
        "service": asked(**service),
    }
    scene |= {"coating": facts, "outer": facts}
    if under is None:
        scene["inner"] = facts
    else:
        scene |= {"over": facts, "under": KNOWLEDGE.entry(under).facts}
    found = set()
    for rule in KNOWLEDGE.rules:
        reads = {r for r in (*rule.about, *rule.roles()) if r in SLOT_ROLES}
        if rule.verdict != "block" or not reads or any(scene[r] is None for r in reads):
            continue
        finding = judge(rule, scene)
        if finding is not None and finding.closes:
            found.add(rule.id)
    return found


def allowed_families(**service: Any) -> set[str]:
    """Families with a member that no rule shuts out, but for the one that keeps barriers and covers off the grid."""
    return {c.family for c in COATINGS if not refused(c.id, **service) - {"first-coat-must-suit-a-live-grid"}}


@pytest.mark.parametrize("exposure", ["mineral-oil", "hydrocarbon-fuel"])
def test_no_silicone_butyl_or_wax_in_oil_and_fuel(exposure: str) -> None:
    """Common practice, no source: oil and fuel dissolve waxes and butyl and swell silicones."""
    families = allowed_families(exposures=(exposure,))
    assert not [f for f in families if f.startswith(("silicone", "butyl", "foil", "microcrystalline", "petrolatum"))]
    assert {"nitrile-lacquer", "polysulfide", "epoxy-encapsulant", "fluoropolymer-lacquer"} <= families


def test_phosphate_ester_takes_nitrile_acrylic_and_urethane_and_leaves_butyl() -> None:
    """Common practice, no source."""
    families = allowed_families(exposures=("phosphate-ester-fluid",))
    assert not families & {"nitrile-lacquer", "acrylic-lacquer", "polyurethane-lacquer"}
    assert "butyl-mastic" in families


def test_alkali_takes_polyimide_varnish() -> None:
    """Common practice, no source."""
    assert "alkali-ruins-coat" in refused("polyimide-varnish-polyamic-acid", exposures=("alkali",))
    assert not refused("epoxy-encapsulant-room-cure", exposures=("alkali",))


def test_fluoropolymers_suffer_in_radiation() -> None:
    """Common practice, no source."""
    families = allowed_families(exposures=("ionising-radiation",))
    assert {"polyimide-varnish", "epoxy-encapsulant"} <= families
    assert refused("fluoropolymer-lacquer-ptfe-dispersion", exposures=("ionising-radiation",))
    few = ({"is": "ionising-radiation", "dose_kgy": 5},)
    assert not refused("fluoropolymer-lacquer-ptfe-dispersion", exposures=few)
    assert refused("fluoropolymer-lacquer-ptfe-dispersion", exposures=({"is": "ionising-radiation", "dose_kgy": 6},))


def test_organics_do_not_belong_in_oxygen() -> None:
    """Common practice, no source: and even what is mineral is for an oxygen specialist to approve."""
    assert allowed_families(exposures=("oxygen-enriched",)) == {"ceramic-cement", "sprayed-ceramic"}


def test_in_liquid_nitrogen_only_thin_films_and_a_few_polymers() -> None:
    """From memory, to be confirmed: thin nitrile or urethane film, polyimide, parylene, sintered fluoropolymer."""
    cold: dict[str, Any] = {"exposures": ("cryogenic-liquid",), "low_c": -196.0, "duration_days": 7.0}
    for coat in ("nitrile-lacquer-thin-film", "polyurethane-lacquer-thin-film", "parylene-c-type"):
        assert not refused(coat, **cold), coat
    for coat in ("microcrystalline-wax-plain", "polyurethane-lacquer-air-drying", "silicone-neutral-cure-alkoxy-paste"):
        assert refused(coat, **cold), coat


def test_wax_petrolatum_and_mastic_stay_out_of_vacuum() -> None:
    """Common practice, no source."""
    families = allowed_families(exposures=("vacuum",))
    assert not families & {"microcrystalline-wax", "petrolatum", "butyl-mastic", "foil-faced-butyl"}
    assert {"parylene", "polyimide-varnish", "silicone-addition-cure"} <= families


def test_at_230_degc_only_silicone_polyimide_fluoropolymer_and_ceramic() -> None:
    """Common practice, no source; the figure is a class limit from memory."""
    allowed = allowed_families(high_c=230.0)
    assert "polyimide-varnish" in allowed
    assert "fluoropolymer-lacquer" in allowed
    assert allowed & {"silicone-neutral-cure", "silicone-addition-cure"}
    hot = ("silicone", "polyimide", "fluoropolymer", "ceramic", "sprayed", "glass")
    assert not [f for f in allowed if not f.startswith(hot)]


def test_at_650_degc_only_ceramic_cement() -> None:
    """Common practice, no source."""
    assert allowed_families(high_c=650.0) == {"ceramic-cement", "sprayed-ceramic"}


def test_no_acetic_acid_on_copper() -> None:
    """Common practice, no source."""
    acid = [c.id for c in COATINGS if c.family == "silicone-acetoxy"]
    for coat in acid:
        assert "acetic-acid-next-to-the-grid" in refused(coat)
        assert "coat-corrodes-part" in refused(coat, substrate="copper-c11000")


@pytest.mark.parametrize(
    "under", ["epoxy-encapsulant-room-cure", "polysulfide-two-part-paste", "silicone-acetoxy-paste"]
)
def test_amine_sulfur_and_tin_stop_addition_cure_silicone(under: str) -> None:
    """Common practice, no source."""
    assert "coat-below-stops-cure" in refused("silicone-addition-cure-room-temperature", under=under)
    assert "coat-below-stops-cure" not in refused("silicone-neutral-cure-alkoxy", under=under)


def test_little_sticks_to_silicone() -> None:
    """Common practice, no source."""
    assert "coat-does-not-hold-on-coat" in refused("butyl-mastic-tape", under="silicone-neutral-cure-alkoxy")
    assert not refused("butyl-mastic-tape", under="polyurethane-lacquer-air-drying")


def test_a_year_in_sea_water_ends_with_a_good_cover() -> None:
    """Common practice, no source: first coat, barrier, then a cover that sea water leaves alone."""
    year: dict[str, Any] = {"exposures": ("sea-water-immersion",), "duration_days": 365.0}
    assert refused("foil-faced-butyl-aluminium", under="polyurethane-lacquer-air-drying", **year)
    assert not refused("polysulfide-epoxy-cured-polythioether", under="butyl-mastic-tape", **year)
    assert not refused("foil-faced-butyl-stainless", under="polyurethane-lacquer-air-drying", **year)


def test_air_drying_polyurethane_is_dry_in_minutes_and_cured_in_a_day() -> None:
    """Common practice, no source: solvent largely gone in 15 to 20 min, full cure in 24 h at room temperature."""
    facts = KNOWLEDGE.entry("polyurethane-lacquer-air-drying").facts
    assert facts["ranges"]["touch_dry_min"] == (15, 20)
    assert facts["full_cure_min"] == 24 * 60
    assert facts["substances"] == ("xylene",)


def test_some_lacquer_is_cured_within_the_hour() -> None:
    """Common practice, no source: a fast acrylic for the board that must be ready in two hours."""
    fast = [c.id for c in COATINGS if c.family == "acrylic-lacquer" and c.facts["full_cure_min"] <= 60]
    assert fast
    assert not any(refused(coat) for coat in fast)


def test_waxes_are_vapour_barriers_and_lacquers_are_not() -> None:
    """Common practice, no source."""
    for coat in COATINGS:
        if coat.family == "microcrystalline-wax":
            assert coat.facts["water_vapour"] == "barrier"
        if coat.family.endswith("lacquer"):
            assert coat.facts["water_vapour"] != "barrier"


def test_outgassing_limits_pass_at_the_limit() -> None:
    """By class of the published tests; small areas are let off (NASA-STD-6016B, MPR 95 and 96)."""
    rule = KNOWLEDGE.rules_by_id["outgassing-screen-of-coats"]
    asked_for: dict[str, Any] = {"limits": {"outgassing": True}, "batch": {"coated_cm2": 13.0}}
    for coat, closes in (
        ("parylene-c-type", False),
        ("epoxy-encapsulant-heat-cure", False),
        ("acrylic-lacquer-fast", True),
    ):
        finding = judge(rule, {**asked_for, "coating": KNOWLEDGE.entry(coat).facts})
        assert (finding is not None and finding.closes) == closes, coat
    small = {**asked_for, "batch": {"coated_cm2": 12.9}, "coating": KNOWLEDGE.entry("acrylic-lacquer-fast").facts}
    assert judge(rule, small) is None
