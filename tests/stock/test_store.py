"""What every store must do. A new implementation is one more entry in STORES."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from kb.base.errors import StoreError
from kb.stock.admission import record, rehearse
from kb.stock.ledger import Refused
from kb.stock.log.memory import MemoryStore
from kb.stock.log.store import Store
from kb.stock.log.tinystore import TinyStore
from tests.stock.factory import event, received, used

STORES: dict[str, Callable[[Path], Store]] = {
    "memory": lambda _: MemoryStore(),
    "tiny": TinyStore,
    "tiny, small segments": lambda folder: TinyStore(folder, full=3),
}


@pytest.fixture(params=STORES)
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Store:
    return STORES[request.param](tmp_path)


def test_empty(store: Store) -> None:
    assert store.events() == []
    assert store.events({"A-17"}) == []
    assert store.verify().problems == ()


def test_ids_rise_in_the_order_of_recording(store: Store) -> None:
    record(store, [received("A"), received("B")])
    record(store, [used("B"), used("A")])
    assert [(e["id"], e["lot"]) for e in store.events()] == [(1, "A"), (2, "B"), (3, "B"), (4, "A")]


def test_what_is_stored_is_what_was_acknowledged(store: Store) -> None:
    told = [record(store, [received(f"L{n}", reason='a "quoted", ünïcode\u2028 line')]) for n in range(10)]
    assert store.events() == [acknowledged for one in told for acknowledged in one]
    assert store.verify().events == 10
    assert store.verify().problems == ()


def test_events_of_some_lots(store: Store) -> None:
    record(store, [received(f"L{n}") for n in range(10)])
    record(store, [used("L1"), used("L10x") | {"type": "received", "item": "acetone"}])
    assert [e["id"] for e in store.events({"L1", "L7"})] == [2, 8, 11]
    assert store.events({"L"}) == []
    assert store.events(set()) == []


def test_decide_sees_the_lots_as_they_are(store: Store) -> None:
    record(store, [received("A"), received("B")])
    seen: list[Any] = []

    def decide(history: Any) -> list[Any]:
        seen.extend(history)
        return []

    assert store.append({"B"}, decide) == []
    assert [e["lot"] for e in seen] == ["B"]


def test_a_refusal_changes_nothing(store: Store) -> None:
    record(store, [received("A", "5")])
    with pytest.raises(Refused, match=r"6 mL asked for, and 5 mL are left"):
        record(store, [received("B"), used("A", "6")])
    assert [e["lot"] for e in store.events()] == ["A"]


def test_any_error_of_decide_changes_nothing(store: Store) -> None:
    def decide(_: Any) -> list[Any]:
        raise RuntimeError("no")

    with pytest.raises(RuntimeError):
        store.append({"A"}, decide)
    assert store.events() == []
    record(store, [received("A")])
    assert len(store.events()) == 1


def test_a_batch_is_one(store: Store) -> None:
    assert len(record(store, [received(f"L{n}") for n in range(100)])) == 100
    assert [e["id"] for e in store.events()] == list(range(1, 101))
    record(store, [used("L5")])
    assert store.events()[-1]["id"] == 101


def test_given_ids_are_kept_where_they_rise(store: Store) -> None:
    store.append(set(), lambda _: [received("A") | {"id": 7}])
    assert record(store, [used("A")])[0]["id"] == 8
    with pytest.raises(StoreError, match="event 8 is in the store already"):
        store.append(set(), lambda _: [received("B") | {"id": 8}])
    assert [e["id"] for e in store.events()] == [7, 8]


def test_a_rehearsal_writes_nothing(store: Store) -> None:
    record(store, [received("A")])
    assert rehearse(store, [used("A")])[0]["quantity"] == "1"
    with pytest.raises(Refused):
        rehearse(store, [used("A", "501")])
    assert len(store.events()) == 1


def test_what_comes_out_can_be_changed_freely(store: Store) -> None:
    record(store, [received("A")])
    store.events()[0]["quantity"] = "9"
    assert store.events()[0]["quantity"] == "500"


def test_corrections_are_events(store: Store) -> None:
    record(store, [received("A"), used("A", "50")])
    record(store, [event("corrected", "A", corrects=2, change={"quantity": "5.0"}, reason="slip of the pen")])
    assert [e["type"] for e in store.events({"A"})] == ["received", "used", "corrected"]
    assert store.events()[-1]["change"] == {"quantity": "5"}
