"""What all requests share: the knowledge made ready, the plans asked for last, and the workspace's store."""

from __future__ import annotations

import datetime
import time
from collections import OrderedDict
from pathlib import Path
from threading import Lock

from kb import knowledge
from kb.asked import Asked, ask
from kb.engine.plan import Engine
from kb.job import Job
from kb.stock.items import Items
from kb.stock.tinystore import TinyStore
from kb.web.session import Answered
from kb.web.settings import Settings

#: Seconds for which changed files of the lab may go unseen; looking at every file takes as long as a plan.
LOOK_EVERY_S = 2.0
#: A page of a plan leads to its amounts, sheet and pictures: all of the same plan.
PLANS_KEPT = 64


class Desk:
    """Shared by the threads that answer requests."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.answered = Answered()
        self._lock = Lock()
        self._engine: Engine | None = None
        self._looked = 0.0
        self._plans: OrderedDict[tuple[str, str, int, str | None], Asked] = OrderedDict()

    @property
    def today(self) -> datetime.date:
        return self.settings.today()

    @property
    def engine(self) -> Engine:
        """The engine over the knowledge as the files are now, or were two seconds ago."""
        with self._lock:
            now = time.monotonic()
            if self._engine is None or now - self._looked > LOOK_EVERY_S:
                known = knowledge.load(self._house)
                self._looked = now
                if self._engine is None or known.digest != self._engine.knowledge.digest:
                    self._engine = Engine(known)
            return self._engine

    @property
    def known(self) -> knowledge.Knowledge:
        return self.engine.knowledge

    def asked(self, job: Job, top: int = 3, prefer: str | None = None, where: str = "job") -> Asked:
        """The job, planned; the same job asked again is not planned again."""
        engine = self.engine
        key = (engine.knowledge.digest, job.model_dump_json(), top, prefer)
        with self._lock:
            if key in self._plans:
                self._plans.move_to_end(key)
                return self._plans[key]
        found = ask(engine, job, where, top, prefer)
        with self._lock:
            self._plans[key] = found
            while len(self._plans) > PLANS_KEPT:
                self._plans.popitem(last=False)
        return found

    def store(self) -> TinyStore:
        """The workspace's store of stock events. Each request opens it anew: other programs write it too."""
        return TinyStore(self.settings.workspace)

    def items(self) -> Items:
        """The catalog's items as stock sees them, with the workspace's own."""
        return Items(self.known)

    @property
    def _house(self) -> Path | None:
        """The workspace where it exists already: it is made when something is first recorded."""
        folder = self.settings.workspace
        return folder if folder.is_dir() else None
