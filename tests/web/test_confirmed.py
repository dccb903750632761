"""Pages and API answer by the values that the lab has confirmed, for as long as these count."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from kb.job import job_of
from kb.stock.workspace import ledger_of
from kb.web.app import create_app
from kb.web.forms import query_of
from kb.web.settings import Settings
from kb.work.confirming import record
from tests.web.calling import Caller

LACQUER = "acrylic-lacquer-alcohol-borne"
FACT = f"{LACQUER}.full_cure_min"
TODAY = "2027-03-01"
#: What the lacquer has to cure faster for than its class does.
JOB: Mapping[str, Any] = {
    "part": {"substrate": "aluminium-6061"},
    "service": {"temperature_c": [10, 60]},
    "choose": {"coatings": [LACQUER]},
    "limits": {"ready_within_h": 6},
}
STATED = {"type": "stated", "fact": FACT, "item": LACQUER, "value": 120.0, "kind": "data-sheet", "issued": "2026-03-01"}


class Lab:
    """A workspace with its page, which looks at once whether anything has changed, and a day that can be set."""

    def __init__(self, folder: Path) -> None:
        self.day = TODAY
        self.folder = folder
        self.caller = Caller(create_app(Settings(workspace=folder, today=lambda: date.fromisoformat(self.day))))

    def says(self, **said: Any) -> None:
        record(ledger_of(self.folder), {"at": TODAY, "who": "kim", **said}, TODAY)

    def plan(self) -> tuple[bool, str]:
        """Whether there is a chain, by the API, and the notes of its answer."""
        answer = self.caller.post("/api/plan", JOB).json()
        return bool(answer["chains"]), " ".join(answer["notes"])


@pytest.fixture
def lab(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Lab:
    monkeypatch.setattr("kb.web.desk.LOOK_EVERY_S", -1.0)
    return Lab(tmp_path)


def test_the_answer_follows_what_is_confirmed_and_goes_back_where_that_is_undone(lab: Lab) -> None:
    before = lab.plan()
    assert before[0] is False
    lab.says(**STATED)
    there, notes = lab.plan()
    assert there
    assert f"{FACT} = 120: your data sheet of 2026-03-01" in notes
    lab.says(type="undone", fact="?", of=1, reason="another bottle")
    assert lab.plan() == before


def test_a_sheet_that_has_run_out_says_so(lab: Lab) -> None:
    lab.says(**STATED, until="2027-06-30")
    assert lab.plan()[0]
    lab.day = "2027-07-01"
    there, notes = lab.plan()
    assert not there
    assert "does not count: it held until 2027-06-30" in notes


def test_a_newer_sheet_says_so_until_it_is_read(lab: Lab) -> None:
    lab.says(**STATED)
    assert lab.plan()[0]
    lab.says(type="reissued", fact=LACQUER, issued="2027-02-01")
    there, notes = lab.plan()
    assert not there
    assert "a newer sheet, of 2027-02-01, is there" in notes


def test_the_pages_show_what_the_value_rests_on(lab: Lab) -> None:
    lab.says(**STATED)
    for address in (f"/?{query_of(job_of(JOB, 'a job'))}", f"/catalog/{LACQUER}"):
        assert "your data sheet of 2026-03-01" in lab.caller.get(address).text
