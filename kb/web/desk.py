"""What all requests share: the knowledge made ready, the plans asked for last, and the workspace's ledger."""

from __future__ import annotations

import datetime
import gc
import sys
import time
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path
from threading import Lock
from typing import Annotated, Any

from fastapi import Depends, Request

from kb.base.errors import BadInput
from kb.engine.plan import Engine
from kb.job import Job
from kb.knowledge import Knowledge
from kb.knowledge.cache import roots
from kb.planning.ask import Asked, ask, prefers_stock
from kb.planning.shelf import Shelf as Offer
from kb.report.rules import rules_json
from kb.stock.flags import judged
from kb.stock.items import Items
from kb.stock.ledger import Ledger
from kb.stock.products import Products
from kb.stock.stores import Answered
from kb.stock.supplies import Supplies
from kb.stock.when import moment
from kb.stock.workspace import ledger_of
from kb.web.acting import acting, watched
from kb.web.once import Seal, UnderWay
from kb.web.problems import Problem
from kb.web.render import environment
from kb.web.settings import Settings
from kb.work.installations import Counts, counted, yields_by
from kb.work.known import load
from kb.work.preference import offered

#: Seconds for which changed files of the lab may go unseen; looking at every file takes as long as a plan.
LOOK_EVERY_S = 2.0
#: A page of a plan leads to its amounts, sheet and pictures: all of the same plan. Each takes about half a megabyte.
#: A question goes to the process that knows it (kb.web.lanes), so two processes remember twice as many.
PLANS_KEPT = 128
#: How often a second click looks whether the first is done.
SECOND_CLICK_S = 0.02

#: By what a plan is known again: the knowledge, the job, how many chains, what counts more, and the state of the shelf.
Key = tuple[str, str, int, str | None, str, str]


class Desk:
    """Shared by the threads that answer requests."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.under_way = UnderWay()
        self._ledger: Ledger | None = None
        self._lock, self._opening = Lock(), Lock()
        self._looking, self._reading = Lock(), Lock()
        self._engine: Engine | None = None
        self._items: tuple[Engine, Items] | None = None
        self._rules: tuple[str, dict[str, Any]] | None = None
        self._counts: tuple[int, Counts] | None = None
        self._looked = 0.0
        self._planning, self._searching = Lock(), Lock()
        self._plans: OrderedDict[Key, Asked] = OrderedDict()

    def ready(self) -> None:
        """Read and lay out beforehand what requests share, so that nobody waits for it; a fault in it is raised.

        It stays for good: the garbage collector needn't walk through it again and again while everybody waits. Nor need
        it walk so often through the plans that are kept: that took a sixth of the time, and freed next to nothing.
        """
        self.items()
        self.ledger()
        self.rules()
        templates = environment()
        for name in templates.list_templates():
            templates.get_template(name)
        gc.collect()
        gc.freeze()
        gc.set_threshold(50_000, 20, 100)

    @property
    def today(self) -> datetime.date:
        return self.settings.today()

    @property
    def who(self) -> str:
        """Who records where nothing else is said: who came in, or is known on the device, or the server was told of."""
        return acting.get().name or self.settings.who

    @property
    def day(self) -> str:
        """Today, ISO."""
        return self.today.isoformat()

    @property
    def engine(self) -> Engine:
        """The engine over the knowledge as the lab has it now, or had it two seconds ago.

        One request looks whether they changed; the others go on with what is known meanwhile.
        """
        known = self._engine
        stale = known is None or time.monotonic() - self._looked > LOOK_EVERY_S
        if stale and self._looking.acquire(blocking=known is None):
            try:
                known = self._look()
            finally:
                self._looking.release()
        assert known is not None
        return known

    def _look(self) -> Engine:
        """Give the engine, made anew where the files, or what the lab has confirmed, have changed since it was made."""
        found, known = load(self._house, self.day), self._engine
        if known is None or found.digest != known.knowledge.digest:
            known = self._engine = Engine(found)
        self._looked = time.monotonic()
        return known

    @property
    def known(self) -> Knowledge:
        return self.engine.knowledge

    def moment(self, given: str | None, where: str) -> str:
        """Give the moment given, or today, as canonical text; BadInput names it by `where`."""
        try:
            return moment(self.today if given is None else given)
        except ValueError as fault:
            raise BadInput(where, str(fault)) from None

    def day_of(self, job: Job, on: str | None = None) -> str:
        """Give the day of the work: as given, or the job's, or today."""
        planned = job.job.planned_on
        return self.moment(on or (planned.isoformat() if planned else None), "on")[:10]

    def asked(
        self,
        job: Job,
        top: int = 3,
        prefer: str | None = None,
        where: str = "job",
        on: str | None = None,
        stock: bool = False,
    ) -> Asked:
        """Plan the job; the same job asked again is not planned again. `on` is the day of the shelf that counts.

        One plan is made after the other, with what it refuses: were all of them made at once, by turns of a few
        milliseconds, each would be as late as the last. The search for what would help takes far longer; it has a
        queue of its own.
        """
        engine = self.engine
        by_stock = stock or prefers_stock(job, prefer)
        shelf = f"{self.day_of(job, on)} {self.ledger().standing().head.hash}" if by_stock else ""
        yields = yields_by(self._counted(), job.batch.expected_yield)
        known = str(sorted((sorted(chain), share) for chain, share in yields.items()))
        # A page and a program, or two people, ask the same under names of their own.
        question = job.model_copy(update={"job": job.job.model_copy(update={"name": ""})})
        key = (engine.knowledge.digest, question.model_dump_json(), top, prefer, shelf, known)
        found = self._kept(key)
        if found is None:
            with self._planning:
                found = self._kept(key)
                if found is None:
                    offer = self.offered(job, on) if by_stock else None
                    found = ask(engine, job, where, top, prefer, offer, yields=yields)
                    found.plan.complete()
                    self._keep(key, found)
        if not found.plan.chains:
            with self._searching:
                found.trouble  # noqa: B018
        return found.called(job.job.name)

    def _counted(self) -> Counts:
        """Tell how installations of each chain came out; read again where something was recorded since."""
        ledger, kept = self.ledger(), self._counts
        number = ledger.standing().last.get("work", 0)
        if kept is None or kept[0] != number:
            kept = self._counts = (number, counted(ledger.documents("work")))
        return kept[1]

    def offered(self, job: Job, on: str | None) -> Offer:
        """Give what may be used from the shelf on the day of the work."""
        day = self.day_of(job, on)
        return offered(judged(self.ledger().shelf(), self.items().facts, day), day)

    def _kept(self, key: Key) -> Asked | None:
        with self._lock:
            if key in self._plans:
                self._plans.move_to_end(key)
            return self._plans.get(key)

    def _keep(self, key: Key, found: Asked) -> None:
        with self._lock:
            self._plans[key] = found
            while len(self._plans) > PLANS_KEPT:
                self._plans.popitem(last=False)

    def once(self, seal: Seal, do: Callable[[Seal], str]) -> str:
        """Carry out what a form asks for, and say where that leads; sent again, it is not carried out again.

        A second click waits for the first, and is led where that led. What failed may be sent again. A form that a
        browser kept, filled in anew, is no second click, and is refused.
        """
        while not self.under_way.begin(seal.word):
            time.sleep(SECOND_CLICK_S)
        try:
            before = self.ledger().store.answered(seal.word)
            return _led_to(before, seal) if before else do(seal)
        except Answered as earlier:
            return _led_to(earlier, seal)
        finally:
            self.under_way.end(seal.word)

    def ledger(self) -> Ledger:
        """Give the workspace's ledger. Other programs may write it meanwhile."""
        with self._opening:
            if self._ledger is None:
                self._ledger = watched(ledger_of(self.settings.workspace, lambda said: print(said, file=sys.stderr)))
            return self._ledger

    def items(self) -> Items:
        """Give the catalog's items as stock sees them, with the workspace's own."""
        engine = self.engine
        with self._lock:
            if self._items is None or self._items[0] is not engine:
                self._items = (engine, Items(engine.knowledge))
            return self._items[1]

    def rules(self) -> dict[str, Any]:
        """Give `tackroom.rules/1`: the rules with their cases, read from the files where these have changed."""
        # With a lock of its own: it takes a second, and whoever asks for a plan must not wait for it.
        with self._reading:
            digest, kept = self.known.digest, self._rules
            if kept is None or kept[0] != digest:
                kept = self._rules = (digest, rules_json(roots(self._house)))
            return kept[1]

    def products(self) -> Products:
        """Give the workspace's table of products."""
        return Products.load(self.settings.workspace)

    def supplies(self) -> Supplies:
        """Tell how the lab buys each item."""
        return Supplies.load(self.settings.workspace)

    @property
    def lead_days(self) -> dict[str, int]:
        """The days to delivery of each item: as the lab says of the item, else of its products."""
        return {**self.products().lead_days, **self.supplies().lead_days}

    @property
    def _house(self) -> Path | None:
        """The workspace where it exists already: it is made when something is first recorded."""
        folder = self.settings.workspace
        return folder if folder.is_dir() else None


def _led_to(before: Answered, seal: Seal) -> str:
    if before.asked != seal.asked:
        raise Problem(409, "must-act", "form", "was sent before, saying otherwise", "load the page again")
    return before.answer


def desk_of(request: Request) -> Desk:
    """Give the desk that the application has."""
    found: Desk = request.app.state.desk
    return found


TheDesk = Annotated[Desk, Depends(desk_of)]
