"""Laws that every substrate of the catalog obeys, whatever its values: physics, chemistry and unambiguous names."""

import re
from pathlib import Path

import pytest

from kb.base.vocabulary import FAMILIES
from kb.knowledge.catalog import Substrate
from kb.knowledge.catalog.files import load_items

CATALOG = Path(__file__).parents[2] / "generic_catalog"
SUBSTRATES = [item for _, item, _ in load_items(CATALOG) if isinstance(item, Substrate)]
BY_ID = {s.id: s for s in SUBSTRATES}
METAL_FAMILIES = {f for f in FAMILIES["substrate"] if f.endswith(("-steel", "-alloy", "-iron"))} | {
    "copper", "bearing-bronze", "refractory-metal", "cemented-carbide", "precious-metal",
}  # fmt: skip
#: Those that a polyolefin primer, flame, plasma or an etch is made for: an ordinary adhesive doesn't wet them.
LOW_ENERGY_FAMILIES = {"polyethylene", "polypropylene", "silicone-rubber"}
CARBONATES = {"marble", "limestone", "concrete", "mortar", "concrete-high-strength"}
AMORPHOUS_SOLUBLE = {"polycarbonate", "acrylic", "polystyrene", "abs", "polysulfone", "polyetherimide"}

every = pytest.mark.parametrize("substrate", SUBSTRATES, ids=lambda s: s.id)


def folded(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.lower())


def test_every_family_of_the_vocabulary_has_a_member() -> None:
    assert {s.family for s in SUBSTRATES} == set(FAMILIES["substrate"])
    assert len(SUBSTRATES) >= 260


def test_no_name_points_to_two_substrates() -> None:
    owner: dict[str, str] = {}
    for substrate in SUBSTRATES:
        for name in (substrate.id, substrate.name, *substrate.aliases):
            assert owner.setdefault(folded(name), substrate.id) == substrate.id, name


@every
def test_names_are_typeable_and_not_repeated(substrate: Substrate) -> None:
    assert len(substrate.aliases) >= 3
    assert len(set(substrate.aliases)) == len(substrate.aliases)
    for alias in substrate.aliases:
        assert alias == alias.strip(), alias
        assert re.search(r"[A-Za-z0-9]", alias), alias


@pytest.mark.parametrize(
    "word",
    ["steel", "stainless", "aluminium", "nylon", "plastic", "rubber", "ceramic", "wood", "stone", "foam", "composite"],
)
def test_a_word_for_a_whole_class_is_no_alias_of_one_member(word: str) -> None:
    assert word not in {alias.lower() for s in SUBSTRATES for alias in s.aliases}


@every
def test_constants_lie_in_physical_bounds(substrate: Substrate) -> None:
    assert substrate.modulus_gpa is not None
    assert 1e-5 <= substrate.modulus_gpa <= 700
    assert substrate.cte_ppm_per_c is not None
    assert -5 <= substrate.cte_ppm_per_c <= 350
    assert substrate.poisson is None or 0 < substrate.poisson < 0.5
    assert substrate.density_g_cm3 is not None
    assert 0.01 <= substrate.density_g_cm3 <= 22
    assert substrate.thermal_conductivity_w_mk is not None
    assert 0.02 <= substrate.thermal_conductivity_w_mk <= 450
    assert substrate.max_temperature_c is not None
    melts_in_a_room = substrate.melts_at_c is not None and substrate.melts_at_c < 20
    assert melts_in_a_room or 30 <= substrate.max_temperature_c <= 1000


@every
def test_soft_things_expand_more(substrate: Substrate) -> None:
    # E times CTE is near constant from rubber to carbide; a slip of ten in either leaves the band.
    assert substrate.modulus_gpa is not None
    assert substrate.cte_ppm_per_c is not None
    if substrate.modulus_gpa < 0.05 and not substrate.porous:
        assert substrate.cte_ppm_per_c >= 100
    if substrate.modulus_gpa > 90:
        assert substrate.cte_ppm_per_c <= 21.5


@every
def test_the_cautious_end_of_the_heat_that_it_stands_is_the_low_one(substrate: Substrate) -> None:
    low, _ = substrate.ranges.get("max_temperature_c", (substrate.max_temperature_c or 0, 0))
    # A narrower low end is possible only where long exposure counts, not hours of cure.
    assert substrate.max_temperature_c is not None
    assert low >= substrate.max_temperature_c - 0.2 * abs(substrate.max_temperature_c)


@every
def test_an_amorphous_polymer_is_not_cured_above_its_glass_transition(substrate: Substrate) -> None:
    if substrate.polymer_structure == "amorphous" and substrate.glass_transition_c is not None:
        assert substrate.max_temperature_c is not None
        assert substrate.max_temperature_c < substrate.glass_transition_c


@every
def test_metals_conduct_and_are_not_organic(substrate: Substrate) -> None:
    if substrate.family in METAL_FAMILIES:
        assert substrate.metallic
        assert substrate.conductive
        assert not substrate.organic
        assert substrate.polymer_structure == "not-a-polymer"
        assert substrate.hansen is None
        assert substrate.crazed_by is None
        assert substrate.swollen_by is None
    assert not (substrate.metallic and substrate.organic)


@every
def test_every_organic_one_says_which_solvents_harm_it(substrate: Substrate) -> None:
    if substrate.organic:
        assert substrate.crazed_by is not None
        assert substrate.swollen_by is not None
    if substrate.family in AMORPHOUS_SOLUBLE:
        assert {"ketone", "chlorinated"} <= set(substrate.crazed_by or ())
    assert not set(substrate.crazed_by or ()) & set(substrate.stress_crazed_by or ()), "a block covers the caution"


@every
def test_polymers_say_how_they_wet(substrate: Substrate) -> None:
    if substrate.polymer_structure == "not-a-polymer" or "foam" in substrate.id:
        return
    assert substrate.surface_tension_mn_m is not None
    low_energy = substrate.family in LOW_ENERGY_FAMILIES or substrate.family == "fluoropolymer"
    assert (substrate.surface_tension_mn_m < 35) >= low_energy
    if substrate.family == "fluoropolymer":
        assert substrate.surface_tension_mn_m <= 32


@every
def test_dusts_follow_from_what_it_is_made_of(substrate: Substrate) -> None:
    dust, family = set(substrate.dust_hazard), substrate.family
    expected = {
        "magnesium-alloy": "magnesium", "titanium-alloy": "titanium", "beryllium-alloy": "beryllium",
        "lead-alloy": "lead", "zinc-alloy": "zinc", "aluminium-alloy": "aluminium", "wood": "wood",
        "concrete": "silica", "bone": "biological", "carbon-composite": "carbon-fibre", "glass-composite": "fibre",
        "aramid-composite": "fibre", "cemented-carbide": "cobalt", "nickel-alloy": "nickel", "copper-alloy": "copper",
    }  # fmt: skip
    assert family not in expected or expected[family] in dust
    if substrate.fibre in ("glass", "aramid"):
        assert "fibre" in dust
    if family in ("magnesium-alloy", "titanium-alloy"):
        assert substrate.reactive_fines
        assert substrate.chlorinated_sensitive


@pytest.mark.parametrize("substrate_id", sorted(CARBONATES))
def test_carbonates_and_cement_are_acid_sensitive_porous_and_need_no_flood(substrate_id: str) -> None:
    substrate = BY_ID[substrate_id]
    assert substrate.acid_sensitive
    assert substrate.porous


@every
def test_ammonia_cracks_only_copper_alloys(substrate: Substrate) -> None:
    copper_bearing = {"copper-alloy", "bearing-bronze", "beryllium-alloy"}
    assert not substrate.ammonia_sensitive or substrate.family in copper_bearing
    if substrate.id.startswith("brass"):
        assert substrate.ammonia_sensitive


@every
def test_what_wets_and_what_porosity_mean(substrate: Substrate) -> None:
    assert substrate.porous is not None
    assert substrate.finish is not None
    assert substrate.hardness is not None
    if substrate.family in ("concrete", "stone", "plaster", "wood", "polymer-foam", "paper-board"):
        assert substrate.porous
    if substrate.family in ("glass", "silicon", "zirconia-ceramic", "alumina-ceramic"):
        assert substrate.brittle
        assert not substrate.porous


@every
def test_boards_carry_parts_and_layers_are_layers(substrate: Substrate) -> None:
    boards = ("pcb-laminate", "solder-mask", "conformally-coated-board", "mould-compound", "board-finish")
    if substrate.family in boards:
        assert substrate.carries_parts != substrate.id.endswith("-bare")
    layered = {
        "painted-surface", "plated-surface", "anodised-aluminium", "solder-mask", "conformally-coated-board",
        "conversion-coated", "board-finish", "vitreous-enamel", "thermal-spray-coating",
    }  # fmt: skip
    assert substrate.thin_layer or substrate.family not in layered
    if substrate.thin_layer:
        assert substrate.layer != "none"
        assert substrate.layer_um is not None


@every
def test_what_lies_below_a_layer_and_what_it_looks_like_are_there(substrate: Substrate) -> None:
    assert substrate.base is None or (substrate.base in BY_ID and BY_ID[substrate.base].id != substrate.id)
    for other in substrate.looks_like:
        assert other in BY_ID
        assert other != substrate.id
    assert (substrate.layer_um is None) == (substrate.layer == "none")


@every
def test_each_says_what_water_does(substrate: Substrate) -> None:
    assert substrate.water_harms is not None
    if substrate.water_sensitive:
        assert substrate.water_harms
    if substrate.family in ("carbon-steel", "cast-iron"):
        assert "rusts" in substrate.water_harms


@every
def test_the_limits_of_heat_are_in_order(substrate: Substrate) -> None:
    """Nothing serves where it melts, and a glassy plastic carries no load above its glass transition."""
    for low, high in (
        (substrate.max_temperature_c, substrate.melts_at_c),
        (substrate.max_continuous_c, substrate.melts_at_c),
        (substrate.max_loaded_c, substrate.melts_at_c),
        (substrate.glass_transition_wet_c, substrate.glass_transition_c),
    ):
        assert low is None or high is None or low < high
    if substrate.polymer_structure == "amorphous" and substrate.glass_transition_c is not None:
        assert (substrate.max_loaded_c or -300) < substrate.glass_transition_c
    if substrate.family in METAL_FAMILIES:
        assert substrate.melts_at_c is not None
        assert substrate.corrodes_in is not None
        assert substrate.hydrogen_sensitive is not None
    if substrate.polymer_structure in ("amorphous", "semicrystalline", "thermoset"):
        assert substrate.max_continuous_c is not None
        assert substrate.decomposes_at_c is not None


@every
def test_poison_asbestos_and_cells_are_never_abraded_as_usual(substrate: Substrate) -> None:
    if substrate.radioactive or "asbestos" in substrate.dust_hazard or substrate.stored_energy == "electrochemical":
        assert substrate.abrading in ("never", "light")
        assert substrate.hazards
    if substrate.family in ("battery-cell", "asbestos-product"):
        assert substrate.abrading == "never"


@every
def test_each_has_a_sentence_for_the_technician(substrate: Substrate) -> None:
    assert len(substrate.summary) >= 15
    assert substrate.summary.rstrip().endswith((".", "!"))
