"""Topics 1 and 2 as the stock uses them: what a logger's file means for a lot, and the dew point behind a wait.

A log's last reading holds for nothing, so each series is given one reading more than it has hours.
"""

from datetime import datetime, timedelta

import pytest

from kb.stock.temperatures import drafts, read_log
from kb.stock.warmup import warm_up
from tests.outside.published import Entry, cases, entry
from tests.stock.factory import in_memory, received


def mean_kinetic_temperature(temperatures: list[float], activation: float) -> float:
    """By way of a logger's CSV with hourly readings, and a lot that stood beside the logger."""
    begun = datetime(2027, 3, 5)
    rows = [f"{(begun + timedelta(hours=n)).isoformat()},{t}" for n, t in enumerate([*temperatures, temperatures[-1]])]
    ledger = in_memory(received(location="fridge"))
    log = read_log(("time,temperature_c\n" + "\n".join(rows)).encode(), "log.csv")
    facts = {"storage_c": [2.0, 8.0], "life_activation_kj_mol": activation}
    with ledger.looking() as look:
        (found,) = drafts(log, "fridge", look.shelf, look.history_of, lambda _: facts, "2027-04-01", "kim")
    return float(found["mkt_c"])


def series(known: Entry) -> list[float]:
    if known.id == "mkt-calc-90x5-10x15":
        return [5.0] * 90 + [15.0] * 10
    return [float(t) for t in known.inputs["T_C"]]


@pytest.mark.parametrize("known", cases(2, "mkt-calc"))
def test_a_logger_s_file_gives_the_mean_kinetic_temperature(known: Entry) -> None:
    """USP <1160>, the formula as commonly reproduced; the entries say how each value was come by."""
    known.assert_near(mean_kinetic_temperature(series(known), known.inputs["dH_kJ_mol"]))


def test_it_is_not_the_harmonic_mean_of_kelvins() -> None:
    wrong = entry("mkt-not-harmonic")
    found = mean_kinetic_temperature([float(t) for t in wrong.inputs["T_C"]], 83.144)
    assert abs(found - wrong.expected) > 1, wrong.against(found)


@pytest.mark.parametrize("known", cases(1, "dew-ex-1", "dew-ex-2", "dew-tab-20", "dew-tab-23"))
def test_a_cold_container_waits_for_the_published_dew_point(known: Entry) -> None:
    """Published worked examples and a published table of dew points."""
    found = warm_up(20, -18, known.inputs["T_air_C"], known.inputs["RH_pct"])
    known.assert_near(found["dew_point_c"])
    assert found["open_above_c"] == pytest.approx(found["dew_point_c"] + 3.0)
