"""Records and reservations: both a record and its draws or neither, once, and tied to each other by their numbers."""

from __future__ import annotations

import threading
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.stock.ledger import Ledger
from kb.stock.lots import Refused
from kb.stock.workspace import ledger_of
from kb.work.checking import verify
from kb.work.forms import checked
from kb.work.installations import installations
from kb.work.recording import made, rehearse
from kb.work.recording import record as keep
from kb.work.reserving import own_reservation, reserve, reserved, reserved_in
from tests.stock.factory import TODAY, event, in_memory, received, record, used

ON = "2027-03-01"


def record_of(numbers: list[str], *, fails: tuple[str, ...] = (), lots: tuple[str, ...] = ("A",), **more: Any) -> Any:
    return {
        "job": "bracket", "at": "2027-03-02", "who": "kim", "chain": {"adhesive": "x"},
        "items": dict.fromkeys(lots, "x"),
        "draws": [{"lot": mark, "quantity": str(len(numbers)), "unit": "mL"} for mark in lots],
        "installations": [
            {"installation": n, "outcome": "fail" if n in fails else "pass", "lots": list(lots), "part": f"b{n}"}
            for n in numbers
        ],
        **more,
    }  # fmt: skip


def lab() -> Ledger:
    return in_memory(received("A", item="x"), received("B", item="x"))


def of(ledger: Ledger) -> list[Any]:
    return ledger.documents("work")


def test_a_record_draws_the_stock_down_once() -> None:
    ledger = lab()
    keep(ledger, record_of(["1", "2"]), TODAY)
    assert ledger.lot("A").quantity == 498
    with pytest.raises(BadInput, match="recorded already"):
        keep(ledger, record_of(["2"]), TODAY)
    assert ledger.lot("A").quantity == 498
    keep(ledger, record_of(["2"], fails=("2",), again=True, reason="let go in service", draws=[]), TODAY)
    assert [one.outcome for one in installations(of(ledger))] == ["pass", "fail"]
    assert ledger.lot("A").quantity == 498
    assert verify(ledger).problems == ()


def test_a_use_is_tied_to_its_record_by_number_and_by_no_words() -> None:
    """A use whose reason reads like a record's name is nobody's but its own."""
    ledger = lab()
    record(ledger, [used("A", "70", reason="record 1", job="bracket"), used("B", "5", reason="record 1")])
    keep(ledger, record_of(["1", "2"]), TODAY)
    assert ledger.lot("A").quantity == 500 - 70 - 2
    tied = [e for e in ledger.history("A") if "record" in e]
    said = [(e["record"], e["quantity"], e["job"], e["installation"]) for e in tied]
    assert said == [(1, "2", "bracket", "2 of them")]
    assert "reason" not in tied[0]
    with pytest.raises(BadInput, match="record: is given by the program"):
        record(ledger, [used("A", record=1)])


def test_what_the_shelf_does_not_have_is_refused_and_nothing_is_recorded() -> None:
    ledger = lab()
    wanted = record_of(["1"])
    wanted["draws"][0]["quantity"] = "501"
    for refuses in (keep, rehearse):
        with pytest.raises(BadInput, match="500 mL are left"):
            refuses(ledger, wanted, TODAY)
    assert of(ledger) == []
    assert ledger.lot("A").quantity == 500
    with pytest.raises(BadInput, match=r"installations\.0\.outcome"):
        keep(ledger, {**record_of(["1"]), "installations": [{"installation": "1", "outcome": "maybe"}]}, TODAY)
    keep(ledger, record_of(["1"]), TODAY)
    assert ledger.lot("A").quantity == 499, "one that was refused blocks nothing"


def test_a_later_use_does_not_block_the_record() -> None:
    ledger = lab()
    record(ledger, [used("A", "1", at="2027-05-01")])
    keep(ledger, record_of(["1"]), TODAY)
    assert ledger.lot("A").quantity == 498


def test_two_records_on_one_lot_at_once(tmp_path: Path) -> None:
    """Of eight who need 3 of 10, three are acknowledged, and the others are refused whole."""
    record(tmp_path, [received("A", "10", item="x")])
    told: list[str] = []

    def works(name: str) -> None:
        wanted = record_of(["1"], job=name)
        wanted["draws"][0]["quantity"] = "3"
        try:
            keep(ledger_of(tmp_path), wanted, TODAY)
            told.append(name)
        except Refused:
            told.append("refused")

    threads = [threading.Thread(target=works, args=(f"job {n}",)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    ledger = ledger_of(tmp_path)
    acknowledged = sorted(name for name in told if name != "refused")
    assert (len(told), len(acknowledged)) == (8, 3)
    assert sorted(one.job for one in installations(of(ledger))) == acknowledged
    assert ledger.lot("A").quantity == 1
    assert verify(ledger).problems == ()


def test_a_record_of_a_day_ahead_is_asked_about() -> None:
    ledger = lab()
    with pytest.raises(BadInput, match="ahead of today"):
        keep(ledger, record_of(["1"], at="2028-01-15"), TODAY)
    keep(ledger, record_of(["1"], at="2028-01-15"), TODAY, ahead=True)


def test_a_reason_says_why_it_failed() -> None:
    limits = {"zero_return_ue": {"at_most": 2.0, "unit": "microstrain"}}
    found = made({"installation": "1", "outcome": "fail"}, {}, limits, reason="lifted overnight")
    assert found["why"] == "lifted overnight"
    assert made({"installation": "1", "outcome": "fail", "note": "corner"}, {}, limits, "r")["why"] == "corner"
    assert made({"installation": "1"}, {"zero_return_ue": 3.0}, limits, "r")["why"].startswith("zero_return_ue 3")
    assert made({"installation": "1", "outcome": "pass"}, {}, limits, "r")["why"] == ""


def test_a_reservation_shrinks_as_it_is_used_and_ends() -> None:
    ledger = lab()
    reserve(ledger, "bracket", [("A", Decimal(10), "mL"), ("B", Decimal(1), "mL")], ON, "kim", TODAY)
    assert reserved_in(ledger) == {"A": (Decimal(10), "mL"), "B": (Decimal(1), "mL")}
    assert reserved_in(ledger, apart_from="bracket") == {}
    keep(ledger, record_of(["1", "2", "3"]), TODAY)
    assert reserved_in(ledger) == {"A": (Decimal(7), "mL"), "B": (Decimal(1), "mL")}
    reserve(ledger, "other", [("A", Decimal("0.005"), "L")], ON, "kim", TODAY)
    assert reserved_in(ledger)["A"] == (Decimal(12), "mL")
    assert own_reservation(ledger, "other") == {"A": (Decimal("0.005"), "L")}
    reserve(ledger, "bracket", [], ON, "kim", TODAY)
    assert reserved_in(ledger) == {"A": (Decimal("0.005"), "L")}


def test_more_is_used_than_was_reserved() -> None:
    """What is left of the reservation is nothing, and no negative amount that others would gain by."""
    ledger = lab()
    reserve(ledger, "bracket", [("A", Decimal(2), "mL")], ON, "kim", TODAY)
    keep(ledger, record_of(["1", "2", "3"]), TODAY)
    assert reserved_in(ledger) == {}
    reserve(ledger, "other", [("A", Decimal(4), "mL")], ON, "kim", TODAY)
    assert reserved(of(ledger)) == {"A": (Decimal(4), "mL")}


def test_names_follow_the_lot() -> None:
    ledger = lab()
    reserve(ledger, "other", [("A", Decimal(4), "mL")], ON, "kim", TODAY)
    keep(ledger, record_of(["1"]), TODAY)
    record(ledger, [event("renamed", "A", to="A-right"), received("A", "9", item="y")])
    assert reserved_in(ledger) == {"A-right": (Decimal(4), "mL")}


def test_what_is_named_right_after_a_new_name_follows_the_lot_to_the_next() -> None:
    ledger = lab()
    record(ledger, [event("renamed", "A", to="A-new")])
    reserve(ledger, "other", [("A-new", Decimal(4), "mL")], ON, "kim", TODAY)
    record(ledger, [event("renamed", "A-new", to="A-right"), received("A", "9", item="y")])
    assert reserved_in(ledger) == {"A-right": (Decimal(4), "mL")}


def test_of_a_lot_that_never_came_nothing_is_kept() -> None:
    ledger = lab()
    record(ledger, [received("G", "9", item="y", unit="g"), received("H", "9", item="y")])
    reserve(ledger, "other", [("G", Decimal(4), "g"), ("H", Decimal(4), "mL")], ON, "kim", TODAY)
    reserve(ledger, "third", [("A", Decimal(1), "mL")], ON, "kim", TODAY)
    numbers = {one["lot"]: one["id"] for one in ledger.documents("stock")}
    record(ledger, [event("corrected", lot, corrects=numbers[lot], void=True, reason="r") for lot in "GH"])
    record(ledger, [received("G", "9", item="y")])
    assert reserved_in(ledger) == {"A": (Decimal(1), "mL")}


def test_records_outlive_the_program(tmp_path: Path) -> None:
    record(tmp_path, [received("A", item="x")])
    keep(ledger_of(tmp_path), record_of([str(n) for n in range(1, 161)]), TODAY)
    assert len(installations(of(ledger_of(tmp_path)))) == 160
    assert verify(ledger_of(tmp_path)).problems == ()


def test_what_is_kept_comes_back_in_the_same_form() -> None:
    ledger = lab()
    kept = keep(ledger, record_of(["1"], bench={"relative_humidity_pct": 44}), TODAY)
    assert checked(kept) == kept
    assert (kept["id"], kept["recorded"], kept["as_of"]) == (1, TODAY, 2)
    assert rehearse(ledger, record_of(["2"]), TODAY)["as_of"] == 3
