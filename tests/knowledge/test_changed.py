"""Values in place of the catalog's: the knowledge is as if its files had held them."""

from __future__ import annotations

import re
import shutil

import pytest

from kb.base.places import shipped
from kb.knowledge import Knowledge, knowledge_of
from kb.knowledge.build import build
from kb.knowledge.changed import Restating, with_values
from kb.knowledge.derive import derived
from kb.knowledge.spreads import ends
from kb.rules.values import Told, basis_of, value_of

#: Item, field, value, and the line of the item's file that is put in place of the one that begins so.
CHANGES = [
    ("coating", "acrylic-lacquer-alcohol-borne", "full_cure_min", 999.0, "full_cure_min = 999"),
    ("coating", "acrylic-lacquer-alcohol-borne", "thickness_um", 40.0, "thickness_um = 40"),
    ("coating", "acrylic-lacquer-alcohol-borne", "resists.mineral-oil", "poor", 'mineral-oil = "poor"'),
    ("adhesive", "epoxy-heat-cure-one-part", "elongation_pct", 5.0, "elongation_pct = 5"),
    ("adhesive", "epoxy-heat-cure-one-part", "viscosity", "low", 'viscosity = "low"'),
    ("adhesive", "epoxy-heat-cure-one-part", "schedules.120c.service_max_c", 135.0, "service_max_c = 135"),
    ("substance", "ethyl-alcohol", "density_g_ml", 0.9, "density_g_ml = 0.9"),
    ("substrate", "polyamide-66", "water_uptake_pct", 4.0, "water_uptake_pct = 4"),
]


@pytest.fixture(scope="module")
def rewritten(tmp_path_factory: pytest.TempPathFactory) -> Knowledge:
    """The shipped knowledge built of files that hold the changed values."""
    rules, catalog = shipped()
    copy = tmp_path_factory.mktemp("catalog") / "generic_catalog"
    shutil.copytree(catalog, copy)
    for kind, item, field, _, line in CHANGES:
        path = copy / kind / f"{item}.toml"
        text = path.read_text()
        head, mark, rest = text.rpartition('id = "120c"') if "schedules" in field else ("", "", text)
        name = re.escape(line.partition(" =")[0])
        without_range = re.sub(rf"(?m)^{name} = \[.*\n", "", rest)
        changed, count = re.subn(rf"(?m)^{name} = .*$", line, without_range, count=1)
        assert count == 1, (item, field)
        path.write_text(head + mark + changed)
    return knowledge_of(build({"rules": rules, "generic_catalog": copy}), "")


def test_it_is_as_if_the_files_had_held_them(knowledge: Knowledge, rewritten: Knowledge) -> None:
    told: dict[str, list[Told]] = {}
    for _, item, field, value, _ in CHANGES:
        told.setdefault(item, []).append(Told(field, value, "memory"))
    changed = with_values(knowledge, told)
    for item_id, entry in rewritten.entries.items():
        apart = {"field_basis", "ranges"}
        facts = {name: value for name, value in changed.entries[item_id].facts.items() if name not in apart}
        assert facts == {name: value for name, value in entry.facts.items() if name not in apart}, item_id
    assert changed.index == rewritten.index
    assert changed.digest != knowledge.digest


def test_what_is_not_changed_is_not_even_copied(knowledge: Knowledge) -> None:
    changed = with_values(knowledge, {"acetone": [Told("flash_point_c", -5.0, "memory")]})
    others = [name for name, entry in changed.entries.items() if entry is not knowledge.entries[name]]
    assert others == ["acetone"]
    assert with_values(knowledge, {}) is knowledge


def test_a_value_carries_what_it_rests_on_and_its_range_no_longer_holds(knowledge: Knowledge) -> None:
    told = Told("full_cure_min", 999.0, "confirmed", "data sheet of 2027-03")
    facts = (
        with_values(knowledge, {"acrylic-lacquer-alcohol-borne": [told]}).entry("acrylic-lacquer-alcohol-borne").facts
    )
    assert basis_of(facts, "full_cure_min") == ("confirmed", "data sheet of 2027-03")
    assert basis_of(facts, "touch_dry_min") == ("memory", "")
    assert "full_cure_min" not in facts["ranges"]
    assert "touch_dry_min" in facts["ranges"]
    assert value_of(facts, "full_cure_min") == 999.0


def test_an_item_that_is_restated_again_and_again_has_what_follows_each_time(knowledge: Knowledge) -> None:
    """What follows from a value follows anew wherever it was reckoned with, and nothing else is another."""
    facts = {name: entry.facts for name, entry in knowledge.entries.items()}
    from_kpa = knowledge.tables["usage"]["air"]["volatile_from_kpa"]
    moved = 0
    for entry in list(knowledge.entries.values())[::6]:
        was, restating = derived(entry.facts, facts, from_kpa), Restating(entry, knowledge)
        for field in list(entry.facts):
            for end in ends(entry.facts, field, knowledge.tables["spreads"]):
                now = restating.with_values([Told(field, end, "memory")]).facts
                becomes = derived(now, facts, from_kpa)
                names = {**was, **becomes}.keys() - {field}
                followed = [name for name in names if _plain(was.get(name)) == _plain(entry.facts.get(name))]
                assert {n: _plain(now.get(n)) for n in followed} == {n: _plain(becomes.get(n)) for n in followed}
                moved += any(_plain(was.get(name)) != _plain(becomes.get(name)) for name in followed)
    assert moved > 50


def _plain(value: object) -> object:
    return [_plain(each) for each in value] if isinstance(value, (list, tuple)) else value
