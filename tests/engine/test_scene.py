"""A layer that a rule takes off leaves what lay below it."""

from __future__ import annotations

from typing import Any

import pytest

from kb.engine.plan import Engine
from kb.engine.scene import scene_of
from kb.job import job_of
from kb.materials.resolve import substrate


def scene(engine: Engine, part: Any, **given: Any) -> dict[str, Any]:
    """The situation of a plain job on a part; `given` are fields of its tables, as `part__surface`."""
    task: dict[str, dict[str, Any]] = {"part": {"substrate": part}, "service": {"temperature_c": [10, 40]}}
    for name, value in given.items():
        table, _, field = name.partition("__")
        task.setdefault(table, {})[field] = value
    job = job_of(task, "test")
    return dict(scene_of(engine.knowledge, job, substrate(part, engine.knowledge, "test").entry.facts))


def test_what_lay_below_zinc_is_planned_for(engine: Engine) -> None:
    """Bare steel rusts and stands acid; the zinc beside it still melts, and its dust was raised."""
    found = scene(engine, "galvanised-steel-hot-dip")
    left, steel = found["substrate"], engine.knowledge.entry("carbon-steel").facts
    assert found["part"]["layer_off"] is True
    assert (left["id"], left["family"], left["acid_sensitive"]) == ("carbon-steel", "carbon-steel", False)
    assert left["water_harms"] == steel["water_harms"] == ("rusts",)
    assert (left["layer"], left["melts_at_c"]) == ("zinc", 419.0)
    assert set(left["dust_hazard"]) == {*steel["dust_hazard"], "zinc"}
    assert "zinc" in left["name"]


@pytest.mark.parametrize(("strain", "off"), [(3000, False), (3001, True)])
def test_an_anodic_film_comes_off_where_it_would_crack(engine: Engine, strain: float, off: bool) -> None:
    found = scene(engine, "anodised-aluminium", service__max_strain_ue=strain)
    assert found["part"]["layer_off"] is off
    assert found["substrate"]["family"] == ("aluminium-alloy" if off else "anodised-aluminium")


def test_what_the_layer_stands_limits_the_cure_of_what_is_below(engine: Engine) -> None:
    """The whole part goes into the oven, and the layer beside the gauge with it."""
    painted = engine.knowledge.entry("painted-steel").facts
    found = scene(engine, "painted-steel")
    assert found["substrate"]["family"] == "carbon-steel"
    assert found["part"]["max_process_temperature_c"] == painted["max_temperature_c"]


def test_a_layer_that_stays_is_what_is_planned_for(engine: Engine) -> None:
    for part, given in (("painted-steel", {"part__surface": ["painted"]}), ("nickel-plated", {})):
        found = scene(engine, part, **given)
        assert found["part"]["layer_off"] is False
        assert found["substrate"]["id"] == part


def test_what_lies_below_and_is_not_known_stays_as_it_was(engine: Engine) -> None:
    given = {"name": "old panel", "organic": False, "metallic": True, "layer": "paint", "abrading": "usual"}
    found = scene(engine, given)
    assert found["part"]["layer_off"] is True
    assert found["substrate"]["name"] == "old panel"
