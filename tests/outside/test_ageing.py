"""Mean kinetic temperature (2), Arrhenius and Q10 (9), pot life (16)."""

from typing import Any

import pytest

from kb.calc import run
from tests.outside.published import Entry, cases, entry


def mean_kinetic(temperatures: Any, **more: Any) -> float:
    return float(run("mean-kinetic-temperature", {"temperatures_c": temperatures, **more})["result"]["mkt_c"])


def ageing(temperature_c: float, reference_c: float, **model: float) -> dict[str, Any]:
    given = {"temperature_c": temperature_c, "reference_c": reference_c, **model}
    result: dict[str, Any] = run("ageing-factor", given)["result"]
    return result


@pytest.mark.parametrize("known", cases(2, "mkt-calc", but=["mkt-calc-90x5-10x15"]))
def test_mean_kinetic_temperature(known: Entry) -> None:
    known.assert_near(mean_kinetic(known.inputs["T_C"], activation_kj_mol=known.inputs["dH_kJ_mol"]))


def test_mean_kinetic_temperature_of_hours_and_of_repeated_readings() -> None:
    known = entry("mkt-calc-90x5-10x15")
    known.assert_near(mean_kinetic([5] * 90 + [15] * 10))
    known.assert_near(mean_kinetic([5, 15], hours=[90, 10]))


def test_it_is_no_harmonic_mean_of_kelvins() -> None:
    wrong, right = entry("mkt-not-harmonic"), entry("mkt-calc-2step")
    found = mean_kinetic(wrong.inputs["T_C"])
    right.assert_near(found)
    assert abs(found - wrong.expected) > 2, wrong.against(found)


def test_unequal_spacing_says_how_a_reading_counts() -> None:
    known = entry("mkt-trapezoid")
    times, readings = known.inputs["t"], known.inputs["T_C"]
    known.assert_near(mean_kinetic(readings, times_h=times, between="trapezoid"))
    # The entry's note names the two other readings of the same history.
    assert mean_kinetic(readings, times_h=times) == pytest.approx(25.540, abs=0.005), known.note
    assert mean_kinetic(readings) == pytest.approx(24.219, abs=0.005), known.note


@pytest.mark.parametrize("readings", [[2, 8], [5, 5, 5, 25], [-18, 40], [20, 21]])
def test_it_lies_between_the_mean_and_the_hottest(readings: list[float]) -> None:
    known = entry("mkt-ge-mean")
    found = mean_kinetic(readings)
    assert sum(readings) / len(readings) < found < max(readings), known.against(found)


@pytest.mark.parametrize("known", cases(9, "f1980"))
def test_accelerated_ageing(known: Entry) -> None:
    factor = ageing(known.inputs["T_AA_C"], known.inputs["T_RT_C"], q10=known.inputs["Q10"])["factor"]
    known.assert_near(known.inputs["real_days"] / factor)


def test_arrhenius_reduction() -> None:
    known = entry("arrh-rpmodel")
    kj_mol = known.inputs["Ea_J_mol"] / 1000
    factor = ageing(known.inputs["T2_C"], known.inputs["T1_C"], activation_kj_mol=kj_mol)["factor"]
    known.assert_near(100 * (1 - factor))


@pytest.mark.parametrize("known", cases(9, "q10-25-35"))
def test_q10_of_an_activation_energy(known: Entry) -> None:
    found = ageing(known.inputs["T2_C"], known.inputs["T1_C"], activation_kj_mol=known.inputs["Ea_J_mol"] / 1000)
    known.assert_near(found["factor"])
    known.assert_near(found["equivalent_q10"])


def test_doubling_every_ten_kelvin_is_another_model_than_the_convention() -> None:
    known = entry("q10-2-Ea")
    doubling = ageing(known.inputs["T2_C"], known.inputs["T1_C"], q10=known.inputs["Q10"])
    known.assert_near(doubling["equivalent_activation_kj_mol"])
    convention = ageing(35, 25, activation_kj_mol=83.144)
    assert convention["factor"] == pytest.approx(2.97, abs=0.01), known.note


def test_pot_life_halves() -> None:
    known = entry("potlife-q10")
    given = {"pot_life_min": known.inputs["pot_life_25C_min"], "q10": known.inputs["Q10"], "reference_c": 25}
    known.assert_near(run("pot-life", {**given, "temperature_c": known.inputs["T_C"]})["result"]["pot_life_min"])
