"""The load test, short: several people at once lose nothing and double nothing. How quick it is isn't judged here."""

from __future__ import annotations

from pathlib import Path

from tests.stock.factory import record
from tests.web.load import ITEM, Seen, faults_of, run


def test_a_few_at_once_lose_nothing_and_double_nothing(tmp_path: Path) -> None:
    seen, faults, alone = run(tmp_path, users=5, seconds=3, think=0.3, count=12)
    assert faults == []
    assert len(alone) == 24
    assert seen.acknowledged
    assert {"plan-page", "plan-api", "write"} <= set(seen.times)


def test_what_is_lost_or_doubled_is_noticed(tmp_path: Path) -> None:
    came = {"type": "received", "at": "2027-03-01", "who": "kim", "item": ITEM, "quantity": "5", "unit": "g"}
    lots = [{**came, "lot": f"L{number}", "reason": f"write {number // 2}"} for number in range(3)]
    first, second, _ = record(tmp_path, lots)
    seen = Seen(acknowledged={first["id"]: "write 0", second["id"]: "write 1", 99: "write 7"})
    assert faults_of(seen, tmp_path, 0) == [
        "write 0 is in the ledger 2 times",
        "event 99 (write 7) is lost",
        "event 2 is not write 1",
        "event 99 is not write 7",
    ]
