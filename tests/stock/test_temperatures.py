"""Loggers: what is read, whom it concerns, what it costs. Lots, places and the class's figures are invented."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.report.pictures.shelf import log_picture
from kb.stock.fold import fold, no_history
from kb.stock.ledger import Ledger
from kb.stock.lots import Refused
from kb.stock.tables import Faults
from kb.stock.temperatures import common_limits, drafts, effects, read_log, stays
from kb.stock.warmup import radius_m, warm_up
from tests.stock.factory import event, in_memory, received, record, used

CLASS = {"storage_c": [2.0, 8.0], "life_activation_kj_mol": 83.144}
START = datetime(2027, 3, 5)


def facts_of(item: str) -> Mapping[str, Any]:
    return {} if item == "unknown" else CLASS


def csv_of(temperatures: list[float], minutes: int = 60, start: datetime = START) -> bytes:
    rows = [
        f"{(start + timedelta(minutes=minutes * n)).isoformat()},{celsius}" for n, celsius in enumerate(temperatures)
    ]
    return ("time,temperature_c\n" + "\n".join(rows) + "\n").encode()


def fridge(*more: dict[str, Any], **lot: Any) -> Ledger:
    store = in_memory()
    record(store, [received(location="fridge", expires="2027-12-31", **lot), *more])
    return store


def logged(store: Ledger, content: bytes, location: str = "fridge", at: str = "2027-04-01") -> list[dict[str, Any]]:
    with store.looking() as look:
        found = drafts(read_log(content, "log.csv"), location, look.shelf, look.history_of, facts_of, at, "kim")
    return record(store, found)


def test_within_its_range_nothing_is_lost() -> None:
    store = fridge()
    (found,) = logged(store, csv_of([5.0] * 73))
    assert (found["hours"], found["mkt_c"], found["spent_days"]) == (72.0, 5.0, 0.0)
    assert "excursion" not in found
    assert (found["since"], found["until"]) == ("2027-03-05T00:00", "2027-03-08T00:00")


def test_a_warm_weekend_ages_and_puts_aside_until_somebody_decides() -> None:
    """Two days at 25 degC against a life stated for 8 degC, by Arrhenius worked out here."""
    store = fridge()
    (found,) = logged(store, csv_of([25.0] * 49))
    factor = math.exp(83144 / 8.314462618 * (1 / 281.15 - 1 / 298.15))
    assert found["spent_days"] == pytest.approx(2 * (factor - 1), abs=1e-6)
    assert found["excursion"] == "25 degC at 2027-03-05T00:00, above 8"
    before = effects(fold(store.documents("stock")[:1]), no_history, [found], facts_of, "2027-04-01")[0]
    assert (before.before, before.after, before.state) == ("2027-12-31", "2027-12-17", "storage-excursion")
    record(store, [event("released", at="2027-04-02", reason="tested on scrap")])
    lot = store.lot("A-17")
    assert (lot.excursion, lot.logged[0].spent_days) == ("", found["spent_days"]), "the life stays spent"


def test_a_door_that_stood_open_is_not_the_average() -> None:
    """The mean kinetic temperature lies above the mean: 20 h at 5 and 4 h at 25 degC."""
    (found,) = logged(fridge(), csv_of([5.0] * 20 + [25.0] * 4 + [5.0]))
    assert (20 * 5 + 4 * 25) / 24 < found["mkt_c"] < 25
    assert found["mkt_c"] > 8
    assert found["spent_days"] > 0


@pytest.mark.parametrize(
    ("temperatures", "said"),
    [
        ([5, -3.2, 5], "-3.2 degC at 2027-03-05T01:00, below 2"),
        ([5, 1.6, 8.4, 5], None),
        ([5, 1.4, 5], "1.4 degC at 2027-03-05T01:00, below 2"),
        ([5, 5, 8.6], "8.6 degC at 2027-03-05T02:00, above 8"),
        ([-1, 5, 20], "-1 degC at 2027-03-05T00:00, below 2 and 20 degC at 2027-03-05T02:00, above 8"),
    ],
)
def test_beyond_its_range_by_more_than_loggers_are_off(temperatures: list[float], said: str | None) -> None:
    (found,) = logged(fridge(), csv_of(temperatures))
    assert found.get("excursion") == said


def test_what_a_class_does_not_say_is_unknown() -> None:
    store = fridge(item="unknown")
    (found,) = logged(store, csv_of([40.0] * 3))
    assert "spent_days" not in found
    assert "mkt_c" not in found
    assert store.lot("A-17").logged[0].spent_days is None


def test_only_while_the_lot_stood_there() -> None:
    store = fridge(
        event("moved", at="2027-03-05T10:00", location="bench"),
        event("moved", at="2027-03-05T20:00", location="fridge"),
    )
    (found,) = logged(store, csv_of([5.0] * 10 + [30.0] * 10 + [5.0] * 5))
    assert found["hours"] == 14.0
    assert found["high_c"] == 5.0


def test_a_day_without_a_time_counts_whole_at_either_end() -> None:
    events = [received(at="2027-03-05", location="fridge"), event("moved", at="2027-03-06", location="bench")]
    assert stays(events, "fridge") == [(datetime(2027, 3, 5), datetime(2027, 3, 7))]


def test_lots_elsewhere_empty_or_condemned_are_let_be() -> None:
    store = fridge()
    record(store, [received("B", location="bench"), received("C", "1", location="fridge"), used("C")])
    record(store, [received("D", location="fridge"), event("condemned", "D", reason="r")])
    assert [found["lot"] for found in logged(store, csv_of([5.0] * 3))] == ["A-17"]


def test_a_log_read_out_again_adds_only_what_is_new() -> None:
    store = fridge()
    logged(store, csv_of([5.0] * 25))
    (found,) = logged(store, csv_of([5.0] * 49))
    assert (found["since"], found["hours"]) == ("2027-03-06T00:00", 24.0)
    with pytest.raises(BadInput, match="no lot stood there while the log ran"):
        logged(store, csv_of([5.0] * 49))
    with pytest.raises(Refused, match="is logged up to 2027-03-07T00:00 already"):
        record(store, [{**found, "id": None, "recorded": None, "since": "2027-03-06T12:00"}])


def test_no_lot_there_is_told_with_the_near_place() -> None:
    with pytest.raises(BadInput, match="did you mean 'fridge'"):
        logged(fridge(), csv_of([5.0] * 3), location="frigde")


def test_a_gap_is_told_and_not_filled() -> None:
    content = csv_of([5.0] * 10) + csv_of([5.0] * 10, start=START + timedelta(days=2)).split(b"\n", 1)[1]
    log = read_log(content, "log.csv")
    assert log.gaps == ((START + timedelta(hours=9), START + timedelta(days=2)),)
    (found,) = logged(fridge(), content)
    assert found["hours"] == 18.0


LIKE_PLAIN = {
    "as another program names it": csv_of([5.5, 6.5]).replace(b"time,temperature_c", b"Timestamp,Temp"),
    "with a sign and more columns": (
        "#,Date/Time,Temperature (°C),RH\n1,2027-03-05 00:00,5.5,40\n2,2027-03-05 01:00:00,6.5,40\n".encode()
    ),
    "semicolons and decimal commas": b"time;temperature_c\r\n2027-03-05T00:00;5,5\r\n2027-03-05T01:00;6,5\r\n",
    "date and time apart": b"date,time,temperature\n2027-03-05,00:00,5.5\n2027-03-05,1:00,6.5\n",
    "newest first": b"time,temperature_c\n2027-03-05T01:00,6.5\n2027-03-05T00:00,5.5\n",
    "Fahrenheit": b"time,temperature_f\n2027-03-05T00:00,41.9\n2027-03-05T01:00,43.7\n",
}


@pytest.mark.parametrize("content", LIKE_PLAIN.values(), ids=LIKE_PLAIN.keys())
def test_loggers_write_in_many_ways(content: bytes) -> None:
    log, plain = read_log(content, "log.csv"), read_log(csv_of([5.5, 6.5]), "log.csv")
    assert (log.times, log.temperatures_c) == (plain.times, plain.temperatures_c)


FAULTS = {
    "no such columns": (b"a,b\n1,2\n", "log.csv: row 1: has no columns time and temperature_c"),
    "one reading": (csv_of([5.0]), "has fewer than two readings"),
    "a logger's code for a fault": (csv_of([5.0, 999.9, 5.0]), "row 3, column temperature_c: 999.9 is no temperature"),
    "a reading left out": (csv_of([5.0, 6.0]).replace(b",6.0", b","), "row 3, column temperature_c: is empty"),
    "no number": (csv_of([5.0, 6.0]).replace(b",6.0", b",warm"), "row 3, column temperature_c: 'warm' is not a number"),
    "a day of another calendar": (
        b"time,temperature_c\n05/03/2027 10:00,5\n",
        "row 2, column time: '05/03/2027 10:00'",
    ),
    "time there and back": (
        csv_of([5.0, 5.0, 5.0]) + b"2027-03-05T00:30,5\n",
        "row 5, column time: times must run one",
    ),
    "a time twice": (csv_of([5.0, 5.0]) + b"2027-03-05T01:00,5\n", "row 4, column time: times must run one way"),
}


@pytest.mark.parametrize("case", FAULTS.values(), ids=FAULTS.keys())
def test_a_log_that_cannot_be_trusted_is_refused(case: tuple[bytes, str]) -> None:
    content, said = case
    with pytest.raises(BadInput) as refused:
        read_log(content, "log.csv")
    faults = refused.value.each if isinstance(refused.value, Faults) else [refused.value]
    assert any(said in str(fault) for fault in faults), [str(fault) for fault in faults]


def test_a_long_log_is_quick_and_its_picture_small_and_true() -> None:
    content = csv_of([5.0] * 30_000 + [31.0] + [5.0] * 30_000, minutes=1)
    log = read_log(content, "log.csv")
    store = fridge()
    events = logged(store, content)
    found = effects(fold(store.documents("stock")[:1]), no_history, events, facts_of, "2027-04-20")
    assert common_limits(found, facts_of) == (2.0, 8.0)
    picture = log_picture(log, 2.0, 8.0, ["A-17: 1 day of life lost"]).svg
    assert len(picture) < 60_000
    assert "<title" in picture
    assert "60001 readings from 5 to 31 °C; A-17: 1 day of life lost" in picture
    assert "upper limit 8 °C" in picture
    assert "stroke-dasharray" in picture


# -- warming


def exact_middle(volume_ml: float, minutes: float) -> float:
    """What is left of the difference in the middle of the cylinder, by the series for a cylinder of finite length."""
    from scipy.optimize import brentq
    from scipy.special import j0, j1

    heat, conduction, transfer, ratio = 4.2e6, 0.12, 8.0, 2.0  # as in practice.toml
    radius = radius_m(volume_ml)
    fourier = conduction / heat * minutes * 60 / radius**2

    def roots(equation: Any) -> list[float]:
        places = [n * 0.01 for n in range(1, 6000)]
        return [brentq(equation, a, a + 0.01) for a in places if equation(a) * equation(a + 0.01) < 0]

    biot = transfer * radius / conduction
    round_way = sum(
        2 / z * j1(z) / (j0(z) ** 2 + j1(z) ** 2) * math.exp(-z * z * fourier)
        for z in roots(lambda z: z * j1(z) - biot * j0(z))
    )
    biot *= ratio
    long_way = sum(
        4 * math.sin(z) / (2 * z + math.sin(2 * z)) * math.exp(-z * z * fourier / ratio**2)
        for z in roots(lambda z: z * math.sin(z) - biot * math.cos(z))
    )
    return float(round_way * long_way)


@pytest.mark.parametrize("volume_ml", [2, 20, 100, 1000])
@pytest.mark.parametrize("cold_c", [-40, -18, 5, 11])
def test_the_wait_is_enough_by_the_exact_solution_and_not_absurdly_long(volume_ml: float, cold_c: float) -> None:
    found = warm_up(volume_ml, cold_c, 22, 45)
    wait = found["wait_min"]
    needed = (22 - found["open_above_c"]) / (22 - cold_c)
    assert exact_middle(volume_ml, wait) <= needed
    assert exact_middle(volume_ml, max(1.0, wait / 2.2 - 5)) > needed


def test_warm_enough_already() -> None:
    assert warm_up(20, 21, 22, 45)["wait_min"] == 0


def test_more_humid_is_longer_and_too_humid_is_told() -> None:
    waits = [warm_up(20, 5, 22, humidity)["wait_min"] for humidity in (20, 45, 60, 80)]
    assert waits == sorted(waits)
    assert waits[0] < waits[-1]
    with pytest.raises(BadInput, match="too damp"):
        warm_up(20, 5, 22, 85)


@pytest.mark.parametrize(
    "wrong", [{"volume_ml": 0}, {"volume_ml": float("nan")}, {"cold_c": -300}, {"relative_humidity_pct": 0}]
)
def test_wrong_figures_are_told(wrong: dict[str, float]) -> None:
    given = {"volume_ml": 20.0, "cold_c": 5.0, "air_temperature_c": 22.0, "relative_humidity_pct": 45.0} | wrong
    with pytest.raises(BadInput):
        warm_up(**given)
