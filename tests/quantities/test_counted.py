"""What a millilitre weighs: by hand from what a liquid is made of, and never less than what is known of it."""

from __future__ import annotations

from typing import Any

import pytest

from kb.knowledge import Knowledge
from kb.quantities.counted import assumed_density_g_ml, density_g_ml


def parts(**shares: float) -> tuple[dict[str, Any], ...]:
    return tuple({"substance": name.replace("_", "-"), "share_pct": pct} for name, pct in shares.items())


def density(known: Knowledge, substance: str) -> float:
    return float(known.entry(substance).facts["density_g_ml"])


def test_a_mixture_weighs_what_its_parts_do_with_their_volumes_added_up(knowledge: Knowledge) -> None:
    entry = knowledge.entry("acetone")._replace(facts={"composition": parts(propan_2_ol=50, water=50)})
    by_hand = 100 / (50 / density(knowledge, "propan-2-ol") + 50 / density(knowledge, "water"))
    assert density_g_ml(entry, knowledge) == pytest.approx(by_hand)
    assert assumed_density_g_ml(entry, knowledge) == pytest.approx(by_hand)


def test_an_untold_rest_is_not_known_and_taken_for_water(knowledge: Knowledge) -> None:
    entry = knowledge.entry("acetone")._replace(facts={"composition": parts(propan_2_ol=60)})
    assert density_g_ml(entry, knowledge) is None
    assert assumed_density_g_ml(entry, knowledge) == pytest.approx(100 / (60 / density(knowledge, "propan-2-ol") + 40))


def test_what_the_item_says_of_itself_comes_first(knowledge: Knowledge) -> None:
    entry = knowledge.entry("acetone")._replace(facts={"density_g_ml": 1.3, "composition": parts(propan_2_ol=60)})
    assert density_g_ml(entry, knowledge) == assumed_density_g_ml(entry, knowledge) == 1.3


def test_of_a_liquid_of_which_nothing_is_told_it_is_waters(knowledge: Knowledge) -> None:
    assert assumed_density_g_ml(knowledge.entry("acetone")._replace(facts={}), knowledge) == 1.0


def two(first: float, second: float, **more: Any) -> dict[str, Any]:
    """Give a thing out of two bottles, of whose contents so much [%] is told."""
    one, other = parts(propan_2_ol=first), parts(water=second)
    return {"composition": (*one, *({**part, "part": 2} for part in other)), **more}


def test_two_bottles_weigh_what_they_do_in_the_ratio_of_their_masses(knowledge: Knowledge) -> None:
    entry = knowledge.entry("acetone")._replace(facts=two(100, 100, mix_ratio=(4, 1)))
    by_hand = 5 / (4 / density(knowledge, "propan-2-ol") + 1 / density(knowledge, "water"))
    assert density_g_ml(entry, knowledge) == pytest.approx(by_hand)


def test_shares_of_two_bottles_are_never_added_up_to_a_whole(knowledge: Knowledge) -> None:
    half = knowledge.entry("acetone")._replace(facts=two(50, 60, mix_ratio=(1, 1)))
    assert density_g_ml(half, knowledge) is None
    filled = half._replace(facts={**half.facts, "density_g_cm3": 1.7, "contains_solvent": False})
    assert density_g_ml(filled, knowledge) == pytest.approx(1.7)


def test_two_bottles_of_no_known_ratio_are_not_known(knowledge: Knowledge) -> None:
    assert density_g_ml(knowledge.entry("acetone")._replace(facts=two(100, 100)), knowledge) is None
