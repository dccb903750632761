"""A finish on a metal: the surface is the finish's, the body is that of the metal that was named."""

from __future__ import annotations

import pytest

from kb.base.errors import BadInput
from kb.knowledge import Knowledge
from kb.materials.resolve import offered, substrate
from kb.report.items import matches_json, matches_text

#: What is typed, the layer, the metal below, and the modulus of what carries the load.
NAMED = [
    ("nickel-plated brass", "nickel", "copper-alloy", 110),
    ("nickel plated copper bar", "nickel", "copper", 115),
    ("chrome plated brass tap", "chromium", "copper-alloy", 110),
    ("brass, nickel plated", "nickel", "copper-alloy", 110),
    ("Messing vernickelt", "nickel", "copper-alloy", 110),
    ("vernickeltes Aluminium", "nickel", "aluminium-alloy", 70),
    ("laiton nickelé", "nickel", "copper-alloy", 110),
    ("nickel plated 7075", "nickel", "aluminium-alloy", 71.7),
    ("silver plated brass terminal", "silver", "copper-alloy", 110),
    ("tin plated aluminium busbar", "tin", "aluminium-alloy", 70),
    ("tinned steel", "tin", "carbon-steel", 207),
    ("painted brass", "paint", "copper-alloy", 110),
    ("painted cast iron", "paint", "cast-iron", 100),
    ("painted aluminium", "paint", "aluminium-alloy", 70),
    ("laiton chromé", "chromium", "copper-alloy", 110),
    ("powder coated aluminium", "powder-coat", "aluminium-alloy", 70),
    ("nickel plated steel", "nickel", "carbon-steel", 207),
    ("chrome plated ABS", "chromium", "abs", 4),
    ("zinc plated 4140", "zinc", "carbon-steel", 207),
    ("painted mild steel", "paint", "carbon-steel", 207),
    ("hot dip galvanised S355", "zinc", "carbon-steel", 207),
    ("anodised titanium", "anodic-oxide", "titanium-alloy", 105),
    ("chromic acid anodised 2024", "anodic-oxide", "aluminium-alloy", 73),
    ("hard anodized 7075", "anodic-oxide", "aluminium-alloy", 71.7),
    ("black anodised 5083", "anodic-oxide", "aluminium-alloy", 70.3),
    ("type III anodised 2024", "anodic-oxide", "aluminium-alloy", 73),
    ("gas nitrided 4140", "nitride", "carbon-steel", 207),
    ("varnished oak", "paint", "wood", 12),
    ("shellacked oak", "paint", "wood", 11),
    ("French polished mahogany", "paint", "wood", 11),
    ("lacquered pine", "paint", "wood", 11),
    ("black oxide carbon steel", "black-oxide", "carbon-steel", 207),
    ("electroplated zinc mild steel", "zinc", "carbon-steel", 207),
]


@pytest.mark.parametrize(("typed", "layer", "below", "modulus"), NAMED, ids=lambda value: str(value))
def test_the_layer_and_what_lies_below_are_both_kept(
    typed: str, layer: str, below: str, modulus: float, knowledge: Knowledge
) -> None:
    facts = substrate(typed, knowledge, "t").entry.facts
    assert facts["layer"] == layer
    assert facts["base_family"] == below
    assert facts["modulus_gpa"] == pytest.approx(modulus, rel=0.05)


def test_how_it_looks_is_left_out_only_where_a_word_says_which_finish_it_is(knowledge: Knowledge) -> None:
    """Black anodised is anodised; yellow zinc plated is passivated with chromate, and silver plated is no plate."""
    assert substrate("black anodised 6061", knowledge, "t").entry.id == "anodised-aluminium"
    assert substrate("yellow zinc plated steel", knowledge, "t").entry.id == "zinc-plated-hexavalent"
    assert substrate("silver plated brass", knowledge, "t").entry.facts["layer"] == "silver"


def test_a_finish_that_lies_on_one_metal_is_put_on_no_other(knowledge: Knowledge) -> None:
    with pytest.raises(BadInput):
        substrate("anodised brass", knowledge, "t")


def test_dirt_on_a_part_is_told_beside_its_name(knowledge: Knowledge) -> None:
    found = substrate("rusty mild steel", knowledge, "t")
    assert (found.entry.id, found.not_known) == ("carbon-steel", ("rusty",))


def test_who_asks_for_a_name_is_told_what_a_job_makes_of_it(knowledge: Knowledge) -> None:
    typed = "nickel-plated brass"
    matches, found = offered(typed, knowledge)
    assert found == substrate(typed, knowledge, "t")
    assert matches_json(typed, matches, found)["taken"] is None
    said = " ".join(matches_text(typed, matches, found).split())
    assert said.endswith("as the finish of nickel-plated steel (nickel-plated) on brass-c26000.")


@pytest.mark.parametrize(
    ("typed", "item"),
    [
        ("painted mild steel", "painted-steel"),
        ("zinc plated mild steel", "zinc-plated"),
        ("painted 6061", "painted-aluminium"),
    ],
)
def test_a_finish_on_the_metal_of_the_catalog_is_the_item(typed: str, item: str, knowledge: Knowledge) -> None:
    assert substrate(typed, knowledge, "t").entry.id == item


def test_what_has_no_finish_is_left_alone(knowledge: Knowledge) -> None:
    assert substrate("nickel silver", knowledge, "t").entry.id == "nickel-silver-c75200"
    assert substrate("gold plated", knowledge, "t").entry.id == "gold-plated"


@pytest.mark.parametrize(
    "typed", ["PEI-GF", "glass filled PEI", "glass filled polycarbonate", "glasfaserverstärktes PEEK"]
)
def test_a_filled_plastic_without_its_content_leaves_the_content_open(typed: str, knowledge: Knowledge) -> None:
    assert {"filler_pct", "modulus_gpa"} <= {*substrate(typed, knowledge, "t").assumed}
