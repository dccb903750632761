"""What won't be used up, what to order, what a planned job will miss."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from kb.stock.flags import first_out, flags, judged, rates
from tests.stock.factory import event, in_memory, received, record, used


def facts_of(_: str) -> Mapping[str, Any]:
    return {}


def shelf(*drafts: dict[str, Any]) -> Any:
    store = in_memory()
    record(store, drafts)
    return store.shelf()


def steady_use(lot: str = "A-17", amount: str = "90") -> list[dict[str, Any]]:
    """`amount` mL in the ninety days up to 2027-06-01."""
    return [used(lot, amount, at="2027-05-01")]


def test_the_going_rate_is_what_was_used_over_the_last_ninety_days() -> None:
    one = shelf(
        received(quantity="900", at="2027-01-01"),
        used(quantity="300", at="2027-03-03"),
        used(quantity="0.03", unit="L", at="2027-03-04"),
        used(quantity="60", at="2027-06-01"),
        event("counted", at="2027-06-01", quantity="400", unit="mL"),
        used(quantity="50", at="2027-06-02"),
    )
    assert rates(one, "2027-06-01") == {("acetone", "mL"): Decimal(1)}


def test_corrected_uses_count_as_corrected() -> None:
    store = in_memory()
    record(store, [received(quantity="900"), used(quantity="90", at="2027-05-01")])
    record(store, [event("corrected", corrects=2, void=True, reason="r", at="2027-05-02")])
    assert rates(store.shelf(), "2027-06-01") == {}


def test_what_expires_before_it_can_be_used_up() -> None:
    one = shelf(received(quantity="190", expires="2027-06-30"), *steady_use(amount="90"))
    found = flags(one, facts_of, "2027-06-01")
    (left,) = found.left_over
    assert (left.lot, left.left, left.rate) == ("A-17", Decimal(70), Decimal(1))  # 30 days, the last one too


def test_what_can_just_be_used_up_is_not_told() -> None:
    one = shelf(received(quantity="120", expires="2027-06-30"), *steady_use(amount="90"))
    assert flags(one, facts_of, "2027-06-01").left_over == []


def test_first_expired_is_used_first_and_a_later_lot_waits_for_it() -> None:
    one = shelf(
        received("late", "20", expires="2027-06-30"),
        received("soon", "115", expires="2027-06-20"),
        *steady_use("soon", "90"),
    )
    found = flags(one, facts_of, "2027-06-01")
    assert [lot.lot.lot for lot in first_out(found.lots)] == ["soon", "late"]
    # 25 mL until 06-20 need 20 days and leave 5; of 20 mL more, ten days use 10.
    assert [(left.lot, left.left) for left in found.left_over] == [("soon", Decimal(5)), ("late", Decimal(10))]


def test_an_unused_lot_is_told_when_its_end_is_near() -> None:
    one = shelf(received("near", expires="2027-06-20"), received("far", expires="2028-06-20"))
    assert [left.lot for left in flags(one, facts_of, "2027-06-01").left_over] == ["near"]


def test_reorder_in_time() -> None:
    """20 mL at 1 mL a day are gone in 20 days: too late for 21 days of delivery, in time for 19."""
    one = shelf(received(quantity="110", expires="2028-06-30"), *steady_use(amount="90"))
    for lead, due in ((21, True), (20, True), (19, False)):
        found = flags(one, facts_of, "2027-06-01", lead_days={"acetone": lead}).reorder
        assert bool(found) is due
    (order,) = flags(one, facts_of, "2027-06-01", lead_days={"acetone": 21}).reorder
    assert (order.usable, order.rate, order.runs_out, order.order_by) == (
        Decimal(20),
        Decimal(1),
        "2027-06-21",
        "2027-05-31",
    )


def test_what_expires_does_not_keep_an_item_from_running_out() -> None:
    one = shelf(received(quantity="990", expires="2027-06-10"), *steady_use(amount="90"))
    (order,) = flags(one, facts_of, "2027-06-01").reorder
    assert order.runs_out == "2027-06-11"


def test_barred_stock_is_no_stock() -> None:
    one = shelf(
        received(quantity="990", expires="2028-06-10"), *steady_use(), event("condemned", at="2027-05-02", reason="r")
    )
    found = flags(one, facts_of, "2027-06-01")
    assert found.barred
    assert found.reorder[0].usable == 0


def test_empty_lots_bar_nothing() -> None:
    one = shelf(received(quantity="1", expires="2027-03-02"), used())
    assert not flags(one, facts_of, "2027-06-01").barred


def test_a_planned_job_is_told_what_will_be_out_of_date_on_its_day() -> None:
    one = shelf(
        received("good", expires="2028-01-01"),
        received("ends", expires="2027-07-01"),
        received("ended", expires="2027-05-01"),
        received("other", expires="2027-07-01", item="ethanol"),
    )
    (late,) = flags(one, facts_of, "2027-06-01", planned={"acetone": "2027-07-02"}).planned
    assert (late.lot, late.others) == ("ends", 1)
    assert flags(one, facts_of, "2027-06-01", planned={"acetone": "2027-07-01"}).planned == []


@settings(max_examples=100)
@given(
    st.lists(st.tuples(st.integers(1, 400), st.integers(1, 200)), min_size=1, max_size=6),
    st.integers(1, 300),
)
def test_left_over_equals_a_day_by_day_simulation(lots: list[tuple[int, int]], rate_90: int) -> None:
    """Against the plain simulation: each day, a day's amount from the first lot to expire that still may be used."""
    from datetime import date, timedelta

    today = date(2027, 6, 1)
    drafts = [received("used", str(rate_90), at="2027-05-01"), used("used", str(rate_90), at="2027-05-01")]
    for number, (amount, days) in enumerate(lots):
        last = (today + timedelta(days=days)).isoformat()
        drafts.append(received(f"L{number}", str(amount), expires=last))
    found = {left.lot: float(left.left) for left in flags(shelf(*drafts), facts_of, today.isoformat()).left_over}
    left = {f"L{n}": float(amount) for n, (amount, _) in enumerate(lots)}
    order = sorted(left, key=lambda mark: (lots[int(mark[1:])][1], mark))
    for day in range(max(days for _, days in lots) + 1):
        wanted = rate_90 / 90
        for mark in order:
            if day <= lots[int(mark[1:])][1]:
                taken = min(wanted, left[mark])
                left[mark] -= taken
                wanted -= taken
    for mark, unused in left.items():
        assert abs(found.get(mark, 0.0) - unused) < 1e-6


def test_judged_keeps_the_order_of_the_shelf() -> None:
    one = shelf(received("B"), received("A"))
    assert [lot.lot.lot for lot in judged(one, facts_of, "2027-06-01")] == ["B", "A"]
