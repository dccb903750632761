"""The whole story of a campaign, told to the program as its user tells it. The lab and its lots are invented.

Forty boards of four gauges: stock comes in, the chain is planned, what it takes is reckoned; one lot is short and one
has expired; more comes in; all is picked; 160 installations are recorded, 7 of which fail; the worst lot is traced;
the next estimate reckons with what was learned.
"""

from __future__ import annotations

import csv
import json
import math
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from scipy import stats

ROOT = Path(__file__).parent.parent
JOB = """
[job]
name = "Fennimore Lane boards"
planned_on = 2027-03-01
[part]
substrate = "solder-masked board"
surface = ["solder-masked"]
clamping = "thumb-only"
[service]
temperature_c = [15, 35]
duration_days = 7
[batch]
boards = 40
gauges_per_board = 4
technicians = 2
"""
FIRST_LOT, FAILED = 60, {3, 17, 22, 41, 58, 90, 133}


class Lab:
    """A workspace, and a way to say things to the program in it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "house").mkdir()
        (folder / "job.toml").write_text(JOB)

    def run(self, *words: str, status: int = 0) -> str:
        done = subprocess.run(
            [sys.executable, "-m", "kb", *words, "--workspace", str(self.folder / "house")],
            capture_output=True,
            text=True,
            cwd=self.folder,
            env={**os.environ, "PYTHONPATH": str(ROOT), "TACKROOM_WHO": "kim", "TACKROOM_TODAY": "2027-03-04"},
            check=False,
        )
        assert done.returncode == status, done.stderr + done.stdout
        return done.stdout

    def ask(self, *words: str, status: int = 0) -> Any:
        return json.loads(self.run(*words, "--json", status=status))

    def table(self, name: str, rows: list[dict[str, Any]]) -> str:
        with (self.folder / name).open("w", newline="") as handle:
            writer = csv.DictWriter(handle, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
        return name


def line(document: Any, item: str) -> Any:
    return next(row for row in document["lines"] if row["item"] == item)


@pytest.fixture
def lab(tmp_path: Path) -> Lab:
    return Lab(tmp_path)


def test_the_whole_story(lab: Lab) -> None:
    # Plan, and reckon what it takes.
    chain = lab.ask("plan", "job.toml")["chains"][0]
    adhesive = chain["items"]["adhesive"]
    first = lab.ask("estimate", "job.toml")
    assert first["installations"]["good_needed"] == 160
    assert first["installations"]["expected_yield"] == 0.95
    attempts = first["installations"]["attempts"]
    assert stats.binom.sf(159, attempts, 0.95) >= 0.95 > stats.binom.sf(159, attempts - 1, 0.95)

    # Stock comes in: enough of everything, but of the adhesive one lot that has expired and one that is too small.
    needed = line(first, adhesive)["gross"]
    small = math.ceil(needed / attempts * FIRST_LOT * 1000) / 1000
    shelf = [
        {
            "item": row["item"], "lot": f"L{number:02d}",
            "quantity": math.ceil(row["gross"] * 1.5), "unit": row["unit"],
            "received": "2027-01-10", "made": "2027-01-05", "expires": "2027-12-31", "opened": "", "storage_c": "",
            "location": f"shelf {number}",
        }
        for number, row in enumerate(first["lines"])
        if row["item"] != adhesive
    ]  # fmt: skip
    template = {**shelf[0], "item": adhesive, "unit": line(first, adhesive)["unit"], "storage_c": "5"}
    last_year = {"received": "2026-06-10", "made": "2026-06-01", "expires": "2027-02-27"}
    shelf += [
        {**template, **last_year, "lot": "old", "quantity": 20},
        {**template, "lot": "worst", "quantity": small, "expires": "2027-06-30"},
    ]
    lab.run("stock", "import", lab.table("shelf.csv", shelf), "--at", "2027-01-10")

    # Pick: the expired lot is passed over, and the other does not reach.
    short = lab.ask("pick", "job.toml", status=1)
    wanted = line(short, adhesive)
    assert [(take["lot"], take["quantity"]) for take in wanted["from"]] == [("worst", small)]
    assert wanted["short"] == pytest.approx(needed - small)
    assert [one["lot"] for one in wanted["passed_over"]] == ["old"]
    assert wanted["passed_over"][0]["reason"].startswith("expired")
    assert [row["item"] for row in short["lines"] if row["short"]] == [adhesive]

    # The stock is asked for a chain of its own: the best one lacks nothing that is in date.
    assert lab.ask("plan", "job.toml", "--stock")["chains"][0]["items"] == chain["items"]

    # More comes in; pick again, and keep it.
    lab.run(
        "stock", "receive", adhesive, "fresh", "20", template["unit"], "--expires", "2027-09-30",
        "--made", "2027-01-15", "--storage-c", "5", "--at", "2027-02-20",
    )  # fmt: skip
    full = lab.ask("pick", "job.toml", "--reserve")
    takes = line(full, adhesive)["from"]
    assert [take["lot"] for take in takes] == ["worst", "fresh"]
    assert sum(take["quantity"] for take in takes) == pytest.approx(needed)
    assert sum(row["short"] for row in full["lines"]) == 0

    # Another job finds that reserved, and the same job does not.
    (lab.folder / "other.toml").write_text(JOB.replace("Fennimore Lane boards", "another job"))
    other = line(lab.ask("pick", "other.toml", status=1), adhesive)
    assert [take["lot"] for take in other["from"]] == ["fresh"]
    assert line(lab.ask("pick", "job.toml"), adhesive)["from"] == takes

    # 160 installations, 7 of which fail: by their readings, or by what was seen.
    others = " ".join(take["lot"] for row in full["lines"] if row["item"] != adhesive for take in row["from"])
    rows = [
        {
            "installation": n, "part": f"board {(n - 1) // 4 + 1}", "outcome": "fail" if n == 133 else "",
            "lots": f"{others} {'worst' if n <= FIRST_LOT else 'fresh'}", "photo": f"photos/{n}.jpg",
            "resistance_deviation_pct": 0.1, "zero_return_ue": 3.4 if n in FAILED - {133} else -0.8,
            "note": "lifted corner" if n == 133 else "",
        }
        for n in range(1, 161)
    ]  # fmt: skip
    limits = {step["limit"]["quantity"] for step in chain["steps"] if step["limit"]}
    assert limits == {"resistance_deviation_pct", "zero_return_ue"}
    before = {lot["lot"]: lot["quantity"] for lot in lab.ask("stock", "list", "--on", "2027-03-03")["lots"]}
    kept = lab.ask(
        "record", "job.toml", "--outcome", lab.table("made.csv", rows), "--at", "2027-03-03", "--bench",
        "relative_humidity_pct=44", "--bench", "air_temperature_c=21.5",
    )  # fmt: skip
    assert (kept["yield"]["passed"], kept["yield"]["failed"]) == (153, 7)

    # The stock is drawn down by what 160 of the attempts take, and adds up.
    after = {lot["lot"]: lot["quantity"] for lot in lab.ask("stock", "list", "--on", "2027-03-03")["lots"]}
    assert after["worst"] == pytest.approx(0, abs=0.001)
    assert before["fresh"] - after["fresh"] == pytest.approx(needed / attempts * (160 - FIRST_LOT), abs=1e-4)
    assert after["old"] == before["old"]
    lab.run("stock", "verify")
    lab.run("record", "job.toml", "--outcome", "made.csv", "--at", "2027-03-03", status=2)
    assert {lot["lot"]: lot["quantity"] for lot in lab.ask("stock", "list", "--on", "2027-03-03")["lots"]} == after

    # Which lot is the worst, and what is to be called back?
    job = lab.ask("trace", "job.toml")
    assert (job["passed"], job["failed"]) == (153, 7)
    worst = job["lots"][0]
    assert (worst["lot"], worst["installations"], worst["failed"]) == ("worst", FIRST_LOT, 5)
    trace = lab.ask("trace", "worst")
    assert {int(one["installation"]) for one in trace["installations"]} == set(range(1, FIRST_LOT + 1))
    assert {int(one["installation"]) for one in trace["installations"] if one["outcome"] == "fail"} == {
        n for n in FAILED if n <= FIRST_LOT
    }
    called_back = [int(n) for row in trace["recall"] for n in row["installations"]]
    assert called_back == [n for n in range(1, FIRST_LOT + 1) if n not in FAILED]
    assert trace["installations"][0]["bench"] == {"relative_humidity_pct": 44, "air_temperature_c": 21.5}
    assert trace["installations"][2]["why"] == "zero_return_ue 3.4 microstrain, at most 2"
    assert trace["other_uses"] == []
    assert "To call back if the lot is bad" in lab.run("trace", "worst")

    # The next estimate reckons with what was learned: the prior of 19 good in 20, and 153 good in 160.
    again = lab.ask("estimate", "job.toml")
    assert again["installations"]["expected_yield"] == pytest.approx((19 + 153) / (20 + 160))
    assert again["learned_yield"]["interval"] == pytest.approx(stats.beta.ppf([0.05, 0.95], 172, 8), abs=1e-6)
    assert again["installations"]["attempts"] < attempts
    assert line(again, adhesive)["gross"] < needed
