"""Measures the engine, and general solvers beside it; prints tables in Markdown and writes JSON.

    python -m tests.benchmarks [--quick] [--out FILE.json] [SECTION ...]

Sections: `sizes` (3 to 10,000 items a slot), `rules` (100 to 3,200), `memory`, `jobs` (1,000 random jobs on the
shipped knowledge), `command` (the whole `plan` command against its floor). Needs `pip install -e '.[bench]'`; a peer
that isn't installed is left out. Every answer is compared with every other: the program stops where two disagree.
See docs/benchmarks.md.
"""

from __future__ import annotations

import argparse
import json
import platform
import statistics
import sys
from functools import partial
from pathlib import Path
from typing import Any

from tests.benchmarks import peers
from tests.benchmarks.contest import against, contest, growth, memory, over_seeds, proven
from tests.benchmarks.generate import AS_SHIPPED, DENSE
from tests.benchmarks.measure import Timed, commands_in_turn, in_process, seconds_of, shown, table

KINDS = {"clustered": True, "spread": False}
#: The kinds with which rules grow in number.
GROWING = {
    "clustered, rules as shipped": (True, AS_SHIPPED),
    "spread, rules as shipped": (False, AS_SHIPPED),
    "clustered": (True, DENSE),
    "spread": (False, DENSE),
}
#: The floor of a command: an empty one with the same shape of arguments.
EMPTY = """
from pathlib import Path
from typing import Annotated
import typer
app = typer.Typer()
@app.callback()
def main() -> None: ...
@app.command()
def plan(job: Annotated[Path | None, typer.Argument()] = None, top: int = 3, prefer: str | None = None) -> None:
    print(job)
app()
"""


def sizes(quick: bool) -> dict[str, Any]:
    """The engine and its peers by the number of items a slot."""
    document: dict[str, Any] = {}
    own = ("build", "build and solve", "from raw data", "search")
    for kind, clustered in KINDS.items():
        rows = []
        for size in (3, 30) if quick else (3, 30, 300, 1_000, 10_000):
            found: list[dict[str, Timed]] = []
            for seed in range(2 if quick else 4):
                tuned = found[0] if found else None
                found.append(contest(size, 200, seed, clustered, 3 if quick else 5, tuned))
            document[f"{kind} {size}"] = [
                {name: (timed.setting, timed.ms, timed.answer is not None) for name, timed in here.items()}
                for here in found
            ]
            times = [against(found, name) for name in peers.NAMES]
            rows.append([f"{size:,}", *(over_seeds(found, part) for part in own), proven(found), *times])
            print(f"{kind} {size}: done", file=sys.stderr)
        print(f"\n{kind}: milliseconds, and how many times the engine's build and solve\n")
        print(table(["items a slot", *own, "proven", *peers.NAMES], rows))
    return document


def rules(quick: bool) -> dict[str, Any]:
    """The engine by the number of rules."""
    document: dict[str, Any] = {}
    own = ("build", "build and solve", "from raw data", "search")
    for kind, (clustered, shape) in GROWING.items():
        rows = []
        for count in (100, 200, 400, 800) if quick else (100, 200, 400, 800, 1_600, 3_200):
            found = [growth(count, seed, clustered, shape, 3 if quick else 5) for seed in range(2 if quick else 4)]
            document[f"{kind} {count}"] = {part: [here[part].ms for here in found] for part in own}
            rows.append([f"{count:,}", *(over_seeds(found, part) for part in own), proven(found)])
        print(f"\n{kind}: milliseconds by the number of rules, 300 items a slot\n")
        print(table(["rules", *own, "proven"], rows))
    return document


def memories(quick: bool) -> dict[str, Any]:
    """The most memory beyond the data."""
    document: dict[str, Any] = {}
    systems = ("engine", *(name for name in peers.installed() if name not in peers.ENUMERATE))
    rows = []
    for kind in KINDS:
        for size in ("300",) if quick else ("300", "10000"):
            found = {name: in_process("--memory", name, size, kind, limit_s=180) for name in systems}
            document[f"{kind} {size}"] = found
            own = found["engine"] or {}
            rows.append([kind, size, shown(own.get("allocated_mb"))])
            rows[-1] += [shown(here["beyond_mb"] if here else None) for here in found.values()]
    print("\nMost memory beyond the data, MB: the engine's own allocations, and what each process grew by\n")
    print(table(["kind", "items a slot", "engine, allocated", *systems], rows))
    return document


def jobs(quick: bool) -> dict[str, Any]:
    """Random jobs on the shipped knowledge in one process, three chains each."""
    from kb import knowledge
    from kb.engine.plan import Engine
    from tests.oracles.jobs import random_job

    known = knowledge.load()
    engine = Engine(known)
    asked = [random_job(seed, known) for seed in range(100 if quick else 1_000)]
    taken = [1e3 * seconds_of(partial(engine.plan, job, substrate, 3))[0] for job, substrate in asked]
    found = {
        "jobs": len(taken),
        "jobs a second": 1e3 * len(taken) / sum(taken),
        "median ms": statistics.median(taken),
        "95 % within ms": sorted(taken)[len(taken) * 95 // 100],
        "slowest ms": max(taken),
    }
    print(f"\nRandom jobs on the shipped knowledge: {len(known.rules)} rules, {len(known.entries)} entries\n")
    print(table(list(found), [[shown(value) for value in found.values()]]))
    return found


def command(quick: bool) -> dict[str, Any]:
    """The whole `plan` command against its floor."""
    job = str(Path(__file__).parents[2] / "generic_catalog" / "demo" / "1-board.toml")
    floor = "an empty Typer command"
    runs = {
        "python": [sys.executable, "-c", ""],
        floor: [sys.executable, "-c", EMPTY, "plan", job],
        "tackroom plan": [sys.executable, "-m", "kb", "plan", job],
        "tackroom plan --json": [sys.executable, "-m", "kb", "plan", job, "--json"],
    }
    found = commands_in_turn(runs, 5 if quick else 15)
    print("\nThe whole command\n")
    print(table(["", "ms", "of the floor"], [[n, shown(ms), shown(ms / found[floor])] for n, ms in found.items()]))
    return found


SECTIONS = {"sizes": sizes, "rules": rules, "memory": memories, "jobs": jobs, "command": command}


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=(__doc__ or "").split("\n")[0])
    parser.add_argument("sections", nargs="*", metavar="SECTION", help=f"of {', '.join(SECTIONS)}; else all")
    parser.add_argument("--quick", action="store_true", help="fewer sizes, seeds and rounds")
    parser.add_argument("--out", type=Path, help="where the JSON goes")
    parser.add_argument("--memory", nargs=3, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.memory:
        system, size, kind = given.memory
        print(json.dumps(memory(system, int(size), KINDS[kind])))
        return
    unknown = set(given.sections) - set(SECTIONS)
    if unknown:
        parser.error(f"no section {', '.join(sorted(unknown))}; there are {', '.join(SECTIONS)}")
    found = {name: run(given.quick) for name, run in SECTIONS.items() if not given.sections or name in given.sections}
    if given.out:
        machine = {"python": platform.python_version(), "machine": platform.machine()}
        given.out.write_text(json.dumps({"machine": machine, **found}, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
