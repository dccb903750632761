"""Dew point: how it moves with air and humidity."""

from hypothesis import given
from hypothesis import strategies as st

from kb.calc.climate import dew_point

airs = st.floats(-30, 60)
humidities = st.floats(1, 100)


@given(airs, humidities)
def test_never_above_the_air(air: float, humidity: float) -> None:
    assert dew_point(air, humidity)["dew_point_c"] <= air + 1e-9


@given(airs, humidities, st.floats(0.5, 50))
def test_rises_with_humidity(air: float, humidity: float, more: float) -> None:
    if humidity + more <= 100:
        assert dew_point(air, humidity)["dew_point_c"] < dew_point(air, humidity + more)["dew_point_c"]


@given(airs, humidities)
def test_frost_settles_before_supercooled_dew(air: float, humidity: float) -> None:
    found = dew_point(air, humidity)
    if found["dew_point_c"] < -0.2:
        assert found["phase"] == "frost"
        assert found["over_water_c"] < found["dew_point_c"]
    else:
        assert abs(found["over_water_c"] - found["dew_point_c"]) < 0.1


@given(airs, humidities, st.floats(-50, 80))
def test_margin_is_the_part_above_the_dew_point(air: float, humidity: float, part: float) -> None:
    found = dew_point(air, humidity, part)
    assert found["margin_c"] == part - found["dew_point_c"]
    assert "margin_c" not in dew_point(air, humidity)


def test_saturated_air_is_at_its_dew_point_even_in_frost() -> None:
    found = dew_point(-10, 100)
    assert abs(found["dew_point_c"] + 10) < 1e-3
    assert -11.5 < found["over_water_c"] < -10.8  # over ice 100 % is some 91 % over water: memory
