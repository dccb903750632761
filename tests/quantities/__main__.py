"""`python -m tests.quantities --jobs 300`: the laws of a day on as many random jobs and shelves, counted."""

from __future__ import annotations

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from functools import cache

from kb import knowledge
from kb.engine.plan import Engine
from tests.quantities.laws import LAWS


@cache
def engine() -> Engine:
    return Engine(knowledge.load())


def broken(seed: int) -> list[str]:
    """What the job and shelf of a seed break, a line each."""
    found = []
    for name, law in LAWS.items():
        try:
            law(seed, engine())
        except AssertionError as fault:
            found.append(f"job {seed}: {name}: {str(fault).splitlines()[0] if str(fault) else 'broken'}")
    return found


def main() -> int:
    """Exit status 1 where any law is broken."""
    options = argparse.ArgumentParser(prog="python -m tests.quantities", description=__doc__)
    options.add_argument("--jobs", type=int, default=300, help="random jobs, each with a shelf")
    options.add_argument("--from", type=int, default=0, dest="first", help="the first seed")
    options.add_argument("--workers", type=int, default=None, help="how many processes")
    given = options.parse_args()
    start, faults = time.perf_counter(), 0
    with ProcessPoolExecutor(given.workers) as pool:
        for lines in pool.map(broken, range(given.first, given.first + given.jobs), chunksize=5):
            faults += bool(lines)
            for line in lines:
                print(line, file=sys.stderr)
    kept = given.jobs - faults
    print(f"{kept} of {given.jobs} jobs keep all {len(LAWS)} laws, in {time.perf_counter() - start:.0f} s")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
