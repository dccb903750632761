"""What is flagged of a mixture agrees with what is in it: adhesives, coatings, liquids and treatments alike.

The shares from which a constituent classifies the mixture are the generic limits of Regulation (EC) No 1272/2008,
annex I, recalled and not in hand. A constituent that the composition leaves out is for the item's author to think of.
"""

from pathlib import Path

import pytest

from kb.knowledge.catalog import Adhesive, Coating, Item, Substance, Treatment
from kb.knowledge.catalog.files import load_items
from kb.knowledge.catalog.surface import Liquid

CATALOG = Path(__file__).parents[2] / "generic_catalog"
ITEMS = [item for _, item, _ in load_items(CATALOG)]
SUBSTANCES = {item.id: item for item in ITEMS if isinstance(item, Substance)}
MIXTURES = [item for item in ITEMS if isinstance(item, (Liquid, Treatment, Adhesive, Coating)) and item.composition]
#: Hazard, the statements that it stands for, and the share in per cent from which it counts.
LIMITS = [
    ("carcinogen", {"H340", "H350", "H350i"}, 0.1),
    ("carcinogen", {"H341", "H351"}, 1.0),
    ("reproductive-toxicant", {"H360", "H360D", "H360F", "H360FD"}, 0.3),
    ("reproductive-toxicant", {"H361", "H361d", "H361f", "H361fd"}, 3.0),
    ("sensitiser", {"H317", "H334"}, 1.0),
    ("narcotic", {"H336"}, 20.0),
    ("toxic", {"H300", "H301", "H310", "H311", "H330", "H331", "H370"}, 10.0),
    ("aquatic-toxicant", {"H400", "H410", "H411"}, 25.0),
]


@pytest.mark.parametrize("item", MIXTURES, ids=lambda item: item.id)
def test_a_mixture_is_flagged_for_what_is_in_it(item: Item) -> None:
    assert isinstance(item, (Liquid, Treatment, Adhesive, Coating))
    for hazard, statements, least in LIMITS:
        for share in item.composition:
            if statements & set(SUBSTANCES[share.substance].hazard_statements) and share.share_pct >= least:
                assert hazard in item.hazards, f"{share.share_pct:g} % of {share.substance}"


def test_suspected_carcinogens_were_found_in_lacquers() -> None:
    flagged = {item.id for item in MIXTURES if "carcinogen" in item.hazards and isinstance(item, (Adhesive, Coating))}
    assert {"epoxy-phenolic-thinned", "fluoropolymer-lacquer-fluoroelastomer"} <= flagged
