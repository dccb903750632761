"""Many people at once: plans, scans and stock events on a server of its own, each write counted.

    python -m tests.web.load [--users 50] [--seconds 60] [--think 1.0]

The server runs in a process of its own, on this machine, over a fresh workspace. Each user thinks between two doings,
for half to one and a half times `--think` seconds, and then plans (by page or API, a job that nobody asked before, or
now and then one that somebody did), asks what an answer hangs on, looks at the shelf, scans, opens or uses a lot, or
receives one; some click twice. At the end every acknowledged write must be in the ledger once and nothing else, and
the store must be sound.

The plans are timed in this process as well, on the same jobs, before the users come and after they left: a plan
and its document, as `tackroom plan --json` makes it. Beside the server's answers stands that time. What an answer hangs
on is a search of its own, ten times as long as a plan: it has a row of its own, and is held to no time, but all others
are, while it is made.
"""

from __future__ import annotations

import argparse
import asyncio
import itertools
import json
import random
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Awaitable, Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import httpx

from kb.engine.plan import Engine
from kb.job import Job
from kb.knowledge import load
from kb.planning.ask import ask
from kb.report.plan_json import plan_json
from kb.web.forms import query_of
from tests.oracles.jobs import random_job
from tests.stock.factory import events, record
from tests.web.serving import serving

PROGRAM = Path(sys.executable).with_name("tackroom")
ITEM = "ethyl-cyanoacrylate-low-viscosity"
#: What a user does next, by how often. Half of the plans are asked for by page and half by API.
MIX = {"plan-page": 20, "plan-api": 18, "hangs-on": 2, "shelf": 10, "scan": 15, "use": 22, "receive": 8, "open": 5}
#: Of the plans, so many ask what was asked before; of the jobs, so many have no chain; of the writes, so many are
#: sent twice at once.
ASKED_AGAIN, NO_CHAIN, TWICE = 0.2, 0.05, 0.2
#: The users come one by one, over so many think times.
COMING = 4.0
#: The answer of the server may take so much: twice the time of the plan itself, and this many seconds.
FACTOR, MORE_S = 2.0, 0.020
#: Of a hundred answers of whatever kind but this, one may take longer.
P99_S, UNTIMED = 0.5, "hangs-on"
#: What a write leads to: the lot, and the event that was acknowledged.
_DONE = re.compile(r"^/shelf/lots/([^?]+)\?done=(\d+)$")


@dataclass
class Seen:
    """What the users saw: seconds by kind of request, the events acknowledged by id, and what went wrong."""

    times: dict[str, list[float]] = field(default_factory=dict)
    acknowledged: dict[int, str] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)
    twice: int = 0

    def median_s(self, kind: str) -> float:
        return statistics.median(self.times.get(kind, [0.0]))


@dataclass(frozen=True)
class Jobs:
    """Jobs to ask for, without end: the same few dozen parts and services, each under a name of its own."""

    base: tuple[Job, ...]
    numbers: Iterator[int] = field(default_factory=itertools.count)
    before: list[Job] = field(default_factory=list)

    def next(self, draw: random.Random) -> Job:
        if self.before and draw.random() < ASKED_AGAIN:
            return draw.choice(self.before[-30:])
        job = draw.choice(self.base)
        name = job.job.model_copy(update={"name": f"load {next(self.numbers)}"})
        self.before.append(job.model_copy(update={"job": name}))
        return self.before[-1]


def made(engine: Engine, job: Job) -> float:
    """Seconds for a plan and its document, alone in this process."""
    begun = time.perf_counter()
    asked = ask(engine, job, "job")
    json.dumps(plan_json(asked.plan, asked.resolved, asked.trouble), ensure_ascii=False)
    return time.perf_counter() - begun


def jobs_of(engine: Engine, count: int) -> Jobs:
    """Random jobs against the real knowledge, nearly all with a chain."""
    with_chain: list[Job] = []
    without: list[Job] = []
    wanted = max(1, round(count * NO_CHAIN))
    for seed in itertools.count():
        job, _ = random_job(seed, engine.knowledge)
        kind = with_chain if ask(engine, job, "job").plan.chains else without
        kind.append(job)
        if len(with_chain) >= count - wanted and len(without) >= wanted:
            return Jobs((*with_chain[: count - wanted], *without[:wanted]))
    raise AssertionError


class User:
    """One of the users: a browser's session, the lots that are theirs, and a mind of their own."""

    def __init__(self, number: int, client: httpx.AsyncClient, jobs: Jobs, seen: Seen) -> None:
        self.name, self.client, self.jobs, self.seen = f"user-{number}", client, jobs, seen
        self.draw = random.Random(number)
        self.lots = [f"U{number}-0"]
        self.closed = list(self.lots)
        self.writes = 0

    async def lives(self, until: float, think: float) -> None:
        """Thinks and does, until the time is up. Whatever goes wrong is kept."""
        doings: dict[str, Callable[[], Awaitable[None]]] = {
            "plan-page": self._plans_by_page,
            "plan-api": self._plans_by_api,
            "hangs-on": self._asks_what_it_hangs_on,
            "shelf": self._looks,
            "scan": self._scans,
            "use": self._uses,
            "receive": self._receives,
            "open": self._opens,
        }
        await asyncio.sleep(self.draw.random() * COMING * think)
        while time.monotonic() < until:
            (doing,) = self.draw.choices(list(MIX), list(MIX.values()))
            try:
                await doings[doing]()
            except (httpx.HTTPError, AssertionError, AttributeError) as fault:
                self.seen.faults.append(f"{self.name} {doing}: {fault!r}")
            await asyncio.sleep(think * (0.5 + self.draw.random()))

    async def _asks(self, kind: str, method: str, address: str, expect: int = 200, **more: Any) -> httpx.Response:
        begun = time.perf_counter()
        answer = await self.client.request(method, address, **more)
        self.seen.times.setdefault(kind, []).append(time.perf_counter() - begun)
        assert answer.status_code == expect, f"{answer.status_code} {answer.text[:300]}"
        return answer

    async def _plans_by_page(self) -> None:
        answer = await self._asks("plan-page", "GET", f"/?{query_of(self.jobs.next(self.draw))}")
        assert any(said in answer.text for said in ("; ready ", "No chain suits this job")), answer.text[:300]

    async def _plans_by_api(self) -> None:
        job = self.jobs.next(self.draw).model_dump(mode="json", exclude_defaults=True)
        answer = await self._asks("plan-api", "POST", "/api/plan?hangs_on=false", json=job)
        assert answer.json()["schema"].startswith("tackroom.plan/")

    async def _asks_what_it_hangs_on(self) -> None:
        job = self.jobs.next(self.draw).model_dump(mode="json", exclude_defaults=True)
        answer = await self._asks(UNTIMED, "POST", "/api/plan", json=job)
        assert answer.json()["hangs_on"] is not None

    async def _looks(self) -> None:
        answer = await self._asks("shelf", "GET", "/shelf")
        assert "Must not be used: 1" in answer.text

    async def _scans(self) -> None:
        lot = self.draw.choice(self.lots)
        answer = await self._asks("scan", "GET", f"/shelf/scan?code=tackroom:lot/{lot}", 303)
        assert unquote(answer.headers["location"]) == f"/shelf/lots/{lot}"
        await self._asks("lot", "GET", answer.headers["location"])

    async def _uses(self) -> None:
        lot = self.draw.choice(self.lots)
        await self._writes(f"/shelf/lots/{lot}", f"/shelf/lots/{lot}", event="used", quantity="0.01", unit="g")

    async def _opens(self) -> None:
        if self.closed:
            lot = self.closed.pop()
            await self._writes(f"/shelf/lots/{lot}", f"/shelf/lots/{lot}", event="opened")

    async def _receives(self) -> None:
        lot = f"{self.lots[0].partition('-')[0]}-{len(self.lots)}"
        given = {"item": ITEM, "lot": lot, "quantity": "500", "unit": "g", "expires": "2199-01-01"}
        await self._writes("/shelf/receive", "/shelf/receive", **given)
        self.lots.append(lot)
        self.closed.append(lot)

    async def _writes(self, page: str, to: str, **fields: str) -> None:
        """Fill in a form and send it, sometimes with two clicks; the event that it led to is kept."""
        form = (await self._asks("form", "GET", page)).text
        for name in ("session_token", "once"):
            found = re.search(rf'name="{name}" value="([^"]+)"', form)
            assert found, f"no {name} on {page}"
            fields[name] = found[1]
        self.writes += 1
        mark = f"{self.name} write {self.writes}"
        send = {"data": {**fields, "who": self.name, "reason": mark}}
        clicks = 2 if self.draw.random() < TWICE else 1
        answers = await asyncio.gather(*(self._asks("write", "POST", to, 303, **send) for _ in range(clicks)))
        self.seen.twice += clicks - 1
        led_to = {answer.headers["location"] for answer in answers}
        assert len(led_to) == 1, f"one form led to {led_to}"
        done = _DONE.match(led_to.pop())
        assert done, "nothing was acknowledged"
        number = int(done[2])
        assert number not in self.seen.acknowledged, f"event {number} was acknowledged twice"
        self.seen.acknowledged[number] = mark


async def all_of_them(site: str, users: int, seconds: float, think: float, jobs: Jobs) -> Seen:
    """What so many users see in so many seconds."""
    seen = Seen()
    limits = httpx.Limits(max_connections=2, max_keepalive_connections=2)
    clients = [httpx.AsyncClient(base_url=site, timeout=60, limits=limits) for _ in range(users)]
    until = time.monotonic() + seconds
    await asyncio.gather(
        *(User(number, client, jobs, seen).lives(until, think) for number, client in enumerate(clients))
    )
    for client in clients:
        await client.aclose()
    return seen


def stocked(workspace: Path, users: int) -> int:
    """Put a lot for each user on the shelf, and one that must not be used; how many events that is."""
    came = {"type": "received", "at": "2026-01-02", "who": "kim", "item": ITEM, "unit": "g", "quantity": "500"}
    lots = [{**came, "lot": f"U{number}-0", "expires": "2199-01-01"} for number in range(users)]
    return len(record(workspace, [*lots, {**came, "lot": "OLD", "expires": "2026-01-31"}]))


def faults_of(seen: Seen, workspace: Path, begun_with: int) -> list[str]:
    """What was lost, doubled or damaged."""
    found = list(seen.faults)
    kept = events(workspace)[begun_with:]
    marks = Counter(event["reason"] for event in kept)
    found += [f"{mark} is in the ledger {count} times" for mark, count in marks.items() if count > 1]
    found += [f"event {n} ({mark}) is lost" for n, mark in seen.acknowledged.items() if not marks[mark]]
    known = {event["id"]: event["reason"] for event in kept}
    found += [f"event {n} is not {mark}" for n, mark in seen.acknowledged.items() if known.get(n) != mark]
    if not seen.faults and len(kept) != len(seen.acknowledged):
        found.append(f"{len(kept)} events, and {len(seen.acknowledged)} were acknowledged")
    verify = [str(PROGRAM), "stock", "verify", "--workspace", str(workspace)]
    done = subprocess.run(verify, capture_output=True, text=True, check=False)
    return found + ([] if done.returncode == 0 else [f"stock verify: {done.stdout}{done.stderr}"])


def run(
    folder: Path, users: int, seconds: float, think: float, count: int = 120
) -> tuple[Seen, list[str], list[float]]:
    """The whole of it: what the users saw, what is wrong, and how long the plans take without a server."""
    engine = Engine(load())
    jobs = jobs_of(engine, count)
    workspace = folder / "workspace"
    workspace.mkdir()
    begun_with = stocked(workspace, users)
    alone = [made(engine, job) for job in jobs.base]
    with serving(PROGRAM, folder) as site:
        seen = asyncio.run(all_of_them(site, users, seconds, think, jobs))
    alone += [made(engine, job) for job in jobs.base]
    return seen, faults_of(seen, workspace, begun_with), alone


def percentile(times: Sequence[float], share: float) -> float:
    return sorted(times)[min(len(times) - 1, int(share * len(times)))]


def main() -> int:
    """Run it, and say how it went; 1 where anything is wrong or too slow."""
    read = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    read.add_argument("--users", type=int, default=50)
    read.add_argument("--seconds", type=float, default=60)
    read.add_argument("--think", type=float, default=1.0)
    asked = read.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        seen, faults, alone = run(Path(folder), asked.users, asked.seconds, asked.think)
    bar = FACTOR * statistics.median(alone) + MORE_S
    requests = sum(map(len, seen.times.values()))
    print(
        f"{asked.users} users, {asked.seconds:g} s, think time about {asked.think:g} s: {requests} requests, "
        f"{requests / asked.seconds:.0f} a second"
    )
    print(f"{len(seen.acknowledged)} events acknowledged, {seen.twice} forms sent twice")
    print(f"{'':12}{'number':>8}{'median ms':>11}{'p95 ms':>9}")
    for kind, times in [("in process", alone), *sorted(seen.times.items())]:
        print(f"{kind:12}{len(times):8}{statistics.median(times) * 1000:11.1f}{percentile(times, 0.95) * 1000:9.1f}")
    for kind in ("plan-page", "plan-api"):
        if seen.median_s(kind) > bar:
            faults.append(f"the median {kind} takes more than {bar * 1000:.0f} ms")
    everything = [one for kind, times in seen.times.items() if kind != UNTIMED for one in times]
    last = percentile(everything, 0.99)
    middle = statistics.median(everything)
    print(f"of all but {UNTIMED}: median {middle * 1000:.0f} ms, p99 {last * 1000:.0f} ms (bar {P99_S * 1000:.0f})")
    if last > P99_S:
        faults.append(f"one of a hundred answers takes more than {P99_S * 1000:.0f} ms")
    print(f"bar for plans: {bar * 1000:.0f} ms (2 x in process + 20)")
    print("\n".join(faults[:20]) if faults else "nothing lost, nothing doubled, no error")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
