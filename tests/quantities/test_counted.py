"""What a millilitre weighs: by hand from what a liquid is made of, and never less than what is known of it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from kb.knowledge import Knowledge
from kb.quantities.counted import assumed_density_g_ml, density_g_ml


def parts(**shares: float) -> tuple[dict[str, Any], ...]:
    return tuple({"substance": name.replace("_", "-"), "share_pct": pct} for name, pct in shares.items())


def density(known: Knowledge, substance: str) -> float:
    return float(known.entry(substance).facts["density_g_ml"])


def test_a_mixture_weighs_what_its_parts_do_with_their_volumes_added_up(knowledge: Knowledge) -> None:
    entry = replace(knowledge.entry("acetone"), facts={"composition": parts(propan_2_ol=50, water=50)})
    by_hand = 100 / (50 / density(knowledge, "propan-2-ol") + 50 / density(knowledge, "water"))
    assert density_g_ml(entry, knowledge) == pytest.approx(by_hand)
    assert assumed_density_g_ml(entry, knowledge) == pytest.approx(by_hand)


def test_an_untold_rest_is_not_known_and_taken_for_water(knowledge: Knowledge) -> None:
    entry = replace(knowledge.entry("acetone"), facts={"composition": parts(propan_2_ol=60)})
    assert density_g_ml(entry, knowledge) is None
    assert assumed_density_g_ml(entry, knowledge) == pytest.approx(100 / (60 / density(knowledge, "propan-2-ol") + 40))


def test_what_the_item_says_of_itself_comes_first(knowledge: Knowledge) -> None:
    entry = replace(knowledge.entry("acetone"), facts={"density_g_ml": 1.3, "composition": parts(propan_2_ol=60)})
    assert density_g_ml(entry, knowledge) == assumed_density_g_ml(entry, knowledge) == 1.3


def test_of_a_liquid_of_which_nothing_is_told_it_is_waters(knowledge: Knowledge) -> None:
    assert assumed_density_g_ml(replace(knowledge.entry("acetone"), facts={}), knowledge) == 1.0
