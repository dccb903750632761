"""Laws that every coating of the catalog obeys, whatever its values: chemistry, time, heat and order of layers."""

import re
from pathlib import Path

import pytest

from kb.base.vocabulary import EXPOSURES, FAMILIES
from kb.knowledge.catalog import Coating, Substance
from kb.knowledge.catalog.files import load_items

CATALOG = Path(__file__).parents[2] / "generic_catalog"
ITEMS = {item.id: item for _, item, _ in load_items(CATALOG)}
COATINGS = [item for item in ITEMS.values() if isinstance(item, Coating)]
SILICONES = {"silicone-neutral-cure", "silicone-acetoxy", "silicone-addition-cure"}
OILY = {"microcrystalline-wax", "petrolatum", "butyl-mastic", "foil-faced-butyl"}
WET = {"condensing", "fresh-water-immersion", "sea-water-immersion"}

every = pytest.mark.parametrize("coating", COATINGS, ids=lambda c: c.id)


def folded(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.lower())


def test_every_family_of_the_vocabulary_has_a_member() -> None:
    assert {c.family for c in COATINGS} == set(FAMILIES["coating"])
    assert len(COATINGS) >= 46


def test_no_name_points_to_two_coatings() -> None:
    owner: dict[str, str] = {}
    for coating in COATINGS:
        for name in (coating.id, coating.name, *coating.aliases):
            assert owner.setdefault(folded(name), coating.id) == coating.id, name


@every
def test_it_is_rated_for_every_exposure(coating: Coating) -> None:
    assert set(coating.resists) == set(EXPOSURES)
    assert coating.resists["dry-air"] == "good"


@every
def test_it_can_be_found_and_used(coating: Coating) -> None:
    assert coating.aliases
    assert coating.summary
    for field in ("applied_as", "shelf_life_months", "storage_c", "opened_life_days", "pack_g", "removable",
                  "sticks_over", "short_max_c", "short_min_c", "modulus_gpa"):  # fmt: skip
        assert getattr(coating, field) is not None, field
    assert coating.opened_life_days is not None
    assert coating.shelf_life_months is not None
    assert coating.opened_life_days <= coating.shelf_life_months * 31
    assert coating.minutes > 0


@every
def test_temperatures_are_ordered(coating: Coating) -> None:
    assert coating.short_min_c is not None
    assert coating.short_max_c is not None
    assert coating.short_min_c <= coating.min_c < coating.max_c <= coating.short_max_c
    assert coating.storage_c is not None
    assert coating.storage_c[0] < coating.storage_c[1]


@every
def test_the_field_holds_the_cautious_end_of_its_range(coating: Coating) -> None:
    lower_is_cautious = {"max_c", "short_max_c", "elongation_pct", "pot_life_min"}
    higher_is_cautious = {"min_c", "touch_dry_min", "full_cure_min"}
    for name, (low, high) in coating.ranges.items():
        if name in lower_is_cautious:
            assert getattr(coating, name) == low, name
        if name in higher_is_cautious:
            assert getattr(coating, name) == high, name


@every
def test_it_is_touch_dry_before_it_is_cured(coating: Coating) -> None:
    assert coating.touch_dry_min <= coating.full_cure_min


@every
def test_a_coat_on_a_live_grid_insulates_and_corrodes_no_copper(coating: Coating) -> None:
    if "inner" in coating.layers:
        assert coating.insulates
        assert "copper" not in coating.corrosive_to
        assert "acetic-acid" not in coating.by_products


@every
def test_a_barrier_stops_vapour_and_only_a_barrier_does(coating: Coating) -> None:
    assert ("barrier" in coating.layers) == (coating.water_vapour == "barrier")


@every
def test_a_cover_takes_a_touch(coating: Coating) -> None:
    if "cover" in coating.layers:
        assert coating.mechanical != "none"
    if coating.mechanical == "none":
        assert coating.resists["mechanical-wear"] == "poor"


@every
def test_what_evaporates_is_in_the_catalog(coating: Coating) -> None:
    assert sum(share.share_pct for share in coating.composition) <= 100
    for share in coating.composition:
        assert isinstance(ITEMS.get(share.substance), Substance), share.substance


@every
def test_solvent_is_told_of_in_every_place(coating: Coating) -> None:
    volatile = [ITEMS[s.substance] for s in coating.composition]
    solvents = [v for v in volatile if isinstance(v, Substance) and v.family == "solvent" and v.id != "water"]
    if coating.contains_solvent:
        assert solvents
        flammable = any(v.flash_point_c is not None and v.flash_point_c < 60 for v in solvents)
        assert flammable == ("flammable" in coating.hazards)
    if coating.solvent_strength == "strong":
        assert coating.contains_solvent


@every
def test_two_parts_have_a_ratio_and_a_pot_life(coating: Coating) -> None:
    assert (coating.parts == 2) == (coating.mix_ratio is not None) == (coating.pot_life_min is not None)


@every
def test_what_is_poured_molten_serves_well_below_its_melting_point(coating: Coating) -> None:
    if coating.applied_as == "melt":
        assert coating.melts_at_c is not None
        assert coating.max_c < coating.melts_at_c - 5
    else:
        assert coating.melts_at_c is None


@every
def test_hazards_follow_from_the_chemistry(coating: Coating) -> None:
    ids = {share.substance for share in coating.composition}
    if ids & {"n-methyl-2-pyrrolidone", "toluene"}:
        assert "reproductive-toxicant" in coating.hazards
    if "butanone-oxime" in ids:
        assert "carcinogen" in coating.hazards
    if coating.applied_as == "melt":
        assert "hot-work" in coating.hazards
    if "amine" in coating.gives_off:
        assert "sensitiser" in coating.hazards
    if "isocyanate" in coating.hazards:
        assert "sensitiser" in coating.hazards
        assert coating.family == "polyurethane-lacquer"


@every
def test_chemistry_of_the_family(coating: Coating) -> None:
    resists = coating.resists
    if coating.family in SILICONES | OILY:
        assert resists["mineral-oil"] == resists["hydrocarbon-fuel"] == "poor"
    if coating.family in {"acrylic-lacquer", "polyurethane-lacquer", "nitrile-lacquer", "polysulfide"}:
        assert resists["phosphate-ester-fluid"] == "poor"
    if coating.family == "polyimide-varnish":
        assert resists["alkali"] == "poor"
    if coating.family in {"fluoropolymer-lacquer", "butyl-mastic", "foil-faced-butyl"}:
        assert resists["ionising-radiation"] == "poor"
    if coating.family in OILY:
        assert resists["vacuum"] == resists["cryogenic-liquid"] == "poor"
    assert (resists["oxygen-enriched"] == "poor") == coating.organic
    assert coating.organic == (coating.family != "ceramic-cement")
    if coating.family == "silicone-acetoxy":
        assert {"copper", "copper-alloy"} <= set(coating.corrosive_to)
    if coating.family == "silicone-addition-cure":
        assert {"amine", "sulfur", "tin"} <= set(coating.inhibited_by)
    if coating.family == "foil-faced-butyl":
        assert not coating.insulates


@every
def test_nothing_but_silicone_holds_on_silicone_and_little_on_grease(coating: Coating) -> None:
    assert coating.sticks_over is not None
    known = set(coating.sticks_over)
    assert known <= set(FAMILIES["coating"])
    if coating.family not in SILICONES | {"microcrystalline-wax", "petrolatum"}:
        assert not known & SILICONES
    if coating.family != "petrolatum":
        assert "petrolatum" not in known


@every
def test_an_open_coat_is_no_answer_to_months_of_water(coating: Coating) -> None:
    if coating.water_vapour == "open" and coating.family not in SILICONES:
        assert "good" not in {coating.resists[x] for x in WET}


@every
def test_outgassing_fits_the_vacuum_rating(coating: Coating) -> None:
    tml, cvcm = coating.outgassing_tml_pct, coating.outgassing_cvcm_pct
    assert (tml is None) == (cvcm is None)
    if tml is not None and cvcm is not None:
        assert cvcm <= tml
        assert (tml <= 1.0 and cvcm <= 0.1) == (coating.resists["vacuum"] != "poor")
