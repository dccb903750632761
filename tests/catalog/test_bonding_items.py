"""Laws that every adhesive and backing obeys: time against heat, order of limits, who bonds whom."""

import re
from itertools import permutations
from pathlib import Path

import pytest

from kb.base.vocabulary import EXPOSURES, FAMILIES
from kb.knowledge.catalog import Adhesive, Backing
from kb.knowledge.catalog.files import load_items

CATALOG = Path(__file__).parents[2] / "generic_catalog"
ITEMS = {item.id: item for _, item, _ in load_items(CATALOG)}
ADHESIVES = [item for item in ITEMS.values() if isinstance(item, Adhesive)]
BACKINGS = [item for item in ITEMS.values() if isinstance(item, Backing)]

each_adhesive = pytest.mark.parametrize("adhesive", ADHESIVES, ids=lambda a: a.id)
each_backing = pytest.mark.parametrize("backing", BACKINGS, ids=lambda b: b.id)
each = pytest.mark.parametrize("item", [*ADHESIVES, *BACKINGS], ids=lambda i: i.id)
#: Boiling nitrogen at one atmosphere, degC.
LIQUID_NITROGEN_C = -195.8


def test_every_family_has_a_member() -> None:
    assert {a.family for a in ADHESIVES} == set(FAMILIES["adhesive"])
    assert {b.family for b in BACKINGS} == set(FAMILIES["backing"])
    assert len(ADHESIVES) >= 42
    assert len(BACKINGS) >= 12


def test_every_adhesive_family_is_bonded_by_some_backing() -> None:
    assert {family for b in BACKINGS for family in b.bonds_with} == set(FAMILIES["adhesive"])


@pytest.mark.parametrize("kind", ["adhesive", "backing"])
def test_no_name_points_to_two_items(kind: str) -> None:
    owner: dict[str, str] = {}
    for item in ITEMS.values():
        if item.kind == kind:
            for name in (item.id, item.name, *item.aliases):
                assert owner.setdefault(re.sub(r"[^a-z0-9]", "", name.lower()), item.id) == item.id, name


@each
def test_it_is_rated_for_every_exposure_and_can_be_found(item: Adhesive | Backing) -> None:
    assert set(item.resists) == set(EXPOSURES)
    assert item.resists["dry-air"] == "good"
    assert item.aliases
    assert item.summary


@each
def test_no_organic_is_good_in_oxygen(item: Adhesive | Backing) -> None:
    if item.organic:
        assert item.resists["oxygen-enriched"] == "poor"


@each_adhesive
def test_what_is_good_in_liquid_nitrogen_reaches_its_temperature(adhesive: Adhesive) -> None:
    reach = min(adhesive.min_c, adhesive.short_min_c if adhesive.short_min_c is not None else adhesive.min_c)
    if adhesive.resists["cryogenic-liquid"] == "good":
        assert reach <= LIQUID_NITROGEN_C


@each_adhesive
def test_a_hotter_schedule_is_not_longer_and_reaches_no_less(adhesive: Adhesive) -> None:
    for cool, hot in permutations(adhesive.schedules, 2):
        if hot.temperature_c > cool.temperature_c:
            assert hot.duration_min <= cool.duration_min
            assert hot.service_max_c >= cool.service_max_c


@each_adhesive
def test_schedules_are_ordered(adhesive: Adhesive) -> None:
    assert len({s.id for s in adhesive.schedules}) == len(adhesive.schedules)
    for s in adhesive.schedules:
        assert s.full_strength_min >= s.duration_min + s.then_min
        assert s.short_max_c is not None
        assert s.short_max_c >= s.service_max_c > adhesive.min_c
        assert (s.post_cure_c is None) == (s.post_cure_min == 0)
        assert s.post_cure_c is None or s.post_cure_c >= s.temperature_c
        assert (s.pressure_kpa is None) == (adhesive.clamping == "none")


@each_adhesive
def test_short_limits_contain_long_ones(adhesive: Adhesive) -> None:
    assert adhesive.short_min_c is None or adhesive.short_min_c <= adhesive.min_c
    if adhesive.elongation_pct is not None and adhesive.cold_elongation_pct is not None:
        assert adhesive.cold_elongation_pct <= adhesive.elongation_pct


@each_adhesive
def test_spans_run_upwards_and_a_mix_has_its_facts(adhesive: Adhesive) -> None:
    for span in (adhesive.humidity_window_pct, adhesive.part_window_c, adhesive.storage_c,
                 *(s.pressure_kpa for s in adhesive.schedules)):  # fmt: skip
        assert span is None or span[0] < span[1]
    assert adhesive.bond_line_um is not None
    assert adhesive.gap_fill_um is not None
    assert adhesive.gap_fill_um >= adhesive.bond_line_um
    if adhesive.parts == 2:
        assert adhesive.pot_life_min
        assert adhesive.pot_mass_g
        assert adhesive.mix_ratio
    if adhesive.amine_cured:
        assert "amine" in adhesive.hazards
    for share in adhesive.composition:
        assert share.substance in ITEMS


@each_backing
def test_backing_limits_are_ordered_and_its_adhesives_exist(backing: Backing) -> None:
    assert backing.short_max_c is not None
    assert backing.min_c < backing.max_c <= backing.short_max_c
    assert backing.cure_max_c >= backing.max_c
    assert set(backing.bonds_with) <= set(FAMILIES["adhesive"])


@each_backing
def test_some_adhesive_that_bonds_it_cures_within_its_limit(backing: Backing) -> None:
    assert (backing.attached_by == "weld") == (not backing.bonds_with)
    assert backing.attached_by == "weld" or any(
        max(s.temperature_c, s.post_cure_c or s.temperature_c) <= backing.cure_max_c
        for a in ADHESIVES if a.family in backing.bonds_with for s in a.schedules
    )  # fmt: skip
