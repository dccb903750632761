"""Measures the engine, and general solvers beside it; prints tables in Markdown and writes JSON.

    python -m tests.benchmarks [--quick | --smoke] [--out FILE.json] [SECTION ...]

Sections: `sizes` (3 to 10,000 items a slot), `rules` (100 to 3,200), `memory`, `jobs` (1,000 random jobs on the
shipped knowledge), `command` (the whole `plan` command against its floor). Needs `pip install -e '.[bench]'`; a peer
that isn't installed is left out. Every answer, of every setting, is compared with the engine's: the program stops
where two disagree. `--smoke` goes through all of it in half a minute: run it before a figure is quoted; the tests do.
See docs/benchmarks.md.
"""

from __future__ import annotations

import argparse
import json
import platform
import statistics
import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

from tests.benchmarks import peers
from tests.benchmarks.contest import against, contest, growth, memory, over_seeds, proven
from tests.benchmarks.generate import AS_SHIPPED, DENSE
from tests.benchmarks.measure import Timed, commands_in_turn, in_process, seconds_of, shown, table


class Extent(NamedTuple):
    """How much is measured: sizes, numbers of rules, seeds, rounds, sizes for memory, jobs, whole commands."""

    sizes: tuple[int, ...]
    rules: tuple[int, ...]
    seeds: int
    rounds: int
    memory: tuple[int, ...]
    jobs: int
    commands: int


FULL = Extent((3, 30, 300, 1_000, 10_000), (100, 200, 400, 800, 1_600, 3_200), 4, 5, (300, 10_000), 1_000, 15)
QUICK = Extent((3, 30), (100, 200, 400, 800), 2, 3, (300,), 100, 5)
#: Four seeds: it is in some that the fastest form of a peer is one that others aren't.
SMOKE = Extent((3,), (100,), 4, 1, (3,), 10, 1)
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


def sizes(extent: Extent) -> dict[str, Any]:
    """The engine and its peers by the number of items a slot."""
    document: dict[str, Any] = {}
    own = ("build", "build and solve", "from raw data", "search")
    for kind, clustered in KINDS.items():
        rows = []
        for size in extent.sizes:
            found: list[dict[str, Timed]] = []
            for seed in range(extent.seeds):
                tuned = found[0] if found else None
                found.append(contest(size, 200, seed, clustered, extent.rounds, tuned))
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


def rules(extent: Extent) -> dict[str, Any]:
    """The engine by the number of rules."""
    document: dict[str, Any] = {}
    own = ("build", "build and solve", "from raw data", "search")
    for kind, (clustered, shape) in GROWING.items():
        rows = []
        for count in extent.rules:
            found = [growth(count, seed, clustered, shape, extent.rounds) for seed in range(extent.seeds)]
            document[f"{kind} {count}"] = {part: [here[part].ms for here in found] for part in own}
            rows.append([f"{count:,}", *(over_seeds(found, part) for part in own), proven(found)])
        print(f"\n{kind}: milliseconds by the number of rules, 300 items a slot\n")
        print(table(["rules", *own, "proven"], rows))
    return document


def memories(extent: Extent) -> dict[str, Any]:
    """The most memory beyond the data."""
    document: dict[str, Any] = {}
    systems = ("engine", *(name for name in peers.installed() if name not in peers.ENUMERATE))
    rows = []
    for kind in KINDS:
        for size in extent.memory:
            found = {name: in_process("--memory", name, str(size), kind, limit_s=180) for name in systems}
            document[f"{kind} {size}"] = found
            own = found["engine"] or {}
            rows.append([kind, f"{size:,}", shown(own.get("allocated_mb"))])
            rows[-1] += [shown(here["beyond_mb"] if here else None) for here in found.values()]
    print("\nMost memory beyond the data, MB: the engine's own allocations, and what each process grew by\n")
    print(table(["kind", "items a slot", "engine, allocated", *systems], rows))
    return document


def jobs(extent: Extent) -> dict[str, Any]:
    """Random jobs on the shipped knowledge in one process, three chains each."""
    from kb import knowledge
    from kb.engine.plan import Engine
    from tests.oracles.jobs import random_job

    known = knowledge.load()
    engine = Engine(known)
    asked = [random_job(seed, known) for seed in range(extent.jobs)]
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


def command(extent: Extent) -> dict[str, Any]:
    """The whole `plan` command against its floor."""
    job = str(Path(__file__).parents[2] / "generic_catalog" / "demo" / "1-board.toml")
    floor = "an empty Typer command"
    runs = {
        "python": [sys.executable, "-c", ""],
        floor: [sys.executable, "-c", EMPTY, "plan", job],
        "tackroom plan": [sys.executable, "-m", "kb", "plan", job],
        "tackroom plan --json": [sys.executable, "-m", "kb", "plan", job, "--json"],
    }
    found = commands_in_turn(runs, extent.commands)
    print("\nThe whole command\n")
    print(table(["", "ms", "of the floor"], [[n, shown(ms), shown(ms / found[floor])] for n, ms in found.items()]))
    return found


SECTIONS = {"sizes": sizes, "rules": rules, "memory": memories, "jobs": jobs, "command": command}


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the sections that are asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=(__doc__ or "").split("\n")[0])
    parser.add_argument("sections", nargs="*", metavar="SECTION", help=f"of {', '.join(SECTIONS)}; else all")
    size = parser.add_mutually_exclusive_group()
    size.add_argument("--quick", dest="extent", action="store_const", const=QUICK, help="fewer sizes, seeds, rounds")
    size.add_argument("--smoke", dest="extent", action="store_const", const=SMOKE, help="the least: does it run?")
    parser.set_defaults(extent=FULL)
    parser.add_argument("--out", type=Path, help="where the JSON goes")
    parser.add_argument("--memory", nargs=3, help=argparse.SUPPRESS)
    given = parser.parse_args(arguments)
    if given.memory:
        system, size, kind = given.memory
        print(json.dumps(memory(system, int(size), KINDS[kind])))
        return
    unknown = set(given.sections) - set(SECTIONS)
    if unknown:
        parser.error(f"no section {', '.join(sorted(unknown))}; there are {', '.join(SECTIONS)}")
    found = {name: run(given.extent) for name, run in SECTIONS.items() if not given.sections or name in given.sections}
    if given.out:
        machine = {"python": platform.python_version(), "machine": platform.machine()}
        given.out.write_text(json.dumps({"machine": machine, **found}, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
