"""The commands: documents alone on standard output, the statuses of the contract, dry runs and confirmations."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from kb.base.errors import TackroomError
from kb.base.places import LEDGER
from kb.cli.stock import app
from tests.stock.factory import events

Run = Callable[..., Any]
LIST = """item,lot,quantity,unit,received,made,expires,opened,storage_c,location
acetone,A-1,500,mL,2027-01-10,2026-12-01,2028-12-01,,21,cabinet
ethanol,E-1,500,mL,2027-01-10,2026-12-01,2027-02-28,2027-01-11,21,cabinet
"""
LOT_FIELDS = {
    "lot", "item", "quantity", "unit", "received", "made", "expires", "opened", "usable_until", "storage_c", "location",
    "state",
}  # fmt: skip


class Answer:
    """What a command gave: status, standard output, standard error (with the line that `main` prints)."""

    def __init__(self, result: Any) -> None:
        fault = result.exception
        known = isinstance(fault, TackroomError)
        if fault is not None and not known and not isinstance(fault, SystemExit):
            raise fault
        self.status = fault.exit_status if known else result.exit_code
        self.out, self.error = result.stdout, result.stderr + (str(fault) if known else "")

    @property
    def json(self) -> Any:
        return json.loads(self.out)


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.setenv("TACKROOM_WORKSPACE", str(tmp_path))
    monkeypatch.setenv("TACKROOM_WHO", "kim")
    monkeypatch.setenv("TACKROOM_TODAY", "2027-06-01")
    monkeypatch.chdir(tmp_path)
    return lambda *words, **more: Answer(CliRunner().invoke(app, [str(word) for word in words], **more))


@pytest.fixture
def stocked(run: Run, tmp_path: Path) -> Run:
    (tmp_path / "in.csv").write_text(LIST)
    assert run("import", "in.csv", "--at", "2027-01-12").status == 0
    return run


def test_list_is_the_contract_s(stocked: Run) -> None:
    answer = stocked("list", "--on", "2027-01-20", "--json")
    assert answer.status == 0
    assert answer.json["schema"] == "tackroom.stock/1"
    first, second = answer.json["lots"]
    assert set(first) >= LOT_FIELDS
    assert first == {**first, "lot": "A-1", "item": "acetone", "quantity": 500.0, "unit": "mL", "state": "in-date"}
    assert first == {**first, "received": "2027-01-10", "made": "2026-12-01", "expires": "2028-12-01", "opened": None}
    assert first == {**first, "usable_until": "2028-12-01", "storage_c": 21.0, "location": "cabinet"}
    assert second["opened"] == "2027-01-11"


@pytest.mark.parametrize(
    ("on", "state", "status"),
    [("2027-01-20", "in-date", 0), ("2027-02-28", "expires-soon", 0), ("2027-03-01", "expired", 1)],
)
def test_flag_tells_by_its_status_what_must_not_be_used(stocked: Run, on: str, state: str, status: int) -> None:
    answer = stocked("flag", "--on", on, "--json")
    assert answer.status == status
    lot = answer.json["lots"][1]
    assert (lot["state"], bool(lot["reason"])) == (state, True)


def test_flag_within(stocked: Run) -> None:
    states = [
        stocked("flag", "--on", "2027-01-20", "--within", days, "--json").json["lots"][1]["state"] for days in (38, 39)
    ]
    assert states == ["in-date", "expires-soon"]


EVENTS = {
    "receive": ("receive", "ethanol", "E-2", "1", "L", "--expires", "2028-01-31", "--storage-c", "-18"),
    "open": ("open", "A-1"),
    "thaw": ("thaw", "A-1"),
    "mix": ("mix", "A-1"),
    "use": ("use", "A-1", "2.5", "ml", "--job", "J-1", "--part", "P", "--installation", "3"),
    "move": ("move", "A-1", "bench", "--storage-c", "22"),
    "count": ("count", "A-1", "0.4", "L"),
    "dispose": ("dispose", "A-1", "--reason", "past its day"),
    "rename": ("rename", "A-1", "A-11"),
    "hold": ("hold", "A-1", "--reason", "cloudy"),
    "undo": ("undo", "3"),
    "requalify": ("requalify", "A-1", "--until", "2029-01-31", "--test", "R-1", "--reason", "as new"),
    "release": ("release", "A-1", "--reason", "an hour only"),
    "condemn": ("condemn", "A-1", "--reason", "water in it", "--yes"),
    "correct": ("correct", "A-1", "1", "--set", "expires=2028-11-30", "--set", "made=", "--reason", "misread"),
}


@pytest.mark.parametrize("words", EVENTS.values(), ids=EVENTS.keys())
def test_each_event_is_one_event_and_a_dry_run_none(stocked: Run, tmp_path: Path, words: tuple[str, ...]) -> None:
    dry = stocked(*words, "--at", "2027-01-20", "--dry-run", "--json")
    assert (dry.status, dry.json["dry_run"], len(events(tmp_path))) == (0, True, 3)
    real = stocked(*words, "--at", "2027-01-20", "--json")
    assert (real.status, real.json["dry_run"]) == (0, False)
    (event,) = real.json["events"]
    assert event == events(tmp_path)[-1]
    assert (event["who"], event["at"], event["id"]) == ("kim", "2027-01-20", 4)
    assert {**dry.json["events"][0], "id": 4} == event
    assert stocked("verify").status == 0


@pytest.mark.parametrize(
    "words", [EVENTS["receive"], ("move", "A-1", "cold room", "--storage-c", "-18"), ("count", "A-1", "9", "L")]
)
def test_what_looks_like_a_slip_is_undone_once_it_is_recorded_only(stocked: Run, words: tuple[str, ...]) -> None:
    dry = stocked(*words, "--at", "2027-01-20", "--dry-run").error
    assert "before it is recorded" in dry
    assert "stock undo" not in dry
    assert "`stock undo`" in stocked(*words, "--at", "2027-01-20").error


def test_thawing_what_never_froze_is_doubted(stocked: Run) -> None:
    stocked("move", "A-1", "fridge", "--storage-c", "5", "--at", "2027-01-20")
    assert "it stood at 5 degC, not frozen" in stocked("thaw", "A-1", "--at", "2027-01-21").error


@pytest.mark.parametrize("begun", ["open", "mix", "thaw"])
def test_work_begun_on_what_must_not_be_used_is_told(stocked: Run, begun: str) -> None:
    """It is a fact all the same, and is recorded."""
    stocked("receive", "acetone", "X-1", "100", "mL", "--at", "2027-01-10", "--expires", "2027-02-01")
    early, late = (stocked(begun, "X-1", "--at", day, "--dry-run") for day in ("2027-01-20", "2027-03-01"))
    assert (early.error, early.status) == ("", 0)
    assert (
        late.error
        == "X-1: expired: date on the container ended on 2027-02-01: it must not be used. See `stock flag`.\n"
    )
    assert (late.status, stocked(begun, "X-1", "--at", "2027-03-01").status) == (0, 0)


def test_text_for_people_says_the_same(stocked: Run, tmp_path: Path) -> None:
    assert "A-1 used 2.5 mL, by kim" in stocked("use", "A-1", "2.5", "mL", "--at", "2027-01-20").out
    assert "Not recorded (dry run)" in stocked("open", "A-1", "--at", "2027-01-21", "--dry-run").out
    listed = stocked("list", "--on", "2027-01-20").out
    assert listed.startswith(f"Shelf of {tmp_path}, on 2027-01-20\n")
    assert "A-1  acetone  497.5 mL" in listed
    assert "Must not be used:\n  E-1 (ethanol): expired" in stocked("flag", "--on", "2027-03-01").out
    assert "#1 2027-01-10 A-1 received 500 mL" in stocked("history", "A-1").out
    assert stocked("undo", "4").status == 0
    assert "used 2.5 mL, by kim [void, by event 5]" in stocked("history", "A-1").out


REFUSED = {
    "more than is left": (("use", "A-1", "501", "mL", "--at", "2027-01-20"), 2, "and 500 mL are left"),
    "no such lot": (("open", "A-2"), 2, "A-2: there is no such lot"),
    "no such lot in history": (("history", "a-1"), 2, "did you mean 'A-1'?"),
    "no such item": (("receive", "acetome", "B", "1", "mL"), 2, "near: acetone"),
    "expired": (("use", "E-1", "1", "mL", "--at", "2027-03-01"), 1, "expired: date on the container ended"),
    "anyway without a reason": (("use", "E-1", "1", "mL", "--anyway", "--at", "2027-03-01"), 2, "--reason: is missing"),
    "condemn without a yes": (("condemn", "A-1", "--reason", "r"), 2, "add --yes"),
    "a unit of another kind": (
        ("receive", "acetone", "B", "5", "furlong"),
        2,
        "unit: 'furlong' does not convert to mL",
    ),
    "sheets of paper": (("receive", "alumina-p400", "B", "5", "sheets"), 2, "give it in cm2, "),
    "a weight of unknown volume": (
        ("receive", "ceramic-cement-alumina", "B", "5", "mL"),
        2,
        "the density of ",
    ),
    "ahead of today": (("open", "A-1", "--at", "2027-07-01"), 2, "2027-07-01 is ahead of today (2027-06-01)"),
    "far ahead": (("open", "A-1", "--at", "2062-07-01", "--ahead"), 2, "2062-07-01 is too far ahead of today"),
    "undo of nothing": (("undo", "99"), 2, "event 99: there is no such event; see `stock history LOT`"),
    "held without a reason": (("hold", "A-1"), 2, ""),
    "a temperature that isn't": (("move", "A-1", "x", "--storage-c", "warm"), 2, "--storage-c: 'warm' is not a number"),
    "a backup over a file": (("backup", "in.csv"), 2, "is there already; name a new file"),
    "a backup that isn't": (("restore", "in.csv"), 4, "is damaged (file is not a database)"),
    "a day that isn't": (("list", "--on", "2027-02-30"), 2, "--on: '2027-02-30' is no day"),
    "no amount": (("receive", "acetone", "B"), 2, "quantity: is missing"),
    "a file that isn't": (("import", "nothing.csv"), 2, "nothing.csv: there is no such file"),
    "a workspace that isn't": (("list", "--workspace", "/nowhere/at/all"), 2, "the workspace is not a folder"),
    "an assignment that isn't": (("correct", "A-1", "1", "--reason", "r", "--set", "x"), 2, "'x' is not FIELD=VALUE"),
    "a correction of nothing": (("correct", "A-1", "1", "--reason", "r"), 2, "say which field was wrong"),
    "a code that isn't": (("scan", "hello"), 2, "is not a GS1 code"),
    "a number that isn't": (("link", "4012345678902", "acetone"), 2, "its check digit is wrong"),
    "a number too short": (("link", "123", "acetone"), 2, "it has 8, 12, 13 or 14 digits"),
    "a backup into no folder": (("backup", "/nowhere/at/all.db"), 2, "there is no folder /nowhere/at"),
    "a place too cold to be": (
        ("move", "A-1", "x", "--storage-c", "-300"),
        2,
        "--storage-c: -300 degC is below absolute",
    ),
    "a day that is no name": (("list", "--on", "someday"), 2, "no day such as 'monday'"),
    "an unknown option": (("list", "--colour"), 2, ""),
}


@pytest.mark.parametrize("case", REFUSED.values(), ids=REFUSED.keys())
def test_refused_in_one_line_with_nothing_recorded(
    stocked: Run, tmp_path: Path, case: tuple[tuple[str, ...], int, str]
) -> None:
    words, status, said = case
    answer = stocked(*words)
    assert (answer.status, answer.out) == (status, "")
    assert said in answer.error
    assert len(events(tmp_path)) == 3


@pytest.mark.parametrize(
    ("words", "fields"),
    [
        # 2027-06-01 is a Tuesday: what has happened was on the last day of that name, what is to come on the next.
        (("open", "A-1", "--at", "yesterday"), {"at": "2027-05-31"}),
        (("open", "A-1", "--at", "friday 8:30"), {"at": "2027-05-28T08:30"}),
        (("open", "A-1", "--at", "tue"), {"at": "2027-05-25"}),
        (("requalify", "E-1", "--until", "friday", "--test", "t", "--reason", "r"), {"until": "2027-06-04"}),
        (("receive", "acetone", "B", "1", "mL", "--made", "mon", "--expires", "fri", "--received", "yesterday"),
         {"made": "2027-05-31", "expires": "2027-06-04", "received": "2027-05-31"}),
        (("move", "A-1", "freezer", "--storage-c", "minus 18"), {"storage_c": -18.0}),
        (("receive", "acetone", "B", "1", "mL", "--storage-c", "\u221218 C"), {"storage_c": -18.0}),
    ],
)  # fmt: skip
def test_a_day_and_a_temperature_are_read_as_they_are_said(
    stocked: Run, tmp_path: Path, words: tuple[str, ...], fields: dict[str, Any]
) -> None:
    assert stocked(*words).status == 0
    kept = events(tmp_path)[-1]
    assert {name: kept[name] for name in fields} == fields


def test_an_expired_lot_can_be_used_anyway_and_the_reason_is_kept(stocked: Run, tmp_path: Path) -> None:
    answer = stocked("use", "E-1", "1", "mL", "--at", "2027-03-01", "--anyway", "--reason", "cleaning a jig")
    assert answer.status == 0
    assert events(tmp_path)[-1]["reason"] == "cleaning a jig"


def test_import_tells_every_fault_and_takes_in_nothing(run: Run, tmp_path: Path) -> None:
    (tmp_path / "bad.csv").write_text(LIST.replace("acetone", "acetome").replace("2027-02-28", "soon"))
    answer = run("import", "bad.csv")
    assert (answer.status, answer.out) == (2, "")
    first, second = answer.error.splitlines()
    assert first.startswith("bad.csv: row 2, column item: 'acetome' is no item that is known; near: acetone")
    assert second.startswith("bad.csv: row 3, column expires: 'soon' is not an ISO date")
    assert events(tmp_path) == []


@pytest.mark.parametrize("form", ["csv", "json"])
def test_export_and_import_give_the_same_history(stocked: Run, tmp_path: Path, form: str) -> None:
    stocked("use", "A-1", "2.5", "mL", "--at", "2027-01-20", "--reason", 'a "proof"; ü')
    other = tmp_path / "other"
    other.mkdir()
    assert stocked("export", "--format", form, "--out", f"out.{form}").status == 0
    assert stocked("import", f"out.{form}", "--workspace", other).status == 0
    assert events(other) == events(tmp_path)
    assert stocked("import", f"out.{form}", "--workspace", other).status == 2
    assert stocked("use", "A-1", "1", "mL", "--at", "2027-01-21", "--workspace", other).status == 0
    assert stocked("verify", "--workspace", other).status == 0


def test_a_backup_is_made_beside_the_work_and_put_back_elsewhere(stocked: Run, tmp_path: Path) -> None:
    assert stocked("link", "4012345678901", "acetone").status == 0
    made = stocked("backup", "monday.backup", "--json")
    assert (made.status, made.json["sound"], made.json["events"]) == (0, True, 3)
    assert stocked("use", "A-1", "1", "mL", "--at", "2027-01-20").status == 0
    other = tmp_path / "other"
    other.mkdir()
    assert stocked("restore", "monday.backup", "--workspace", other).status == 0
    assert events(other) == events(tmp_path)[:3]
    assert "04012345678901,acetone" in stocked("products", "--workspace", other).out
    assert stocked("restore", "monday.backup", "--workspace", other).status == 2
    assert stocked("backup", "monday.backup").status == 2
    assert stocked("open", "A-1", "--at", "2027-01-21", "--workspace", other).status == 0


def test_the_shelf_goes_out_as_a_list_that_comes_in_again(stocked: Run, tmp_path: Path) -> None:
    out = stocked("export", "--shelf").out
    assert [row["lot"] for row in csv.DictReader(io.StringIO(out))] == ["A-1", "E-1"]
    (tmp_path / "again.csv").write_text(out)
    (tmp_path / "other").mkdir()
    assert stocked("import", "again.csv", "--workspace", tmp_path / "other").status == 0


def test_a_pack_is_scanned_in_and_used_by_its_code(run: Run) -> None:
    code = "]d201040123456789011728013110AB12"
    answer = run("receive", "--scan", code)
    assert (answer.status, "not in the table of products" in answer.error) == (2, True)
    assert run("link", "4012345678901", "acetone", "--quantity", "500", "--unit", "ml", "--lead-days", "20").status == 0
    received = run("receive", "--scan", code, "--at", "2027-01-20", "--json").json["events"][0]
    assert received == {**received, "item": "acetone", "lot": "AB12", "quantity": "500", "unit": "mL"}
    assert received == {**received, "expires": "2028-01-31", "gtin": "04012345678901"}
    assert run("open", code, "--at", "2027-01-21").status == 0
    assert run("use", "tackroom:lot/AB12", "1", "mL", "--at", "2027-01-21").status == 0
    assert run("scan", code, "--on", "2027-01-20", "--json").json["item"] == "acetone"


def test_what_is_typed_and_what_is_scanned_must_agree(run: Run) -> None:
    code = "]d201040123456789011728013110AB12"
    words = ("receive", "acetone", "--scan", code, "--expires", "2028-02-28", "--at", "2027-01-20")
    assert "is not what the code says (2028-01-31)" in run(*words).error


def test_a_log_ages_and_the_picture_is_drawn(stocked: Run, tmp_path: Path) -> None:
    rows = "".join(f"2027-01-{day}T12:00,{35 if day == 15 else 21}\n" for day in range(13, 18))
    (tmp_path / "log.csv").write_text("time,temperature_c\n" + rows)
    words = ("temperatures", "log.csv", "--location", "cabinet", "--at", "2027-01-20", "--picture", "log.svg", "--json")
    answer = stocked(*words)
    assert answer.status == 1
    assert [lot["state"] for lot in answer.json["lots"]] == ["storage-excursion"] * 2
    assert (tmp_path / "log.svg").read_text().startswith("<svg")
    assert stocked("flag", "--on", "2027-01-20").status == 1
    for lot in ("A-1", "E-1"):
        stocked("release", lot, "--reason", "half a day in the sun", "--at", "2027-01-21")
    assert stocked("flag", "--on", "2027-01-21").status == 0


def test_a_picture_under_a_wrong_name_is_refused_before_anything_is_recorded(stocked: Run, tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text("time,temperature_c\n2027-01-13T12:00,21\n2027-01-14T12:00,21\n")
    before = events(tmp_path)
    answer = stocked("temperatures", "log.csv", "--location", "cabinet", "--at", "2027-01-20", "--picture", "log.png")
    assert (answer.status, answer.error) == (2, "log.png: its name must end in .svg; name the file accordingly")
    assert events(tmp_path) == before


def test_labels_picture_and_warm_up(stocked: Run) -> None:
    assert stocked("labels", "--on", "2027-01-20").out.count('class="label"') == 2
    assert stocked("labels", "A-1", "--on", "2027-01-20").out.count('class="label"') == 1
    assert stocked("picture", "--on", "2027-01-20").out.startswith("<svg")
    answer = stocked("warm-up", "--volume-ml", "20", "--cold-c", "5", "--air-c", "22", "--humidity-pct", "45", "--json")
    assert answer.json["wait_min"] == 50


def test_a_damaged_ledger_is_status_4_and_never_written(stocked: Run, tmp_path: Path) -> None:
    path = tmp_path / LEDGER
    whole = path.read_bytes()
    for content in (whole[:-10], b"", whole.replace(b'"quantity":"500"', b'"quantity":"501"'), b"x" * len(whole)):
        path.write_bytes(content)
        for words in (("list",), ("flag",), ("history", "A-1"), ("use", "A-1", "1", "mL"), ("export",)):
            answer = stocked(*words)
            assert (answer.status, answer.out) == (4, ""), (words, content[:20])
            assert answer.error.startswith(str(path)) or "damaged" in answer.error
        verified = stocked("verify", "--json")
        assert (verified.status, verified.json["sound"]) == (4, False)
        assert path.read_bytes() == content
    path.write_bytes(whole)
    assert stocked("verify", "--json").json["sound"]


def test_a_confirmation_is_asked_of_a_person(stocked: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("kb.cli.stock_common.someone_is_there", lambda: True)
    assert stocked("condemn", "A-1", "--reason", "r", "--at", "2027-01-20", input="n\n").status == 1
    assert len(events(tmp_path)) == 3
    assert stocked("condemn", "A-1", "--reason", "r", "--at", "2027-01-20", input="y\n").status == 0
    assert events(tmp_path)[-1]["type"] == "condemned"


def test_a_day_ahead_is_asked_of_a_person(stocked: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("kb.cli.stock_common.someone_is_there", lambda: True)
    words = ("use", "A-1", "1", "mL", "--at", "2027-07-01")
    answer = stocked(*words, input="n\n")
    assert (answer.status, "2027-07-01 is ahead of today (2027-06-01). Is it meant?" in answer.error) == (1, True)
    assert len(events(tmp_path)) == 3
    assert stocked(*words, input="y\n").status == 0
    monkeypatch.undo()


def test_what_may_be_used_on_a_day_and_what_was_known(stocked: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    stocked("use", "A-1", "100", "mL", "--at", "2027-01-20")
    monkeypatch.setenv("TACKROOM_TODAY", "2027-06-20")
    stocked("receive", "acetone", "A-2", "5", "mL", "--at", "2027-06-10")
    stocked("use", "A-1", "50", "mL", "--at", "2027-01-25", "--reason", "found in a notebook")

    def left(*words: str) -> dict[str, float]:
        return {lot["lot"]: lot["quantity"] for lot in stocked("list", *words, "--json").json["lots"]}

    assert left() == {"A-1": 350, "E-1": 500, "A-2": 5}
    assert left("--on", "2027-01-22") == {"A-1": 400, "E-1": 500}
    assert left("--on", "2027-01-31") == {"A-1": 350, "E-1": 500}
    assert left("--on", "2027-01-31", "--known", "2027-06-10") == {"A-1": 400, "E-1": 500}
    assert left("--known", "2027-06-10") == {"A-1": 400, "E-1": 500}
    assert stocked("list", "--known", "2027-06-10", "--json").json["on"] == "2027-06-10"
    assert stocked("flag", "--on", "2027-02-27", "--known", "2027-06-01").status == 0
    assert stocked("flag", "--on", "2027-03-01", "--known", "2027-06-01").status == 1


@pytest.mark.parametrize(
    ("words", "quantity", "unit"),
    [
        (("acetone", "X", "16", "fl oz"), "473.176473", "mL"),
        (("acetone", "X", "1", "gal"), "3785.411784", "mL"),
        (("isopropyl-alcohol", "X", "1", "kg"), "1267.962", "mL"),
        (("ethyl-cyanoacrylate-low-viscosity", "X", "1", "oz"), "28.349523", "g"),
        (("alumina-p400", "X", "10", "in2"), "6451.6", "mm2"),
        (("cotton-swab", "X", "100", "each"), "100", "pcs"),
    ],
)
def test_units_are_converted_at_the_door(run: Run, words: tuple[str, ...], quantity: str, unit: str) -> None:
    (event,) = run("receive", *words, "--storage-c", "41 degF", "--json").json["events"]
    assert (event["quantity"], event["unit"], event["storage_c"]) == (quantity, unit, 5.0)


def test_a_use_by_weight_of_what_is_kept_by_volume(stocked: Run) -> None:
    (event,) = stocked("use", "A-1", "7.9", "g", "--at", "2027-01-20", "--json").json["events"]
    assert event["unit"] == "mL"
    assert float(event["quantity"]) == pytest.approx(10, abs=0.05)


def test_one_bad_file_of_the_lab_s_own_does_not_stop_the_shelf(stocked: Run, tmp_path: Path) -> None:
    bad = tmp_path / "catalog" / "degreaser" / "bad.toml"
    bad.parent.mkdir(parents=True)
    bad.write_text("id = 7\n")
    for words in (("list", "--on", "2027-01-20"), ("flag", "--on", "2027-01-20")):
        answer = stocked(*words)
        assert (answer.status, "bad.toml" in answer.error) == (0, True)
        assert answer.error.count("\n") == 1


def test_an_empty_shelf_says_whose_it_is(run: Run, tmp_path: Path) -> None:
    for words in (("list",), ("flag",)):
        answer = run(*words)
        assert (answer.status, answer.out) == (0, f"Shelf of {tmp_path}, on 2027-06-01: nothing was received there.\n")
    assert not (tmp_path / LEDGER).exists(), "looking makes nothing"


def test_what_was_taken_back_is_back_when_that_is_taken_back(stocked: Run) -> None:
    def left() -> Any:
        return stocked("list", "--json").json["lots"][0]["quantity"]

    stocked("use", "A-1", "100", "mL", "--at", "2027-01-20")
    stocked("undo", "4")
    assert left() == 500
    stocked("undo", "5")
    assert left() == 400
    stocked("rename", "A-1", "A-9")
    assert "rename it back: `stock rename A-9 A-1`" in stocked("undo", "7").error
    stocked("correct", "A-9", "4", "--set", "quantity=1", "--reason", "r")
    assert "`stock correct A-9 4 --set FIELD=VALUE`" in stocked("undo", "8").error


def test_a_planned_job_is_asked_for_its_day(stocked: Run, tmp_path: Path) -> None:
    job = '[part]\nsubstrate = "carbon-steel"\n[service]\ntemperature_c = [0, 40]\n'
    (tmp_path / "job.toml").write_text(job)
    assert "job.planned_on: is missing" in stocked("flag", "--job", "job.toml").error
    (tmp_path / "job.toml").write_text("[job]\nplanned_on = 2030-03-01\n" + job)
    answer = stocked("flag", "--job", "job.toml", "--on", "2027-01-20", "--json")
    assert {late["day"] for late in answer.json["planned"]} <= {"2030-03-01"}


def test_a_house_item_s_own_limits_rule(run: Run, tmp_path: Path) -> None:
    """What is really on the shelf, under the lab's own name, with what its data sheet says."""
    (tmp_path / "catalog" / "degreaser").mkdir(parents=True)
    own = 'id = "bay-3-drum"\nname = "drum in bay 3"\nlike = "acetone"\nopened_life_days = 7\n'
    (tmp_path / "catalog" / "degreaser" / "bay-3-drum.toml").write_text(own)
    for item, lot in (("drum in bay 3", "H-1"), ("acetone", "G-1")):
        words = ("receive", item, lot, "500", "mL", "--expires", "2028-12-31", "--at", "2027-01-10")
        assert run(*words).status == 0
        assert run("open", lot, "--at", "2027-01-11").status == 0
    house, generic = run("list", "--on", "2027-01-12", "--json").json["lots"]
    assert (house["item"], house["usable_until"], house["limited_by"]) == ("bay-3-drum", "2027-01-18", "opened life")
    assert generic["usable_until"] > house["usable_until"]


@pytest.mark.usefixtures("stocked")
def test_looking_builds_no_models(tmp_path: Path) -> None:
    program = (
        "import sys; from kb.cli.stock import app; app(standalone_mode=False); print('kb.stock.events' in sys.modules)"
    )
    words = [sys.executable, "-c", program, "list", "--workspace", str(tmp_path)]
    for _ in range(2):  # the first compiles the knowledge
        done = subprocess.run(words, capture_output=True, text=True, cwd=Path(__file__).parents[2], check=True)
    assert done.stdout.splitlines()[-1] == "False"


@pytest.mark.parametrize("command", ["receive", "move"])
def test_a_place_that_the_item_does_not_bear_is_remarked(command: str, stocked: Run) -> None:
    words = {"receive": ("acetone", "A-9", "1", "L"), "move": ("A-1", "attic")}[command]
    warm, fit = stocked(command, *words, "--storage-c", "95"), stocked("move", "A-1", "shelf", "--storage-c", "20")
    assert (warm.status, fit.status, fit.error) == (0, 0, "")
    assert "kept at 95 degC, outside " in warm.error


def test_a_film_by_its_area_is_told_how_to_weigh_it(run: Run) -> None:
    answer = run("receive", "epoxy-film-adhesive", "F-1", "900", "cm2")
    assert answer.status == 2
    assert "give the cm2 times the label's g/m2, in g" in answer.error


def test_what_is_sold_by_volume_is_weighed_by_what_is_in_it(run: Run) -> None:
    """A lacquer by its solids and its solvent; a glue by its density; of a putty nobody knows it."""
    assert "received 94.511 g" in run("receive", "polyurethane-lacquer-air-drying", "P-1", "100", "mL").out
    assert "received 21.2 g" in run("receive", "ethyl-cyanoacrylate-low-viscosity", "C-1", "20", "mL").out
    unknown = run("receive", "ceramic-cement-alumina", "U-1", "20", "mL")
    assert (unknown.status, "density_g_ml" in unknown.error) == (2, True)


def test_a_lot_that_is_found_to_have_grown_is_remarked(stocked: Run) -> None:
    more, less = stocked("count", "A-1", "3", "L"), stocked("count", "A-1", "0.3", "L")
    assert (more.status, less.status, less.error) == (0, 0, "")
    assert "3000 mL is more than the book's 500 mL" in more.error
