"""Facts of the trade about adhesives and backings, asked of the shipped items."""

from pathlib import Path

import pytest

from kb.base.models import Grade
from kb.knowledge import load
from kb.knowledge.catalog import Adhesive, Backing
from kb.knowledge.catalog.files import load_items

CATALOG = Path(__file__).parents[2] / "generic_catalog"
ITEMS = {item.id: item for _, item, _ in load_items(CATALOG)}
ADHESIVES = [item for item in ITEMS.values() if isinstance(item, Adhesive)]
BACKINGS = [item for item in ITEMS.values() if isinstance(item, Backing)]


def family(name: str) -> list[Adhesive]:
    return [a for a in ADHESIVES if a.family == name]


def adhesive(name: str) -> Adhesive:
    item = ITEMS[name]
    assert isinstance(item, Adhesive)
    return item


def reach(a: Adhesive) -> float:
    return max(s.service_max_c for s in a.schedules)


def test_cyanoacrylate_is_held_by_the_thumb_for_a_minute_and_two_more() -> None:
    """Common practice, no source: 60 s by the clock, 2 minutes more, full strength in a day."""
    ethyl = adhesive("ethyl-cyanoacrylate-low-viscosity")
    (room,) = ethyl.schedules
    assert room.duration_min + room.then_min == 3
    assert room.full_strength_min == 24 * 60
    assert ethyl.clamping == "thumb-only"
    assert (ethyl.min_c, room.service_max_c, room.short_max_c) == (-30, 70, 90)  # from memory
    assert ethyl.humidity_window_pct == (30, 65)
    assert ethyl.part_window_c == (15, 30)


def hazards(a: Adhesive) -> set[str]:
    """What follows from its composition."""
    return set(load().entries[a.id].facts["hazards"])


@pytest.mark.parametrize("a", family("cyanoacrylate"), ids=lambda a: a.id)
def test_cyanoacrylate_is_for_dry_rooms_and_not_for_cold_liquids(a: Adhesive) -> None:
    """Common practice, no source: water for some days at most, and not as well as an epoxy."""
    assert a.resists["cryogenic-liquid"] == "poor"
    for wet in ("fresh-water-immersion", "condensing"):
        grade = a.resists[wet]
        assert isinstance(grade, Grade)
        assert grade.is_ == "fair"
        assert grade.for_days is not None
        assert grade.for_days <= 7
    assert "bonds-skin" in hazards(a)
    assert a.attacks_plastics
    assert a.clamping == "thumb-only"


@pytest.mark.parametrize("name", ["epoxy-phenolic", "polyimide"])
def test_weeks_at_230_need_epoxy_phenolic_or_polyimide(name: str) -> None:
    """From memory: epoxy-phenolic to about 260 degC after its post-cure, polyimide beyond."""
    assert any(reach(a) >= 260 and len(a.schedules) > 1 for a in family(name))
    others = {a.family for a in ADHESIVES if reach(a) >= 230}
    assert others <= {"epoxy-phenolic", "polyimide", "ceramic-cement"}


def test_only_ceramic_cement_with_free_filament_lasts_at_650() -> None:
    """From memory."""
    assert {a.family for a in ADHESIVES if reach(a) >= 650} == {"ceramic-cement"}
    assert {b.family for b in BACKINGS if b.max_c >= 650} == {"free-filament"}
    assert all("ceramic-cement" in b.bonds_with for b in BACKINGS if b.family == "free-filament")
    assert max(s.temperature_c for a in family("ceramic-cement") for s in a.schedules) <= 350


def test_epoxy_phenolic_and_a_heat_cured_epoxy_live_in_liquid_nitrogen() -> None:
    """Common practice, no source."""
    for name in ("epoxy-phenolic", "epoxy-heat-cure"):
        assert any(a.min_c <= -196 and a.resists["cryogenic-liquid"] == "good" for a in family(name))
    for name in ("polyimide-film", "glass-phenolic"):
        assert any(b.min_c <= -196 and b.resists["cryogenic-liquid"] == "good" for b in BACKINGS if b.family == name)


def test_room_cured_epoxy_is_cured_by_an_amine_and_anhydride_is_not() -> None:
    """Common practice, no source (mercaptan-cured fast epoxies are started by an amine, too)."""
    assert all(a.amine_cured for a in family("epoxy-room-cure"))
    assert not adhesive("epoxy-heat-cure-anhydride").amine_cured


def test_isocyanate_is_named_in_every_polyurethane() -> None:
    """Common practice, no source."""
    assert all("isocyanate" in hazards(a) for a in family("polyurethane"))


def test_the_customary_last_paper_suits_every_thin_adhesive() -> None:
    """Common practice, no source: 320 to 400 grit ends the surface below transducer-grade epoxy-phenolic as well."""
    grain = ITEMS["silicon-carbide-cami-400"].mean_um  # type: ignore[attr-defined]
    assert [a.id for a in ADHESIVES if a.gap_fill_um is not None and a.gap_fill_um < grain] == []
