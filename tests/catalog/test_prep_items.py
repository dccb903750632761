"""Laws that the liquids, abrasives, treatments, aids and substances obey, whatever their values."""

import tomllib
from itertools import pairwise
from pathlib import Path

import pytest

from kb.base.vocabulary import FAMILIES
from kb.knowledge.catalog import Abrasive, Aid, Conditioner, Degreaser, Item, Neutraliser, Substance, Treatment
from kb.knowledge.catalog.files import load_items, load_sources
from kb.knowledge.catalog.surface import Liquid

CATALOG = Path(__file__).parents[2] / "generic_catalog"
PREP = (Degreaser, Abrasive, Conditioner, Neutraliser, Treatment, Aid, Substance)
ITEMS = [item for _, item, _ in load_items(CATALOG) if isinstance(item, PREP)]
BY_ID = {item.id: item for item in ITEMS}
SOURCES = load_sources(CATALOG / "sources.toml")
LIQUIDS = [item for item in ITEMS if isinstance(item, Liquid)]
DEGREASERS = [item for item in ITEMS if isinstance(item, Degreaser)]
ABRASIVES = [item for item in ITEMS if isinstance(item, Abrasive)]
TREATMENTS = [item for item in ITEMS if isinstance(item, Treatment)]
SUBSTANCES = {item.id: item for item in ITEMS if isinstance(item, Substance)}
#: The harmonised entry is category 3, although the flash point of 22 degC computes to category 2.
HARMONISED_OTHERWISE = {"n-butyl-acetate"}
#: What burns in a class of its own, which takes the place of "flammable liquid".
OTHER_FIRE_CLASS = {"cumene-hydroperoxide"}
#: Solid at room temperature: it sublimes below what Trouton's rule gives for a liquid.
SOLIDS = {"naphthalene"}
#: UN GHS chapter 2.6, as CLP has it: no category above 60 degC.
FLAMMABLE_LIQUID = {"H224", "H225", "H226"}


def ids(item: Item) -> str:
    return item.id


every_substance = pytest.mark.parametrize("substance", SUBSTANCES.values(), ids=ids)
every_liquid = pytest.mark.parametrize("liquid", LIQUIDS, ids=ids)
every_degreaser = pytest.mark.parametrize("degreaser", DEGREASERS, ids=ids)
every_abrasive = pytest.mark.parametrize("abrasive", ABRASIVES, ids=ids)
every_treatment = pytest.mark.parametrize("treatment", TREATMENTS, ids=ids)


def ghs_class(flash_c: float | None, boils_c: float | None) -> set[str]:
    """The flammable-liquid statement that flash point and boiling point [degC] ask for; empty above 60 degC."""
    if flash_c is None or flash_c > 60:
        return set()
    if flash_c >= 23:
        return {"H226"}
    return {"H224"} if boils_c is not None and boils_c <= 35 else {"H225"}


@pytest.mark.parametrize(
    ("flash", "boils", "said"),
    [(22.9, 35.0, "H224"), (22.9, 35.1, "H225"), (23.0, 100.0, "H226"), (60.0, 150.0, "H226"), (60.1, 150.0, "")],
)
def test_the_limits_of_the_flammable_classes(flash: float, boils: float, said: str) -> None:
    assert ghs_class(flash, boils) == ({said} if said else set())


@pytest.mark.parametrize(
    ("kind", "least"),
    [("degreaser", 20), ("conditioner", 6), ("neutraliser", 6), ("abrasive", 26), ("treatment", 14), ("aid", 26),
     ("substance", 42)],
)  # fmt: skip
def test_every_family_has_a_member(kind: str, least: int) -> None:
    members = [item for item in ITEMS if type(item).__name__.lower() == kind]
    assert {item.family for item in members} == set(FAMILIES[kind])
    assert len(members) >= least


@pytest.mark.parametrize("kind", [cls.__name__ for cls in PREP])
def test_no_name_points_to_two_items_of_a_kind(kind: str) -> None:
    owner: dict[str, str] = {}
    for item in ITEMS:
        if type(item).__name__ == kind:
            for name in (item.id, item.name, *item.aliases):
                assert owner.setdefault(name.lower(), item.id) == item.id, name


@pytest.mark.parametrize("item", ITEMS, ids=ids)
def test_each_item_helps_and_cites_what_exists(item: Item) -> None:
    assert item.summary.endswith(".")
    for basis in item.field_basis:
        assert basis.source is None or basis.source in SOURCES
        for name in basis.fields:
            assert getattr(item, name) is not None, f"{name} has a basis and no value"


@pytest.mark.parametrize("item", [i for i in ITEMS if getattr(i, "composition", ())], ids=ids)
def test_mixtures_are_of_known_substances(item: Liquid | Treatment) -> None:
    names = [share.substance for share in item.composition]
    assert set(names) <= set(SUBSTANCES)
    assert len(set(names)) == len(names)
    assert 0 < sum(share.share_pct for share in item.composition) <= 100


@pytest.mark.parametrize("item", [i for i in ITEMS if getattr(i, "composition", ())], ids=ids)
def test_a_mixture_has_the_lasting_hazards_of_what_it_is_made_of(item: Liquid | Treatment) -> None:
    """From a tenth of its mass. Fire, acid and irritation depend on the mixture and are said by the item itself."""
    lasting = {"carcinogen", "reproductive-toxicant", "chlorinated", "toxic", "sensitiser", "aquatic-toxicant"}
    for share in item.composition:
        if share.share_pct >= 10:
            assert lasting & set(SUBSTANCES[share.substance].hazards) <= set(item.hazards), share.substance


@every_liquid
def test_liquids_are_made_up_whole(liquid: Liquid) -> None:
    total = sum(share.share_pct for share in liquid.composition)
    assert total >= 95, "what is left may be stabiliser or perfume, no more"
    water = sum(share.share_pct for share in liquid.composition if share.substance == "water")
    assert liquid.water_based == (water >= 30)
    assert liquid.needs_rinse is not None
    assert liquid.residue is not None


@every_liquid
def test_what_is_acid_or_alkaline_says_so(liquid: Liquid) -> None:
    if liquid.ph is not None:
        assert liquid.water_based, "pH is of watery liquids"
        assert ("acid" in liquid.hazards) == (liquid.ph < 6)
        assert ("alkaline" in liquid.hazards) == (liquid.ph > 9)
    if isinstance(liquid, Conditioner):
        assert liquid.ph is not None
        assert liquid.acid == (liquid.ph < 7)
        assert liquid.acid == liquid.family.startswith("mild-")
    if isinstance(liquid, Neutraliser):
        assert liquid.ammonia == any(share.substance == "ammonia" for share in liquid.composition)


@every_degreaser
def test_flammable_means_a_flash_point_up_to_60(degreaser: Degreaser) -> None:
    assert degreaser.flammable == (degreaser.flash_point_c is not None and degreaser.flash_point_c <= 60)
    assert degreaser.flammable == ("flammable" in degreaser.hazards)


@every_degreaser
def test_a_degreaser_flashes_no_higher_than_its_solvents_allow(degreaser: Degreaser) -> None:
    """A mixture is hardly safer than its main solvent; water, and vapours that don't burn, raise its flash point."""
    main = max(degreaser.composition, key=lambda share: share.share_pct)
    flash = SUBSTANCES[main.substance].flash_point_c
    if flash is not None and flash <= 60 and main.share_pct >= 80:
        assert degreaser.flash_point_c is not None
        assert degreaser.flash_point_c <= flash + 3


@every_degreaser
def test_a_solvent_of_one_substance_has_its_parameters(degreaser: Degreaser) -> None:
    main = max(degreaser.composition, key=lambda share: share.share_pct)
    pure = SUBSTANCES[main.substance].hansen
    if main.share_pct >= 96 and degreaser.hansen is not None and pure is not None:
        assert (degreaser.hansen.d, degreaser.hansen.p, degreaser.hansen.h) == (pure.d, pure.p, pure.h)


@every_degreaser
def test_family_of_a_degreaser_is_that_of_a_solvent_in_it(degreaser: Degreaser) -> None:
    families = {SUBSTANCES[share.substance].solvent_family for share in degreaser.composition}
    assert degreaser.family in families or degreaser.family == "aqueous-detergent"
    assert ("chlorinated" in degreaser.hazards) == ("chlorinated" in families)


@every_degreaser
def test_evaporation_goes_with_vapour_pressure_and_drying(degreaser: Degreaser) -> None:
    main = max(degreaser.composition, key=lambda share: share.share_pct)
    pressure = SUBSTANCES[main.substance].vapour_pressure_kpa
    assert degreaser.dry_min is not None
    if degreaser.water_based or pressure is None:
        return
    if degreaser.evaporation == "fast":
        assert pressure >= 4
        assert degreaser.dry_min <= 2
    if degreaser.evaporation == "slow":
        assert pressure <= 2
        assert degreaser.dry_min >= 10


@every_substance
def test_flammability_statement_agrees_with_flash_and_boiling_point(substance: Substance) -> None:
    if substance.id in HARMONISED_OTHERWISE | OTHER_FIRE_CLASS:
        return
    said = set(substance.hazard_statements) & FLAMMABLE_LIQUID
    assert said == ghs_class(substance.flash_point_c, substance.boiling_point_c)


def test_exceptions_are_still_needed() -> None:
    """An exception that no longer fails the law is itself a mistake."""
    for name in HARMONISED_OTHERWISE | OTHER_FIRE_CLASS:
        item = SUBSTANCES[name]
        said = set(item.hazard_statements) & FLAMMABLE_LIQUID
        assert said != ghs_class(item.flash_point_c, item.boiling_point_c), name


@every_substance
def test_hazards_agree_with_hazard_statements(substance: Substance) -> None:
    said = {code[:4] for code in substance.hazard_statements}
    assert ("carcinogen" in substance.hazards) == bool(said & {"H350", "H351"})
    assert ("reproductive-toxicant" in substance.hazards) == bool(said & {"H360", "H361"})
    assert not said & {"H317", "H334"} or "sensitiser" in substance.hazards
    assert not said & {"H300", "H310", "H330", "H301", "H311", "H331"} or "toxic" in substance.hazards
    assert not said & {"H314"} or "corrosive" in substance.hazards
    assert not said & {"H315", "H318", "H319", "H335"} or {"irritant", "corrosive"} & set(substance.hazards)
    assert not said & {"H336"} or "narcotic" in substance.hazards
    assert not said & {"H400", "H410", "H411"} or "aquatic-toxicant" in substance.hazards
    assert len(set(substance.hazard_statements)) == len(substance.hazard_statements)


@every_substance
def test_registry_number_has_its_check_digit(substance: Substance) -> None:
    if substance.cas is None:
        return
    *digits, check = (int(c) for c in substance.cas if c != "-")
    assert sum(place * digit for place, digit in enumerate(reversed(digits), start=1)) % 10 == check


@every_substance
def test_physical_constants_lie_in_bounds(substance: Substance) -> None:
    assert substance.molar_mass_g_mol is not None
    assert 2 < substance.molar_mass_g_mol < 500
    assert substance.density_g_ml is None or 0.5 < substance.density_g_ml < 3
    assert substance.lel_pct is None or 0.3 <= substance.lel_pct <= 16
    volatile = substance.vapour_pressure_kpa, substance.boiling_point_c
    if None not in volatile and substance.family == "solvent" and substance.id not in SOLIDS:
        pressure, boils = volatile
        assert pressure is not None
        assert boils is not None
        assert pressure < 101.325 or boils < 20
        # Trouton's rule brings most liquids within a factor of five of this, and glycol ethers within eight.
        estimate = 101.325 * 2.718281828 ** (-10.6 * (boils + 273.15) / 293.15 + 10.6)
        assert estimate / 8 < pressure < estimate * 8


@every_substance
def test_nothing_burns_below_its_explosive_limit_at_its_flash_point(substance: Substance) -> None:
    """A solvent whose flash point lies below 20 degC saturates air above its explosive limit at 20 degC.

    Published flash points differ by several degrees and the lowest is taken: hence the margin.
    """
    if substance.family != "solvent" or substance.flash_point_c is None or substance.flash_point_c > 20:
        return
    assert substance.lel_pct is not None
    assert substance.vapour_pressure_kpa is not None
    assert substance.vapour_pressure_kpa / 101.325 * 100 > 0.85 * substance.lel_pct


@every_substance
def test_limits_are_plausible_and_dated(substance: Substance) -> None:
    for limit in substance.limits:
        assert limit.source in SOURCES
        assert limit.as_of[:4].isdigit() or limit.as_of.startswith("undated copy")
        if limit.ppm is not None and limit.mg_m3 is not None:
            assert substance.molar_mass_g_mol is not None
            # 24.45 L/mol at 25 degC, 24.06 at 20 degC; old lists round by up to a quarter.
            factor = limit.mg_m3 * 24.25 / substance.molar_mass_g_mol / limit.ppm
            assert 0.75 < factor < 1.25, limit
    by_list: dict[tuple[str, str], float] = {}
    for limit in substance.limits:
        value = limit.mg_m3 if limit.mg_m3 is not None else limit.ppm
        assert value is not None
        assert by_list.setdefault((limit.list, limit.kind), value) == value, "one row for each list and kind"


@every_substance
def test_a_short_term_limit_is_not_below_the_day_limit(substance: Substance) -> None:
    for one, other in ((a, b) for a in substance.limits for b in substance.limits):
        if (one.list, one.kind, other.kind) == (other.list, "twa-8h", "stel-15min") and one.ppm and other.ppm:
            assert other.ppm >= one.ppm


@every_abrasive
def test_mean_grain_agrees_with_the_table_of_its_scale(abrasive: Abrasive) -> None:
    if abrasive.scale == "none":
        return
    with (CATALOG / "grit_scales.toml").open("rb") as file:
        scales = {scale["id"]: scale for scale in tomllib.load(file)["scales"]}
    table = {k: v for part in scales[abrasive.scale]["tables"] for k, v in part["mean_um"].items()}
    assert abrasive.mean_um == pytest.approx(table[abrasive.grade.lstrip("PF")])


def test_400_is_three_sizes() -> None:
    """The trap of the trade: the same number on three scales."""
    sizes = [BY_ID[f"silicon-carbide-{name}"] for name in ("cami-400", "jis-400", "p400")]
    means = [item.mean_um for item in sizes if isinstance(item, Abrasive)]
    assert means == sorted(m for m in means if m is not None)
    assert all(b / a > 1.1 for a, b in pairwise(m for m in means if m is not None))


@every_abrasive
def test_abrasives_can_be_used_and_named(abrasive: Abrasive) -> None:
    assert abrasive.use_dry or abrasive.use_wet
    assert abrasive.embeds is not None
    assert abrasive.mean_um is not None
    assert abrasive.dust or not abrasive.use_dry or abrasive.mineral == "none"
    assert abrasive.form != "blast" or not abrasive.use_wet
    assert not abrasive.ferrous or abrasive.mineral == "none"


@every_treatment
def test_treatments_do_something_for_someone(treatment: Treatment) -> None:
    assert set(treatment.treats) <= set(FAMILIES["substrate"])
    assert set(treatment.serves) <= set(FAMILIES["adhesive"])
    if treatment.of == "part":
        assert treatment.treats
        assert treatment.activates + treatment.fills + treatment.couples == 1
    else:
        assert treatment.serves
        assert not treatment.activates
    assert treatment.lasts_h is not None or treatment.fills, "what activates or couples fades"
    assert treatment.open_flame == (treatment.family == "flame")
    assert treatment.electrostatic == (treatment.family in ("plasma", "corona"))


@pytest.mark.parametrize("family", ["polyethylene", "polypropylene", "acetal", "fluoropolymer", "silicone-rubber"])
def test_low_energy_families_have_two_ways_of_activation(family: str) -> None:
    ways = {t.family for t in TREATMENTS if t.activates and family in t.treats}
    assert len(ways) >= 2
