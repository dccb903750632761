"""Which lots went where: what is void is nobody's, what is left is told, and containers of one lot know each other."""

from __future__ import annotations

from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.report.trace import trace_json, trace_text
from kb.stock.ledger import Ledger
from kb.work.recording import record as keep
from kb.work.trace import Sought, Trace, trace
from tests.stock.factory import TODAY, event, in_memory, received, record, used
from tests.work.test_recording import record_of


@pytest.fixture
def lab() -> Ledger:
    ledger = in_memory(
        received("A", item="x", batch="M-9", location="fridge"),
        received("A-2", item="x", batch="M-9"),
        received("B", item="y"),
    )
    keep(ledger, record_of(["1", "2", "3"], fails=("2", "3")), TODAY)
    keep(ledger, record_of(["4"], lots=("B",), who="ada", at="2027-03-09"), TODAY)
    keep(ledger, record_of(["5"], lots=("A", "B"), job="other job", at="2027-04-01"), TODAY)
    keep(ledger, record_of(["6"], lots=("A-2",), job="third"), TODAY)
    return ledger


def names(found: Trace) -> list[str]:
    return [one.name for one in found.installations]


def said(found: Trace) -> str:
    return trace_text(found, {})


def test_both_ways(lab: Ledger) -> None:
    record(lab, [used("A", "3", at="2027-03-05")])
    job = trace(lab, Sought("bracket"))
    assert [(share.lot, share.installations, share.failed) for share in job.lots] == [("A", 3, 2), ("B", 1, 0)]
    bad = trace(lab, Sought("A"))
    assert names(bad) == ["1", "2", "3", "5"]
    assert [(who, part, [i.name for i in ones]) for who, part, ones in bad.recall] == [
        ("bracket", "b1", ["1"]),
        ("other job", "b5", ["5"]),
    ]
    assert [one["quantity"] for one in bad.other_uses] == ["3"]
    assert trace(lab, Sought("no such job yet", job=True)).installations == ()


def test_a_use_that_was_taken_back_is_no_use(lab: Ledger) -> None:
    record(lab, [used("A", "3", at="2027-03-05", reason="a jig")])
    assert "Also used: #9 2027-03-05 A used 3 mL, by kim; reason a jig" in said(trace(lab, Sought("A")))
    record(lab, [event("corrected", "A", corrects=9, void=True, reason="r")])
    assert trace(lab, Sought("A")).other_uses == ()


def test_a_use_of_a_record_that_was_taken_back_is_told(lab: Ledger) -> None:
    (tied,) = (one["id"] for one in lab.history("A-2") if one["type"] == "used")
    assert trace(lab, Sought("A-2")).undone_uses == ()
    record(lab, [event("corrected", "A-2", corrects=tied, void=True, reason="it was B")])
    found = trace(lab, Sought("A-2"))
    assert names(found) == ["6"], "the record names the lot still: it errs to the safe side"
    assert f"Undone: #{tied} 2027-03-02 A-2 used 1 mL" in said(found)
    assert [one["id"] for one in trace_json(found)["undone_uses"]] == [tied]
    assert trace(lab, Sought("A")).undone_uses == ()


def test_containers_of_one_lot_of_the_maker_s_know_each_other(lab: Ledger) -> None:
    one = trace(lab, Sought("A"))
    there = [(left.lot, str(left.quantity), left.installations) for left in one.on_shelf]
    assert there == [("A", "496", 4), ("A-2", "499", 1)]
    text = said(one)
    assert "Of it on the shelf: 496 mL of A, fridge" in text
    assert "Of the same lot of the maker's: 499 mL of A-2; it is in 1 installation" in text
    every = trace(lab, Sought(batch="M-9"))
    assert (every.kind, names(every)) == ("batch", ["1", "2", "3", "5", "6"])
    document = trace_json(every)
    assert [row["lot"] for row in document["on_shelf"]] == ["A", "A-2"]
    with pytest.raises(BadInput, match="M-8: no container of such a lot"):
        trace(lab, Sought(batch="M-8"))


def test_a_lot_that_bears_the_maker_s_name_is_one_of_its_containers() -> None:
    ledger = in_memory(received("M-9", item="x"), received("second", item="x", batch="M-9"), received("M-9x", item="x"))
    assert [left.lot for left in trace(ledger, Sought("M-9")).on_shelf] == ["M-9", "second"]
    other = in_memory(received("M-9", item="x"), received("second", item="y", batch="M-9"))
    assert [left.lot for left in trace(other, Sought("M-9")).on_shelf] == ["M-9"]
    gtins = {"gtin": "04012345678901"}, {"gtin": "04012345678918"}
    makers = in_memory(received("M-9", item="x", **gtins[0]), received("second", item="x", batch="M-9", **gtins[1]))
    assert [left.lot for left in trace(makers, Sought("M-9")).on_shelf] == ["M-9"], "two makers, one name"


@pytest.mark.parametrize(
    ("sought", "kind", "found"),
    [
        (Sought(part="b4"), "part", ["4"]),
        (Sought(who="ada"), "who", ["4"]),
        (Sought(since="2027-03-09"), "days", ["4", "5"]),
        (Sought(until="2027-03-08"), "days", ["1", "2", "3", "6"]),
        (Sought(since="2027-03-03", until="2027-03-31"), "days", ["4"]),
        (Sought("A", since="2027-03-31"), "lot", ["5"]),
        (Sought("bracket", who="kim"), "job", ["1", "2", "3"]),
        (Sought(part="no such part"), "part", []),
    ],
)
def test_by_part_person_and_days(lab: Ledger, sought: Sought, kind: str, found: list[str]) -> None:
    there = trace(lab, sought)
    assert (there.kind, names(there)) == (kind, found)
    assert trace_json(there)["kind"] == kind


def test_a_renamed_lot_keeps_what_was_made_of_it(lab: Ledger) -> None:
    record(lab, [event("renamed", "A", to="A-right"), received("A", item="z")])
    assert names(trace(lab, Sought("A-right"))) == ["1", "2", "3", "5"]
    assert names(trace(lab, Sought("A"))) == []
    assert [share.lot for share in trace(lab, Sought("bracket")).lots] == ["A-right", "B"]


def test_what_is_used_up_is_said(lab: Ledger) -> None:
    record(lab, [event("disposed", "A-2", at="2027-05-01")])
    assert "Of it on the shelf: nothing is left of A-2" in said(trace(lab, Sought("A-2")))


@pytest.mark.parametrize(
    ("sought", "words"),
    [(Sought("nope"), "nope: there is no such lot, and no work on such a job"), (Sought(), "nothing is asked for")],
)
def test_what_is_not_there_is_one_line(lab: Ledger, sought: Any, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        trace(lab, sought)
