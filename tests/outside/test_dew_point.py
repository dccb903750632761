"""Dew points (topic 1): a published table and worked examples; psychrolib's own values are circular."""

from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.calc import run
from tests.outside.published import Entry, cases, entry

RULE_OF_3_K = "dew-3C"
#: A wet bulb, which no calculation here takes; the two others have tests of their own.
APART = ("dew-ex-psychrometer", "dew-magnus-10-40", "dew-F-70-65")


def dew_point(air_c: float, humidity_pct: float, **more: float) -> dict[str, Any]:
    given = {"air_temperature_c": air_c, "relative_humidity_pct": humidity_pct, **more}
    result: dict[str, Any] = run("dew-point", given)["result"]
    return result


@pytest.mark.parametrize("known", cases(1, "dew-psy", "dew-tab", "dew-ex", but=APART))
def test_dew_point(known: Entry) -> None:
    known.assert_near(dew_point(known.inputs["T_air_C"], known.inputs["RH_pct"])["dew_point_c"])


@pytest.mark.parametrize("known", cases(1, RULE_OF_3_K))
def test_three_kelvin_above_the_dew_point(known: Entry) -> None:
    found = dew_point(known.inputs["T_air_C"], known.inputs["RH_pct"], part_temperature_c=known.inputs["T_surface_C"])
    assert (found["margin_c"] >= known.inputs["margin_C"]) is known.expected, known.against(found)
    assert abs(found["dew_point_c"] - known.inputs["T_dew_C"]) < 0.03, known.against(found)


def test_chart_in_fahrenheit() -> None:
    known = entry("dew-F-70-65")
    found = dew_point((known.inputs["T_air_F"] - 32) / 1.8, known.inputs["RH_pct"])
    known.assert_near(found["dew_point_c"] * 1.8 + 32)


def test_below_zero_it_says_frost_and_gives_the_point_over_water_too() -> None:
    frost, water = entry("dew-psy-10-40-frost"), entry("dew-magnus-10-40")
    found = dew_point(10, 40)
    assert found["phase"] == "frost", frost.against(found)
    frost.assert_near(found["dew_point_c"])
    water.assert_near(found["over_water_c"])
    assert found["dew_point_c"] > found["over_water_c"], water.against(found)


def test_the_misprinted_cell_of_the_table_is_not_reproduced() -> None:
    known = entry("dew-tab-misprint-30-65")
    assert abs(dew_point(30, 65)["dew_point_c"] - 23.7) > 0.9, known.against("the table's misprint, 23.7")


def test_humidity_is_in_percent_and_zero_is_refused() -> None:
    # psychrolib takes a fraction and raises for 0: a trap of the package, not of a source.
    assert dew_point(20, 100)["dew_point_c"] == pytest.approx(20, abs=1e-3)
    with pytest.raises(BadInput, match="relative_humidity_pct: must be above 0"):
        dew_point(20, 0)
