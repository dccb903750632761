"""One ledger on a PostgreSQL server that a whole lab writes at once: by two servers of the program, and with kills.

`benches`: eight benches send mixed writes to two servers, each write with a word of its own, some twice, and the
shelf is small, so that much is refused. `killed`: programs that write are killed, and now and then the database server
is, with everything in it. What was acknowledged is there once, what was refused is not, and each lot holds what a plain
sum of the acknowledged events says.
"""

from __future__ import annotations

import os
import random
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from threading import Lock
from typing import Any

import httpx

from kb.base.places import SHARED
from kb.stock.amounts import text
from kb.stock.ledger import Ledger
from kb.stock.workspace import ledger_of
from kb.work.checking import verify
from tests.stock.factory import received
from tests.stock.ordeal import kills
from tests.stock.ordeal.acts import warm
from tests.stock.stores import server
from tests.web.serving import serving

PROGRAM = Path(sys.executable).with_name("tackroom")
BENCHES, LOTS = 8, 6
#: What a bench does next, by how often; of the writes so many are sent twice.
MIX = {"use": 60, "receive": 10, "open": 6, "count": 8, "move": 8, "hold": 4, "free": 4}
TWICE = 0.1
#: A program is ended within so many seconds after so many lines at most; of so many kills one is of the server; and so
#: many fall on one ledger.
LONGEST_S, MOST_LINES, PER_SERVER, PER_LEDGER = 0.05, 8, 20, 100


@dataclass
class Told:
    """What the servers said: the events that were acknowledged, by the mark in their reason; how many were refused."""

    acknowledged: dict[str, dict[str, Any]] = field(default_factory=dict)
    refused: set[str] = field(default_factory=set)
    twice: int = 0
    lock: Lock = field(default_factory=Lock)


def benches(operations: int, seed: int = 1) -> Counter[str]:
    """Let the benches do so many operations each; counts what came of them."""
    with _shared_ledger() as (_, folder), ExitStack() as servers:
        ledger = ledger_of(folder)
        came = {"item": "acetone", "at": "2026-01-01", "expires": "2099-01-01"}
        ledger.record([received(f"L{n}", "40", **came) for n in range(LOTS)], "2026-01-01")
        homes = [folder / name for name in ("one", "two")]
        for home in homes:
            home.mkdir()
        sites = [servers.enter_context(serving(PROGRAM, home, "--processes", "1")) for home in homes]
        told = Told()
        with ThreadPoolExecutor(BENCHES) as pool:
            dice = [random.Random(f"{seed} {n}") for n in range(BENCHES)]
            lives = [pool.submit(_bench, sites, n, operations, dice[n], told) for n in range(BENCHES)]
            for life in lives:
                life.result()
        _must_agree(ledger, told)
    counted = {"acknowledged": len(told.acknowledged), "refused": len(told.refused), "sent twice": told.twice}
    return Counter({"operations": BENCHES * operations, **counted})


def _bench(sites: list[str], number: int, operations: int, dice: random.Random, told: Told) -> None:
    """A bench's day: now by the one server, now by the other."""
    clients = [httpx.Client(base_url=site, timeout=120) for site in sites]
    tokens = [client.get("/api/session").json()["token"] for client in clients]
    for step in range(operations):
        which, mark = dice.randrange(len(clients)), f"bench-{number}-{step}"
        path, body = _operation(dice, mark)
        headers = {"X-Session-Token": tokens[which], "Idempotency-Key": mark}
        answers = [
            clients[which].post(path, json=body, headers=headers) for _ in range(2 if dice.random() < TWICE else 1)
        ]
        with told.lock:
            told.twice += len(answers) - 1
            for answer in answers:
                if answer.status_code == 200:
                    [event] = answer.json()["events"]
                    assert told.acknowledged.setdefault(mark, event) == event, f"{mark} was answered in two ways"
                else:
                    assert answer.status_code in (409, 422), f"{answer.status_code} {answer.text}"
                    told.refused.add(mark)
    for client in clients:
        client.close()


def _operation(dice: random.Random, mark: str) -> tuple[str, dict[str, Any]]:
    """Where something is sent, and what."""
    (kind,) = dice.choices(list(MIX), list(MIX.values()))
    head, lot = {"at": "2026-01-02", "reason": mark}, f"L{dice.randrange(LOTS)}"
    if kind == "receive":
        return "/api/lots", {**head, "item": "acetone", "lot": mark, "quantity": "5", "unit": "mL"}
    more: dict[str, Any] = {
        "use": {"quantity": text(Decimal(dice.randrange(1, 2000)) / 1000), "unit": "mL"},
        "count": {"quantity": str(dice.randrange(40)), "unit": "mL"},
        "move": {"location": f"shelf {dice.randrange(9)}"},
    }.get(kind, {})
    return f"/api/lots/{lot}/{kind}", {**head, **more}


def _must_agree(ledger: Ledger, told: Told) -> None:
    """Hold the ledger against what was told."""
    events = [event for event in ledger.documents("stock") if event.get("reason")]
    marks = Counter(event["reason"] for event in events)
    assert marks == Counter(dict.fromkeys(told.acknowledged, 1)), "something was lost, doubled, or recorded unasked"
    assert told.acknowledged == {event["reason"]: event for event in events}, "an event isn't what was acknowledged"
    left: dict[str, Decimal] = {f"L{n}": Decimal(40) for n in range(LOTS)}
    for event in sorted(events, key=lambda one: int(one["id"])):
        lot = event["lot"]
        if event["type"] in ("received", "counted"):
            left[lot] = Decimal(event["quantity"])
        elif event["type"] == "used":
            left[lot] -= Decimal(event["quantity"])
        assert left[lot] >= 0, f"{lot} is below nothing after event {event['id']}"
    assert {mark: lot.quantity for mark, lot in ledger.shelf().lots.items()} == left
    assert verify(ledger).problems == ()


def killed(count: int, seed: int = 1) -> Counter[str]:
    """Kill so many programs that write a shared ledger, and the database server now and then."""
    found: Counter[str] = Counter()
    dice = random.Random(seed)
    warm()
    with _shared_ledger() as (database, folder):
        while found["kills"] < count:
            os.environ[SHARED] = server.new_database(database.folder)
            begun: list[kills.Mark] = []
            told: list[kills.Mark] = []
            for life in range(min(PER_LEDGER, count - found["kills"])):
                server_dies = life % PER_SERVER == PER_SERVER - 1
                end = (lambda _: database.kill()) if server_dies else kills.end_it
                said = kills.a_life(folder, f"life{life}", dice, end, LONGEST_S, after=dice.randrange(MOST_LINES))
                kills.hear(said, begun, told, may_fail=server_dies)
                if server_dies:
                    database.start()
                    found["kills of the server"] += 1
                found["kills"] += 1
            kills.must_be_there_once(folder, begun, told, found)
            assert verify(ledger_of(folder)).problems == ()
    return found


@contextmanager
def _shared_ledger() -> Iterator[tuple[server.Server, Path]]:
    """A server of its own with an empty database, which the environment names, and a folder for workspaces."""
    before = os.environ.get(SHARED)
    with server.running() as database, tempfile.TemporaryDirectory() as folder:
        os.environ[SHARED] = server.new_database(database.folder)
        try:
            yield database, Path(folder)
        finally:
            os.environ.pop(SHARED) if before is None else os.environ.update({SHARED: before})
