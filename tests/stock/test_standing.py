"""The fold that is kept between commands: it speeds up and decides nothing."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from kb.base import caches
from kb.base.places import LEDGER
from kb.stock import standing as standings
from kb.stock.fold import Shelf
from kb.stock.stores import Head
from kb.stock.workspace import ledger_of
from tests.stock.factory import event, received, record, used

LOG: dict[str, Any] = {
    "location": "fridge",
    "since": "2027-03-02",
    "until": "2027-03-03",
    "hours": 24,
    "low_c": 4,
    "high_c": 9,
}


@pytest.fixture
def lab(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A workspace whose ledger is long enough that its fold is kept."""
    monkeypatch.setenv("TACKROOM_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr("kb.stock.ledger.KEPT_EVERY", 5)
    lab = tmp_path / "lab"
    came = [received(f"L{n}", expires="2028-01-01", location="fridge") for n in range(6)]
    record(lab, [*came, event("opened", "L1"), used("L1", "2.5"), event("temperature-logged", "L2", **LOG)])
    ledger_of(lab).shelf()
    return lab


def kept(lab: Path) -> standings.Standing | None:
    return standings.kept(str(lab / LEDGER))


def test_what_is_kept_is_what_the_entries_make(lab: Path) -> None:
    found = kept(lab)
    assert found == ledger_of(lab).standing()
    assert found.head.seq == 9


def test_a_fold_of_another_ledger_is_not_believed(lab: Path) -> None:
    good = kept(lab)
    assert good is not None
    standings.keep(str(lab / LEDGER), good._replace(head=Head(9, "f" * 64), shelf=Shelf({})))
    assert len(ledger_of(lab).shelf().lots) == 6


def test_a_fold_that_lies_is_found_by_verify(lab: Path) -> None:
    good = kept(lab)
    assert good is not None
    standings.keep(str(lab / LEDGER), good._replace(shelf=Shelf({"L1": good.shelf.lots["L1"]})))
    assert any("what was kept of the fold" in said for said in ledger_of(lab).verify().problems)


def test_who_only_records_keeps_it_too(lab: Path) -> None:
    for number in range(6):
        record(lab, [used("L1", "0.1", at=f"2027-04-0{number + 1}")])
    found = kept(lab)
    assert found is not None
    assert found.head.seq == 14, "as it was before the last of them"


def test_it_goes_on_from_what_is_kept(lab: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    record(lab, [used("L1", "1", at="2027-03-05")])
    taken: list[int] = []
    real = standings.Standing.after

    def after(self: standings.Standing, entries: Any, history_of: Any) -> standings.Standing:
        taken.append(len(entries))
        return real(self, entries, history_of)

    monkeypatch.setattr(standings.Standing, "after", after)
    assert str(ledger_of(lab).lot("L1").quantity) == "496.5"
    assert taken == [1]


def test_other_code_folds_anew(lab: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(standings, "_header", lambda: caches.header("standing of other modules"))
    assert kept(lab) is None
    assert len(ledger_of(lab).shelf().lots) == 6


def test_a_user_without_a_folder_of_caches_does_without(lab: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(caches, "folder", lambda: None)
    assert kept(lab) is None
    assert len(ledger_of(lab).shelf().lots) == 6
