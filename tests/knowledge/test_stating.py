"""One value as somebody types it: taken in the field's unit, or refused in one line with what is near."""

from __future__ import annotations

import pytest

from kb.base.errors import BadInput
from kb.knowledge import Knowledge
from kb.knowledge.stating import checked

LACQUER, EPOXY = "acrylic-lacquer-alcohol-borne", "epoxy-heat-cure-one-part"


@pytest.mark.parametrize(
    ("item", "field", "typed", "value"),
    [
        (LACQUER, "full_cure_min", "48 h", 2880.0),
        (LACQUER, "max_c", 90, 90.0),
        (LACQUER, "resists.mineral-oil", "good", "good"),
        (LACQUER, "resists.mineral-oil.up_to_c", "194 degF", 90.0),
        (LACQUER, "removable", False, False),
        (EPOXY, "schedules.120c.service_max_c", 130, 130.0),
        (EPOXY, "humidity_window_pct", [10, 60], (10.0, 60.0)),
        ("acetone", "evaporation", "slow", "slow"),
        ("polycarbonate", "hansen.radius", 9.5, 9.5),
    ],
)
def test_a_value_is_taken_in_the_unit_of_its_field(
    knowledge: Knowledge, item: str, field: str, typed: object, value: object
) -> None:
    assert checked(knowledge.entry(item), field, typed, "x") == value


@pytest.mark.parametrize(
    ("item", "field", "typed", "said"),
    [
        (LACQUER, "full_cure", 1, "did you mean 'full_cure_min'?"),
        (EPOXY, "service_max_c", 1, "did you mean 'schedules.100c.service_max_c'?"),
        (EPOXY, "schedules.121c.service_max_c", 1, "did you mean 'schedules.120c.service_max_c'?"),
        (LACQUER, "name", "x", "has no field 'name'"),
        (LACQUER, "composition", [], "has no field 'composition'"),
        (LACQUER, "full_cure_min", -1, "full_cure_min can't be '-1'"),
        (LACQUER, "full_cure_min", "48 kg", "is not in a unit that converts to min"),
        (LACQUER, "resists.mineral-oil", "splendid", "'good', 'fair' or 'poor'"),
        (LACQUER, "resists.mineral-oil.up_to_k", 3, "has no field"),
        ("steel-1018", "resists.alkali", "good", "has no field 'resists.alkali'"),
    ],
)
def test_what_cannot_be_one_is_refused_in_one_line(
    knowledge: Knowledge, item: str, field: str, typed: object, said: str
) -> None:
    entry = knowledge.entries.get(item) or next(e for e in knowledge.by_kind["substrate"] if e.family == "carbon-steel")
    with pytest.raises(BadInput, match=r"^x: ") as refused:
        checked(entry, field, typed, "x")
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)
