"""A week in an invented lab, told to the program as its people tell it: no two of its answers contradict each other.

The shelf comes in as a workbook, in ounces where the lab says so; a chain is chosen on Monday, what it lacks is bought,
picked and kept; a container is mistyped and mended, a lot is suspected and freed, another dies before its hour; on
Friday a failure is traced to its lots both ways, and somebody looks back at Monday.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook

from tests.cli.test_work import Said, run

JOB = """
[job]
name = "hinge plates"
planned_on = 2027-03-02
[part]
substrate = "stainless 304"
thickness_mm = "0.25 in"
[service]
temperature_c = ["50 degF", "104 degF"]
[batch]
boards = 6
gauges_per_board = 2
"""
PARTS = ("ready_after_min", "batch_ready_after_min", "within_limit")
ML_IN_FL_OZ = 29.5735295625


class Week:
    """The lab, and what day it is."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder, self._environment = folder, monkeypatch
        monkeypatch.chdir(folder)
        monkeypatch.setenv("TACKROOM_WORKSPACE", str(folder / "house"))
        (folder / "house").mkdir()
        (folder / "job.toml").write_text(JOB)
        self.on("2027-03-01", "kim")

    def on(self, day: str, who: str) -> None:
        self._environment.setenv("TACKROOM_TODAY", day)
        self._environment.setenv("TACKROOM_WHO", who)

    def say(self, *words: str, status: int | None = 0) -> Said:
        said = run(*words)
        assert status is None or said.status == status, (words, said.out, said.fault)
        return said

    def ask(self, *words: str, status: int | None = 0) -> Any:
        return self.say(*words, "--json", status=status).document

    def left(self, *more: str) -> dict[str, float]:
        """What is left of each lot."""
        return {row["lot"]: row["quantity"] for row in self.ask("stock", "list", "--all", *more)["lots"]}

    def agreed(self) -> tuple[Any, Any, Any]:
        """Plan, estimate and pick of the job, whose chain, times and amounts agree with each other and the timeline."""
        planned = self.ask("plan", "job.toml")["chains"][0]
        reckoned, laid_out = self.ask("estimate", "job.toml"), self.ask("timeline", "job.toml")
        assert {n: planned[n] for n in PARTS} == {n: reckoned[n] for n in PARTS} == {n: laid_out[n] for n in PARTS}
        assert reckoned["chain"]["items"] == planned["items"]
        picked = self.ask("pick", "job.toml", status=None)
        amounts = {row["item"]: row["gross"] for row in reckoned["lines"]}
        assert {row["item"]: row["needed"] for row in picked["lines"]} == pytest.approx(amounts)
        ordered = self.ask("estimate", "job.toml", "--order", status=None)
        for got, want in zip(picked["lines"], ordered["lines"], strict=True):
            taken = sum(take["quantity"] for take in got["from"])
            assert taken + got["short"] == pytest.approx(got["needed"])
            assert want["lacking"] >= got["short"] - 1e-6, "what is short for the usual day is short for a worse one"
            assert want["needed"] >= got["needed"] - 1e-6
        return planned, reckoned, picked


@pytest.fixture
def week(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Week:
    return Week(tmp_path, monkeypatch)


def workbook(path: Path, rows: list[dict[str, Any]]) -> None:
    book, out = Workbook(), io.BytesIO()
    sheet = book.active
    assert sheet is not None
    for row in [list(rows[0]), *(list(row.values()) for row in rows)]:
        sheet.append(row)
    book.save(out)
    path.write_bytes(out.getvalue())


def of(document: Any, item: str) -> Any:
    return next(row for row in document["lines"] if row["item"] == item)


def test_a_week_of_work(week: Week) -> None:
    # Monday: a chain is chosen, not the first, and every answer follows it.
    second = week.ask("compare", "job.toml", "1", "2")["b"]["items"]
    week.say("choose", "job.toml", "2")
    planned, reckoned, _ = week.agreed()
    assert {n: planned["items"][n] for n in ("adhesive", "coatings")} == {
        n: second[n] for n in ("adhesive", "coatings")
    }
    adhesive, degreaser = planned["items"]["adhesive"], planned["items"]["degreaser"]

    # The shelf comes in: of all but the adhesive there is enough; of that, one lot dies before the work begins.
    rows = [
        {"item": row["item"], "lot": f"L{n:02d}", "quantity": round(row["bring"] * 1.2, 6), "unit": row["unit"],
         "expires": "2027-12-31", "location": f"drawer {n}"}
        for n, row in enumerate(reckoned["lines"]) if row["item"] not in (adhesive, degreaser)
    ]  # fmt: skip
    usual = {"unit": of(reckoned, adhesive)["unit"], "location": "fridge"}
    fluid = {"item": degreaser, "lot": "D-1", "quantity": 40, "unit": "fl oz", "expires": "2027-12-31", "location": ""}
    third = of(reckoned, adhesive)["gross"] / 3
    rows += [
        {"item": adhesive, "lot": "DYING", "quantity": 50, **usual, "expires": "2027-03-01"},
        {
            "item": adhesive,
            "lot": "FRESH-l",
            "quantity": third,
            **usual,
            "expires": "2027-09-30",
        },
        fluid,
    ]
    rows = [{name: row[name] for name in ("item", "lot", "quantity", "unit", "expires", "location")} for row in rows]
    workbook(week.folder / "shelf.xlsx", rows)
    week.say("stock", "import", "shelf.xlsx", "--at", "2027-03-01")
    assert week.left()["D-1"] == pytest.approx(40 * ML_IN_FL_OZ, rel=1e-6)

    # What expires before it is needed, and what may be used tomorrow.
    (late,) = week.ask("stock", "flag", "--job", "job.toml", status=None)["planned"]
    assert late["lot"] == "DYING"
    shelf = week.ask("stock", "list", "--on", "tuesday")
    assert shelf == week.ask("stock", "list", "--on", "2027-03-02")
    states = {row["lot"]: row["state"] for row in shelf["lots"]}
    assert states["DYING"] == "expired"
    assert states["FRESH-l"] == "in-date"

    # A container was mistyped; its name is mended, and everything knows it by the right one.
    week.say("stock", "rename", "FRESH-l", "FRESH-1")
    assert "FRESH-l" not in week.left()

    # What is short is what has to be bought, and it is bought.
    _, _, picked = week.agreed()
    assert [row["item"] for row in picked["lines"] if row["short"]] == [adhesive]
    assert [one["lot"] for one in of(picked, adhesive)["passed_over"]] == ["DYING"]
    week.say("estimate", "job.toml", "--order", "-o", "order.xlsx", status=1)
    sheet = load_workbook(week.folder / "order.xlsx").active
    assert sheet is not None
    head, *bought = sheet.iter_rows(values_only=True)
    order = dict(zip(head, bought[0], strict=True))
    assert [row[0] for row in bought] == [adhesive]
    assert float(str(order["lacking"])) > 0
    week.say(
        "stock", "receive", adhesive, "FRESH-2", str(float(str(order["lacking"])) * 2), usual["unit"], "--expires",
        "2027-10-31", "--at", "2027-03-01",
    )  # fmt: skip
    week.say("estimate", "job.toml", "--order")

    # A suspected lot is not picked until it is freed; what is picked is kept, and others leave it.
    week.say("stock", "hold", "FRESH-1", "--reason", "found lying on its side")
    assert "FRESH-1" not in [take["lot"] for take in of(week.agreed()[2], adhesive)["from"]]
    week.say("stock", "free", "FRESH-1", "--reason", "its seal is whole")
    week.say("pick", "job.toml", "--reserve")
    picked = week.agreed()[2]
    takes = {take["lot"]: take["quantity"] for row in picked["lines"] for take in row["from"]}
    (week.folder / "other.toml").write_text((week.folder / "job.toml").read_text().replace("hinge", "other"))
    others = week.ask("pick", "other.toml", status=1)
    assert "FRESH-1" not in [take["lot"] for take in of(others, adhesive)["from"]]

    # Tuesday to Thursday: half of it is done on each of two days; one lets go.
    before = week.left()
    every = ",".join(takes)
    week.on("2027-03-02", "ana")
    week.say("record", "job.toml", "--installation", "1-6", "--part", "plate 1", "--outcome", "pass", "--lots", every)
    half = week.left()
    week.on("2027-03-04", "kim")
    week.say("record", "job.toml", "--installation", "7-11", "--part", "plate 2", "--outcome", "pass", "--lots", every)
    failed = ("--installation", "12", "--part", "plate 2", "--outcome", "fail", "--note", "lifted")
    week.say("record", "job.toml", *failed, "--lots", every)
    week.say("stock", "receive", "limonene", "STRAY", "500", "mL", "--at", "2027-03-04")
    assert "doesn't have" in week.say("record", "job.toml", *failed, "--lots", "STRAY=1", "--again", status=2).fault
    week.say("stock", "verify")
    assert all(half[lot] <= before[lot] and week.left()[lot] <= half[lot] for lot in takes)
    used = {one["item"] for row in [picked] for one in row["lines"] if one["from"]}
    assert {degreaser, adhesive} <= used

    # Friday: which lots went on plate 2, and on which parts a lot went: the same, either way round.
    week.on("2027-03-05", "kim")
    part = week.ask("trace", "--part", "plate 2")
    assert (part["passed"], part["failed"]) == (5, 1)
    assert {row["lot"] for row in part["lots"]} == set(takes)
    for lot in takes:
        found = week.ask("trace", lot)
        assert (found["passed"], found["failed"]) == (11, 1)
        assert {row["part"] for row in found["recall"]} == {"plate 1", "plate 2"}
        assert found["on_shelf"][0]["quantity"] == week.left()[lot]
    assert week.ask("trace", "--who", "ana")["passed"] == 6
    assert week.ask("trace", "job.toml")["failed"] == 1

    # What was learned counts everywhere; what the shelf was on Monday is still to be seen.
    again = week.agreed()[1]
    assert again["learned_yield"]["failed"] == 1
    assert again["installations"]["expected_yield"] != 0.95
    back = week.left("--known", "2027-03-01")
    assert {lot: back[lot] for lot in takes} == {lot: before[lot] for lot in takes}
    assert "STRAY" not in back
