"""A long life of a ledger beside a plain model: everything that a lab does, in any order, with clocks that jump.

After each step what was done and what was refused must be the same on both sides, and so must the shelf.
"""

from __future__ import annotations

import copy
import json
import random
import shutil
import tempfile
import threading
from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from kb.base import caches
from kb.base.errors import BadInput
from kb.stock.backup import backup, restore
from kb.stock.interchange import Brought, take_in
from kb.stock.ledger import Ledger
from kb.stock.portable import everything
from kb.stock.workspace import ledger_of
from kb.work.checking import verify
from kb.work.forms import checked
from kb.work.installations import installations
from kb.work.recording import record as keep
from kb.work.reserving import reserve, reserved_in
from tests.stock.ordeal.model import Lab, No

#: A life so long; then another begins. In every second one the clock jumps.
LIFE = 1000
NAMES = [f"L{n}" for n in range(8)]
JOBS = ["J1", "J2", "J3"]
FIRST_DAY = date(2027, 1, 1)


def run(steps: int, seed: int = 1) -> Counter[str]:
    """Live so many steps; counts what was done of each kind, and how often that was refused."""
    found: Counter[str] = Counter()
    for life in range(0, steps, LIFE):
        with tempfile.TemporaryDirectory(prefix="life-") as name:
            _Life(Path(name), random.Random(f"{seed} {life}"), found, life % (2 * LIFE) > 0).live(
                min(LIFE, steps - life)
            )
    return found


class _Life:
    def __init__(self, folder: Path, dice: random.Random, found: Counter[str], jumps: bool) -> None:
        self.jumps, self.folder, self.dice, self.found = jumps, folder, dice, found
        self.workspace, self.number = folder / "0", 0
        self.ledger, self.lab = ledger_of(self.workspace), Lab()
        self.today = FIRST_DAY
        self.jumped: date | None = None
        #: By the last event of the stock, what the shelf was then; and the day on which each event was recorded.
        self.then: dict[int, Any] = {0: {}}
        self.said_on: list[str] = []
        self.kept: list[tuple[Path, Lab, dict[int, Any], list[str]]] = []

    def live(self, steps: int) -> None:
        acts: dict[Callable[[], bool], float] = {
            self._receives: 6, self._uses: 30, self._counts: 5, self._marks: 12, self._corrects: 10, self._renames: 3,
            self._records: 10, self._two_record: 3, self._reserves: 4, self._restarts: 4, self._backs_up: 0.8,
            self._restores: 0.5, self._moves_house: 0.3, self._looks_back: 6,
        }  # fmt: skip
        for step in range(steps):
            self._clock()
            act = self.dice.choices(list(acts), list(acts.values()))[0]
            done = act()
            self.found["steps"] += 1
            self.found["refused"] += not done
            self._same(step)
        assert verify(self.ledger).problems == ()

    # -- the clock, and days

    def _clock(self) -> None:
        if self.jumps and self.dice.random() < 0.01:
            self.jumped = date(self.dice.choice((1995, 2026, 2029, 2061)), 3, 5)
            self.found["clock jumps"] += 1
        else:
            self.jumped = None
            self.today += timedelta(days=self.dice.choice((0, 0, 0, 0, 0, 0, 1, 1, 3)))

    @property
    def day(self) -> str:
        return (self.jumped or self.today).isoformat()

    def _at(self) -> tuple[str, bool]:
        """When something happened, and whether a day ahead is meant."""
        ahead = self.dice.random() < 0.05
        days = self.dice.randrange(-20, 500) if ahead else -self.dice.choice((0, 0, 0, 0, 1, 2, 30))
        day = (date.fromisoformat(self.day) + timedelta(days=days)).isoformat()
        return day + self.dice.choice(("", "", "T08:00", "T11:20", "T15:30")), ahead and self.dice.random() < 0.7

    def _sane(self, at: str, ahead: bool) -> None:
        """What the door says of a day ahead."""
        most = (date.fromisoformat(self.day) + timedelta(days=366)).isoformat()
        if at[:10] > most or (at[:10] > self.day and not ahead):
            raise No("ahead")

    # -- both sides

    def _both(self, model: Callable[[Lab], object], real: Callable[[], object]) -> bool:
        """Do it on both sides; both must do it or refuse it."""
        try:
            model(self.lab)
            said = ""
        except No as no:
            said = str(no) or "no"
        try:
            real()
        except BadInput as fault:
            refused = str(fault)
        else:
            refused = ""
        assert bool(said) == bool(refused), f"the model says {said or 'yes'}, the ledger {refused or 'yes'}"
        if refused:
            return False
        self._remember()
        return True

    def _remember(self) -> None:
        while len(self.said_on) < self.lab.last:
            self.said_on.append(self.day)

    def _same(self, step: int) -> None:
        """The shelf, the reservations and what was made, on both sides; a fold anew now and then."""
        there: dict[str, Any] = {name: _model_state(one.state()) for name, one in self.lab.there().items()}
        assert _plain(self.ledger) == there, (step, self.found)
        self.then[self.lab.last] = there
        if step % 5 == 0:
            held = {name: int(Decimal(amount) * 1000) for name, (amount, _) in reserved_in(self.ledger).items()}
            assert held == self.lab.reservations()
        if step % 50 == 0:
            made = {(one.job, one.name): one.outcome for one in installations(self.ledger.documents("work"))}
            assert made == {key: outcome for key, (outcome, _) in self.lab.made.items()}
            assert verify(self.ledger).problems == ()

    def _draft(self, kind: str, lot: str, at: str, **more: Any) -> dict[str, Any]:
        return {"type": kind, "at": at, "who": "kim", "lot": lot, **more}

    def _record(self, draft: dict[str, Any], ahead: bool) -> Callable[[], object]:
        return lambda: self.ledger.record([draft], self.day, ahead)

    def _amount(self) -> int:
        return self.dice.choice((1, 500, 1000, 2500, 7000))

    # -- what happens

    def _receives(self) -> bool:
        (at, ahead), name, amount = self._at(), self.dice.choice(NAMES), 20_000

        def model(lab: Lab) -> None:
            self._sane(at, ahead)
            lab.happens(name, "received", at, self.day, amount, "x")

        draft = self._draft("received", name, at, item="x", quantity=_said(amount), unit="mL")
        return self._both(model, self._record(draft, ahead))

    def _uses(self) -> bool:
        return self._measured("used")

    def _counts(self) -> bool:
        return self._measured("counted")

    def _measured(self, kind: str) -> bool:
        (at, ahead), name, amount = self._at(), self.dice.choice(NAMES), self._amount()

        def model(lab: Lab) -> None:
            self._sane(at, ahead)
            lab.happens(name, kind, at, self.day, amount)

        unit = self.dice.choice(("mL", "L"))
        quantity = _said(amount) if unit == "mL" else format(Decimal(amount) / 1_000_000, "f")
        return self._both(model, self._record(self._draft(kind, name, at, quantity=quantity, unit=unit), ahead))

    def _marks(self) -> bool:
        (at, ahead), name = self._at(), self.dice.choice(NAMES)
        kind = self.dice.choice(("opened", "opened", "held", "freed", "held", "freed", "disposed", "condemned"))

        def model(lab: Lab) -> None:
            self._sane(at, ahead)
            lab.happens(name, kind, at, self.day)

        return self._both(model, self._record(self._draft(kind, name, at, reason="r"), ahead))

    def _corrects(self) -> bool:
        name, today, wanted = self.dice.choice(NAMES), self.day, ""
        container = self.lab.there().get(name)
        facts = container.facts if container else []
        if not facts or self.dice.random() < 0.1:
            number, kind = self.dice.randrange(1, self.lab.last + 2), ""
        else:
            edited = [fact for fact in facts if fact.edits]
            fact = self.dice.choice(edited if edited and self.dice.random() < 0.4 else facts)
            number, kind = fact.number, fact.kind
            if fact.edits and fact.edits[-1][1].get("void") and self.dice.random() < 0.5:
                wanted = "not void"
        at, ahead = self._at()
        what = wanted or self.dice.choice(("void", "void", "not void", "at", "amount"))
        if what == "amount" and kind not in ("received", "used", "counted"):
            what = "void"
        amount = self._amount()
        change: dict[str, Any] = {"amount": amount} if what == "amount" else {"at": at} if what == "at" else {}
        said: dict[str, Any] = {"quantity": _said(amount), "unit": "mL"} if what == "amount" else dict(change)
        void = {"void": True, "not void": False}.get(what)
        if void is not None:
            change = {"void": void}
        draft = self._draft("corrected", name, today, corrects=number, reason="r", change=said)
        draft |= {} if void is None else {"void": void}

        def model(lab: Lab) -> None:
            lab.of(name)
            if what == "at":
                self._sane(at, ahead)
            lab.corrected(name, number, today, change)

        return self._both(model, self._record(draft, ahead))

    def _renames(self) -> bool:
        name, new = self.dice.sample(NAMES, 2)
        if self.dice.random() < 0.7:
            new = f"Z{self.lab.last}"  # its name is free for another
        draft = self._draft("renamed", name, self.day, to=new)
        return self._both(lambda lab: lab.renamed(name, new), self._record(draft, False))

    def _asked(self) -> tuple[dict[str, Any], dict[str, int], dict[str, str], str, str, bool]:
        (at, ahead), job = self._at(), self.dice.choice(JOBS)
        draws = {name: self._amount() for name in self.dice.sample(NAMES, self.dice.randrange(0, 3))}
        made = {str(self.dice.randrange(1, 400)): self.dice.choice(("pass", "fail")) for _ in range(2)}
        raw = {
            "job": job, "at": at, "who": "kim", "chain": {"adhesive": "x"}, "items": dict.fromkeys(draws, "x"),
            "draws": [{"lot": lot, "quantity": _said(amount), "unit": "mL"} for lot, amount in draws.items()],
            "installations": [{"installation": n, "outcome": o, "lots": list(draws)} for n, o in made.items()],
        }  # fmt: skip
        return raw, draws, made, at, job, ahead

    def _records(self) -> bool:
        raw, draws, made, at, job, ahead = self._asked()

        def model(lab: Lab) -> None:
            if draws:
                self._sane(at, ahead)
            lab.recorded(job, made, draws, at, self.day)

        return self._both(model, lambda: keep(self.ledger, raw, self.day, ahead))

    def _two_record(self) -> bool:
        """Two at once: those that were acknowledged must fit in the order of their numbers, and no more would have."""
        asked = [self._asked() for _ in range(2)]
        told: dict[int, int] = {}

        def works(which: int) -> None:
            raw, *_, ahead = asked[which]
            try:
                told[which] = keep(ledger_of(self.workspace), raw, self.day, ahead)["id"]
            except BadInput:
                return

        threads = [threading.Thread(target=works, args=(which,)) for which in range(2)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        for which in sorted(told, key=lambda one: told[one]):
            _, draws, made, at, job, ahead = asked[which]
            if draws:
                self._sane(at, ahead)
            self.lab.recorded(job, made, draws, at, self.day)
        for which in {0, 1} - set(told):
            _, draws, made, at, job, ahead = asked[which]
            before = copy.deepcopy(self.lab)
            try:
                if draws:
                    self._sane(at, ahead)
                self.lab.recorded(job, made, draws, at, self.day)
            except No:
                continue
            self.lab = before
            raise AssertionError(f"refused though it fits: {asked[which]}")
        self._remember()
        return bool(told)

    def _reserves(self) -> bool:
        job = self.dice.choice(JOBS)
        there = list(self.lab.there())
        draws = {name: self._amount() for name in self.dice.sample(there, min(len(there), self.dice.randrange(0, 3)))}
        rows = [(name, Decimal(amount) / 1000, "mL") for name, amount in draws.items()]
        self.lab.reserved(job, draws)
        reserve(self.ledger, job, rows, self.day, "kim", self.day)
        return True

    # -- looking back, starting anew, moving

    def _looks_back(self) -> bool:
        days = sorted({fact.at[:10] for one in self.lab.containers for fact in one.facts}) or [self.day]
        on = self.dice.choice(days) + self.dice.choice(("", "T12:00"))
        wanted = {name: _model_state(state) for name, one in self.lab.there().items() if (state := one.state(on))}
        assert _plain(self.ledger, on) == wanted
        by = self.dice.choice(self.said_on) if self.said_on else self.day
        known = [number for number, said in enumerate(self.said_on, 1) if said <= by]
        if known == list(range(1, len(known) + 1)) and len(known) in self.then:
            assert _plain(self.ledger, known=by) == self.then[len(known)]
            self.found["look-backs compared"] += 1
        else:
            self.ledger.shelf(known=by)
        return True

    def _restarts(self) -> bool:
        if self.dice.random() < 0.3 and (kept := caches.folder()) is not None:
            for path in kept.glob("*.standing"):
                path.unlink(missing_ok=True)
        self.ledger = ledger_of(self.workspace)
        return True

    def _backs_up(self) -> bool:
        if not self.lab.last:
            return False
        self.number += 1
        path = self.folder / f"{self.number}.backup"
        assert backup(self.ledger, self.workspace, path).problems == ()
        self.kept.append((path, copy.deepcopy(self.lab), dict(self.then), list(self.said_on)))
        return True

    def _restores(self) -> bool:
        if not self.kept:
            return False
        path, lab, then, said_on = self.dice.choice(self.kept[-5:])
        self._elsewhere()
        restore(path, ledger_of(self.workspace), self.workspace, checked)
        self.ledger, self.lab = ledger_of(self.workspace), copy.deepcopy(lab)
        self.then, self.said_on = dict(then), list(said_on)
        return True

    def _moves_house(self) -> bool:
        """Everything is given out as one document, and taken in elsewhere."""
        given = json.loads(json.dumps(everything(self.ledger, self.workspace)))
        if not given["entries"]:
            return False
        before = self.ledger.standing()
        self._elsewhere()
        self.ledger = ledger_of(self.workspace)
        take_in(Brought("moved", whole=given), self.ledger, self.workspace, self.day, checked)
        assert self.ledger.standing() == before
        return True

    def _elsewhere(self) -> None:
        shutil.rmtree(self.workspace, ignore_errors=True)
        self.number += 1
        self.workspace = self.folder / str(self.number)


def _said(thousandths: int) -> str:
    return format(Decimal(thousandths) / 1000, "f")


def _plain(ledger: Ledger, on: str = "", known: str = "") -> dict[str, Any]:
    """The shelf of a ledger, as the model says it."""
    return {
        lot.lot: (
            int(lot.quantity * 1000),
            lot.opened or "",
            bool(lot.condemned),
            bool(lot.held),
            {day: int(Decimal(amount) * 1000) for day, amount in lot.used},
        )
        for lot in ledger.shelf(on, known).lots.values()
    }


def _model_state(state: dict[str, Any] | None) -> Any:
    assert state is not None
    return (state["left"], state["opened"], state["condemned"], state["held"], state["used"])
