"""`python -m tests.oracles --jobs 300 --bases 300`: the engine against clingo, CP-SAT and every single chain, counted.

Beyond what the tests do, every chain is tried of larger knowledge too (`--chains`), and seeds may begin elsewhere
(`--from`).
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from functools import cache, partial

from kb import knowledge
from kb.engine.plan import Engine
from tests.oracles.compare import Disagreement, K, chains_agree, corners, costs_agree, invented
from tests.oracles.jobs import random_job
from tests.oracles.model import Builder
from tests.oracles.test_agreement import PREFERENCES

#: What one seed comes to: what it counts for, and the disagreement if there is one.
Found = tuple[tuple[str, ...], str]


@cache
def engine() -> Engine:
    return Engine(knowledge.load())


@cache
def builder(prefer: str | None) -> Builder:
    return Builder(engine().knowledge, prefer)


def job(seed: int) -> Found:
    """A random job on the shipped knowledge."""
    prefer = PREFERENCES[seed % len(PREFERENCES)]
    try:
        plan = costs_agree(engine(), builder(prefer), *random_job(seed, engine().knowledge), prefer)
    except Disagreement as fault:
        return (), f"job {seed}: {fault}"
    return (f"jobs, preferring {prefer}" if prefer else "jobs", *(["jobs with no chain"] * (not plan.chains))), ""


def base(seed: int, most_chains: int) -> Found:
    """An invented knowledge base; where it has few chains, each of them as well."""
    own, asked, entry = invented(seed, engine().knowledge)
    try:
        plan = costs_agree(own, Builder(own.knowledge), asked, entry)
        each = chains_agree(plan, most_chains)
    except Disagreement as fault:
        return (), f"base {seed}: {fault}"
    return ("bases", *(["bases of which every chain was tried"] * each), *(f"bases: {c}" for c in corners(plan))), ""


def main() -> int:
    """Exit status 1 where anything disagrees."""
    options = argparse.ArgumentParser(prog="python -m tests.oracles", description=__doc__)
    options.add_argument("--jobs", type=int, default=300, help="random jobs on the shipped knowledge")
    options.add_argument("--bases", type=int, default=300, help="invented knowledge bases")
    options.add_argument(
        "--chains", type=int, default=60_000, help="try every chain of bases that have at most so many"
    )
    options.add_argument("--from", type=int, default=0, dest="first", help="the first seed")
    options.add_argument("--workers", type=int, default=None, help="how many processes")
    given = options.parse_args()
    start = time.perf_counter()
    met: Counter[str] = Counter()
    faults = []
    with ProcessPoolExecutor(given.workers) as pool:
        for work, count in ((job, given.jobs), (partial(base, most_chains=given.chains), given.bases)):
            for counts, fault in pool.map(work, range(given.first, given.first + count), chunksize=5):
                met.update(counts)
                if fault:
                    faults.append(fault)
                    print(fault, file=sys.stderr)
    for what in sorted(met):
        print(f"{met[what]:>6}  {what}")
    agreed = given.jobs + given.bases - len(faults)
    print(f"{agreed} of {given.jobs + given.bases} agree in their {K} best, in {time.perf_counter() - start:.0f} s")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
