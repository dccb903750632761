"""A workspace of the form before the ledger: opened, proven, set aside and worked on; or refused whole.

The workspace in tests/data/old-form was written by the version that had that form, with what it said of it.
"""

from __future__ import annotations

import json
import os
import random
import shutil
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from kb.base import disk
from kb.base.errors import StoreError
from kb.base.places import LEDGER
from kb.stock import conversion, old_form
from kb.stock.backup import backup, restore
from kb.stock.conversion import taken_over
from kb.stock.ledger import Ledger
from kb.stock.products import Products
from kb.stock.stores import Entry
from kb.stock.workspace import ledger_of
from kb.work.checking import verify
from kb.work.forms import checked
from kb.work.recording import record as keep
from kb.work.reserving import reserved_in
from kb.work.trace import Sought, trace
from tests.stock.factory import TODAY, event, record, used

DATA = Path(__file__).parents[1] / "data" / "old-form"
TOLD = json.loads((DATA / "told.json").read_text())
JOB = "Fennimore Lane brackets"


@pytest.fixture
def lab(tmp_path: Path) -> Path:
    shutil.copytree(DATA / "workspace", tmp_path / "lab")
    return tmp_path / "lab"


def files_of(folder: Path) -> dict[Path, bytes]:
    return {
        p.relative_to(folder): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file() and p.name != "lock"
    }


def same_as_told(ledger: Ledger) -> None:
    """The shelf is what the version that wrote it said it was, lot by lot, and so is what was made of it."""
    told = {row["lot"]: row for row in TOLD["list"]["lots"]}
    lots = ledger.shelf("2027-03-10").lots
    assert [(lot.lot, lot.item, float(lot.quantity), lot.unit) for lot in lots.values()] == [
        (row["lot"], row["item"], row["quantity"], row["unit"]) for row in told.values()
    ]
    assert [(lot.location or None, lot.opened) for lot in lots.values()] == [
        (row["location"], row["opened"]) for row in told.values()
    ]
    job = trace(ledger, Sought(JOB))
    assert (job.passed, job.failed) == (TOLD["trace_job"]["passed"], TOLD["trace_job"]["failed"])
    assert [share.lot for share in job.lots] == [row["lot"] for row in TOLD["trace_job"]["lots"]]


def test_the_whole_story(lab: Path, tmp_path: Path) -> None:
    before = files_of(lab)
    heard: list[str] = []
    ledger = ledger_of(lab, heard.append)
    same_as_told(ledger)
    assert len(heard) == 1
    assert "the stock was taken over into ledger.sqlite3: 55 events, 4 records and reservations" in heard[0]
    assert sorted(p.name for p in lab.iterdir()) == ["catalog", "ledger.sqlite3", "old-form", "products.csv"]
    aside = files_of(lab / "old-form")
    assert {path: before[path] for path in before if path.parts[0] in ("stock", "installations")} == aside
    assert ledger_of(lab, heard.append).documents("stock") == ledger.documents("stock")
    assert len(heard) == 1, "once"
    assert Products.load(lab).by_gtin["04012345678901"].lead_days == 20

    # It is worked on …
    record(ledger, [used("AB12", "1", at="2027-03-11"), used("AB12", "2", at="2027-02-01", reason="found late")])
    draws = [{"lot": "D-1", "quantity": "3", "unit": "mL"}]
    made = [{"installation": "9", "outcome": "pass", "lots": ["D-1"], "part": "bracket 9"}]
    given = {"job": JOB, "at": "2027-03-12", "who": "ada", "chain": {"adhesive": "x"}, "items": {"D-1": "bay-3-drum"}}
    keep(ledger, {**given, "draws": draws, "installations": made}, TODAY)
    assert verify(ledger) == type(verify(ledger))(55 + 4 + 2 + 2)

    # … backed up, restored elsewhere, traced there and worked on.
    backup(ledger, lab, tmp_path / "one.backup")
    there = tmp_path / "elsewhere"
    restore(tmp_path / "one.backup", ledger_of(there), there, checked)
    moved = ledger_of(there)
    assert moved.standing() == ledger.standing()
    assert (there / "catalog" / "degreaser" / "bay-3-drum.toml").exists()
    found = trace(moved, Sought("D-1"))
    assert [(one.job, one.part) for one in found.installations if one.name == "9"] == [(JOB, "bracket 9")]
    assert found.on_shelf[0].quantity == ledger.lot("D-1").quantity
    record(moved, [used("D-1", "1", at="2027-03-13")])
    assert moved.lot("D-1").quantity == ledger.lot("D-1").quantity - Decimal("0.001")
    assert verify(moved).problems == ()


def test_what_was_taken_over_follows_a_lot_to_its_new_name(lab: Path) -> None:
    ledger = ledger_of(lab)
    job = trace(ledger, Sought(JOB))
    renamed = job.lots[0].lot
    reserved = reserved_in(ledger)
    record(ledger, [event("renamed", renamed, to="Z-1", at="2027-03-11")])
    now = trace(ledger, Sought(JOB))
    assert [share.lot for share in now.lots] == ["Z-1" if one.lot == renamed else one.lot for one in job.lots]
    assert now.installations != ()
    assert reserved_in(ledger) == {("Z-1" if lot == renamed else lot): kept for lot, kept in reserved.items()}


def test_every_event_keeps_its_number_and_its_words(lab: Path) -> None:
    before = old_form.documents(lab / "stock")
    ledger = ledger_of(lab)
    ties = {e["id"]: e["record"] for e in ledger.documents("stock") if "record" in e}
    untied = [
        {name: value for name, value in e.items() if name != "record"}
        | ({"reason": f"record {e['record']}"} if "record" in e else {})
        for e in ledger.documents("stock")
    ]
    assert untied == before
    assert set(ties.values()) == {2, 3}
    typed = [e for e in before if e.get("reason") == "record 1"]
    assert [(e["lot"], e["id"] in ties) for e in typed] == [("AB12", False)], "words that somebody typed are no tie"
    history = {e["id"]: e for e in TOLD["history"]["events"]}
    assert {e["id"]: e for e in ledger.history("AB12")}.keys() == history.keys()


def test_what_an_export_of_that_version_holds_still_goes_in(tmp_path: Path) -> None:
    from kb.stock.interchange import brought, take_in
    from tests.stock.factory import AnyItem

    content = (DATA / "history.json").read_bytes()
    found = brought(content, "history.json", AnyItem(), "2027-03-01", "kim")
    take_in(found, ledger_of(tmp_path), tmp_path, TODAY, checked)
    told = {row["lot"]: row["quantity"] for row in TOLD["list"]["lots"]}
    lots = ledger_of(tmp_path).shelf("2027-03-10").lots
    assert {mark: float(lot.quantity) for mark, lot in lots.items()} == told


def refused_whole(lab: Path, words: str = "") -> None:
    """One line, status 4, no ledger, and the old folder as it was."""
    before = files_of(lab)
    with pytest.raises(StoreError) as refused:
        ledger_of(lab)
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)
    assert refused.value.exit_status == 4
    assert files_of(lab) == before
    assert not (lab / LEDGER).exists()


def read_of(lab: Path) -> list[Path]:
    """The files that count: the copies were for mending."""
    return [path for path in files_of(lab) if path.parts[0] in ("stock", "installations") and "copy" not in path.parts]


def test_any_cut_and_any_flip_of_it_is_refused(lab: Path) -> None:
    dice = random.Random(5)
    for path in read_of(lab):
        whole = (lab / path).read_bytes()
        places = {0, 1, len(whole) - 1, *(dice.randrange(len(whole)) for _ in range(12))}
        for place in sorted(places):
            (lab / path).write_bytes(whole[:place])
            refused_whole(lab)
            bit = bytes([whole[place] ^ 1 << dice.randrange(8)])
            (lab / path).write_bytes(whole[:place] + bit + whole[place + 1 :])
            refused_whole(lab)
        (lab / path).write_bytes(whole)
    same_as_told(ledger_of(lab))


DAMAGE: dict[str, tuple[Callable[[Path], object], str]] = {
    "a head of no bytes": (lambda lab: (lab / "stock/head.json").write_bytes(b""), "is cut short or changed"),
    "no head": (lambda lab: (lab / "stock/head.json").unlink(), "head.json: is missing"),
    "no previous head": (lambda lab: (lab / "stock/head.previous.json").unlink(), "head.previous.json: is missing"),
    "an older head": (
        lambda lab: shutil.copy(lab / "stock/head.previous.json", lab / "stock/head.json"),
        "does not lead to the present head: an older one was put back",
    ),
    "a segment gone": (lambda lab: (lab / "stock/events/000002.jsonl").unlink(), "000002.jsonl: is missing"),
    "no head of the records": (lambda lab: (lab / "installations/stock/head.json").unlink(), "head.json: is missing"),
}


@pytest.mark.parametrize("case", DAMAGE.values(), ids=DAMAGE.keys())
def test_what_is_gone_is_missed(case: tuple[Callable[[Path], object], str], lab: Path) -> None:
    damage, said = case
    damage(lab)
    refused_whole(lab, said)


def test_swapped_heads_are_noticed(lab: Path) -> None:
    head, previous = lab / "stock/head.json", lab / "stock/head.previous.json"
    new, old = head.read_bytes(), previous.read_bytes()
    head.write_bytes(old)
    previous.write_bytes(new)
    refused_whole(lab, "does not lead to the present head")


def test_a_later_version_of_it_is_told(lab: Path) -> None:
    path = lab / "stock/head.json"
    head = json.loads(path.read_bytes())["head"] | {"layout": 2}
    body = json.dumps(head, separators=(",", ":")).encode()
    path.write_bytes(b'{"blake2b":"%s","head":%s}\n' % (old_form._digest(body).encode(), body))
    refused_whole(lab, "was written by a later version")


def test_it_is_not_begun_while_somebody_writes(lab: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from filelock import FileLock

    monkeypatch.setattr(disk, "WAIT_S", 0.05)
    with FileLock(lab / "stock" / "lock"), pytest.raises(StoreError, match="another program is writing"):
        ledger_of(lab)
    same_as_told(ledger_of(lab))


def test_lines_that_were_never_acknowledged_are_left(lab: Path) -> None:
    path = lab / "stock" / "events" / "000004.jsonl"
    path.write_bytes(path.read_bytes() + path.read_bytes()[-300:])
    same_as_told(ledger_of(lab))


@pytest.mark.parametrize("left", [("stock",), ("installations",), ("stock", "installations")])
def test_a_crash_before_the_old_folders_were_set_aside(left: tuple[str, ...], lab: Path) -> None:
    ledger_of(lab)
    for name in left:
        (lab / "old-form" / name).rename(lab / name)
    record(ledger_of(lab), [used("AB12", "1", at="2027-03-11")])
    assert not (lab / "stock").exists()
    assert (lab / "old-form-2").is_dir()
    assert verify(ledger_of(lab)).problems == ()


def test_a_crash_while_it_was_built_leaves_nothing_of_it(lab: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Stopped(BaseException):
        pass

    def stops(*_: Any) -> None:
        raise Stopped

    with monkeypatch.context() as patch:
        patch.setattr(conversion, "prove", stops)
        with pytest.raises(Stopped):
            ledger_of(lab)
    left = lab / "ledger.sqlite3.123-456.new"
    left.write_bytes(b"left by a program that was ended")
    os.utime(left, (0, 0))
    same_as_told(ledger_of(lab))
    assert not list(lab.glob("*.new*"))


def test_what_an_earlier_version_wrote_afterwards_is_not_passed_over(lab: Path) -> None:
    ledger = ledger_of(lab)
    (lab / "old-form" / "stock").rename(lab / "stock")
    shutil.rmtree(lab / "old-form")
    record(ledger, [used("AB12", "1", at="2027-03-11")])
    other = json.loads(json.dumps(old_form.documents(lab / "stock")))
    other[3]["quantity"] = "7"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(old_form, "documents", lambda folder: other if folder.name == "stock" else [])
        with pytest.raises(StoreError, match="holds what an earlier version wrote after the workspace was taken over"):
            ledger_of(lab)
    assert (lab / "stock").is_dir()


# -- the ties of records


def old_use(number: int, **more: Any) -> dict[str, Any]:
    given = {"id": number, "type": "used", "at": "2027-03-02", "who": "kim", "lot": "A", "quantity": "2", "unit": "mL"}
    return {**given, "job": "J", "reason": "record 1", **more}


def old_record(*draws: dict[str, str]) -> dict[str, Any]:
    return {"id": 1, "type": "installed", "lot": "J", "at": "2027-03-02", "who": "kim", "draws": list(draws)}


DRAW = {"lot": "A", "quantity": "2", "unit": "mL"}


@pytest.mark.parametrize(
    ("use", "tied"),
    [
        (old_use(2), True),
        (old_use(2, job="K"), False),
        (old_use(2, quantity="3"), False),
        (old_use(2, lot="B"), False),
        (old_use(2, reason="record 2"), False),
        (old_use(2, reason="record one"), False),
        (old_use(2, reason="record ٣"), False),
        (old_use(2, type="counted"), False),
    ],
)
def test_a_tie_is_believed_only_where_the_record_says_the_same(use: dict[str, Any], tied: bool) -> None:
    (first, second) = taken_over([use], [old_record(DRAW)])
    assert first.body.get("record") == (1 if tied else None)
    assert (first.body.get("reason"), second.body["job"]) == (None if tied else use["reason"], "J")
    assert second.body.get("never_drawn") == (None if tied else [DRAW])


def test_one_of_two_equal_uses_is_the_record_s() -> None:
    found = taken_over([old_use(2), old_use(3)], [old_record(DRAW)])
    assert [draft.body.get("record") for draft in found if draft.stream == "stock"] == [1, None]


def test_what_a_record_never_took_is_told_and_blocks_nothing(tmp_path: Path) -> None:
    came = {"id": 1, "type": "received", "at": "2027-03-01", "who": "kim", "lot": "A", "item": "x", "quantity": "9"}
    made = {"chain": {"adhesive": "x"}, "installations": [{"installation": "1", "outcome": "pass"}]}
    drafts = taken_over([{**came, "unit": "mL"}], [{**old_record(DRAW), **made}])
    ledger = ledger_of(tmp_path)
    ledger.append(lambda _: drafts)
    report = verify(ledger)
    assert report.problems == ()
    assert report.notes == (
        "record 1 of an earlier version says that it took 2 mL of A, and never took it from the shelf: count that lot",
    )
    again = {"job": "J", "at": "2027-03-03", "who": "kim", "items": {"A": "x"}, "chain": {"adhesive": "x"}}
    keep(ledger, {**again, "draws": [DRAW], "installations": [{"installation": "2", "outcome": "pass"}]}, TODAY)
    assert ledger.lot("A").quantity == Decimal(7)


def test_a_fold_that_came_out_otherwise_is_not_taken_over() -> None:
    events = old_form.documents(DATA / "workspace" / "stock")
    entries = [Entry(n, "stock", dict(event)) for n, event in enumerate(events, 1)]
    conversion.prove(events, entries)
    entries[3].body["quantity"] = "1"
    with pytest.raises(StoreError, match=r"event 4 isn't what it was|does not add up"):
        conversion.prove(events, entries)
    entries[3].body["quantity"] = events[3]["quantity"]
    with pytest.raises(StoreError, match="does not add up"):
        conversion.prove(events, entries[:-1])
