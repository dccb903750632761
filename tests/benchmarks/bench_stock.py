"""How the stock commands grow with the number of events: whole processes, side by side with their bare imports.

    python tests/benchmarks/bench_stock.py [--rounds N] [EVENTS ...]

Each round runs every contender once, in turn, so that all suffer the same weather. The medians are printed, of the
wall and of processor time, which others on the machine disturb less. The bare command is a program that imports every
module that the command imports, and does nothing. The fold of the shelf is kept between commands, as in ordinary use;
"anew" are commands that find none kept. The size of the ledger and of what is kept is printed with them.
"""

from __future__ import annotations

import argparse
import os
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any, NamedTuple

from kb.base.places import LEDGER
from kb.stock.workspace import ledger_of

ROOT = Path(__file__).parents[2]
RUN = "from kb.cli import main; main()"
TODAY = date(2027, 6, 1)
FLAG = ("stock", "flag", "--json")
#: What is run; those whose name ends with "anew" find no fold that was kept.
COMMANDS = {
    "use": ("stock", "use", "LAST", "0.001", "mL"),
    "receive": ("stock", "receive", "acetone", "NEW{n}", "1", "L", "--expires", "2029-01-01"),
    "flag": FLAG,
    "flag, anew": FLAG,
    "list": ("stock", "list", "--json"),
    "list, as known": ("stock", "list", "--known", "2026-01-01", "--json"),
    "history": ("stock", "history", "LAST"),
    "trace": ("trace", "LAST", "--json"),
    "verify": ("stock", "verify", "--json"),
}
#: Runs a command, and writes down which modules it had imported by the end.
IMPORTED = (
    "import sys, atexit; where = sys.argv.pop(1); "
    "atexit.register(lambda: open(where, 'w').write(' '.join(sys.modules))); "
) + RUN


class Took(NamedTuple):
    """Milliseconds of a process: by the wall, and of the processor."""

    wall: float
    processor: float


def history(count: int) -> Iterator[dict[str, Any]]:
    """`count` events of an invented lab: lots come in, are opened, and are used now and then."""
    dice = random.Random(count)
    items = (("acetone", "mL"), ("isopropyl-alcohol", "mL"), ("ethanol", "mL"), ("cotton-swab", "pcs"))
    open_lots: list[tuple[str, str]] = []
    lots, number, day = 0, 0, TODAY
    for number in range(count - 1):
        day = TODAY - timedelta(days=900 * (count - number) // count)
        common = {"at": day.isoformat(), "who": "kim"}
        if open_lots and open_lots[-1][0].endswith("!"):
            mark, unit = open_lots.pop()
            open_lots = [*open_lots[-30:], (mark[:-1], unit)]
            yield {"type": "opened", **common, "lot": mark[:-1]}
        elif lots < 10 or dice.random() < 0.1:
            lots += 1
            item, unit = items[lots % len(items)]
            last = (day + timedelta(days=dice.randrange(200, 900))).isoformat()
            yield {
                "type": "received", **common, "lot": f"L{lots}", "item": item, "quantity": "500", "unit": unit,
                "expires": last, "location": "cabinet",
            }  # fmt: skip
            open_lots.append((f"L{lots}!", unit))
        else:
            mark, unit = dice.choice(open_lots)
            yield {
                "type": "used", **common, "lot": mark, "quantity": str(dice.randrange(1, 10) / 10), "unit": unit,
                "job": f"J-{number // 50}",
            }  # fmt: skip
    yield {
        "type": "received", "at": TODAY.isoformat(), "who": "kim", "lot": "LAST", "item": "acetone",
        "quantity": "500", "unit": "mL", "expires": "2029-01-01",
    }  # fmt: skip


def took(words: tuple[str, ...], workspace: Path, program: str = RUN) -> Took:
    """Run a command to its end."""
    environment = {
        **os.environ, "TACKROOM_WORKSPACE": str(workspace), "TACKROOM_CACHE": str(workspace / "cache"),
        "TACKROOM_TODAY": TODAY.isoformat(), "TACKROOM_WHO": "kim",
    }  # fmt: skip
    nowhere = os.open(os.devnull, os.O_WRONLY)
    begun = time.perf_counter()
    child = os.posix_spawn(
        sys.executable, [sys.executable, "-c", program, *words], environment,
        file_actions=[(os.POSIX_SPAWN_DUP2, nowhere, 1)],
    )  # fmt: skip
    _, status, used = os.wait4(child, 0)
    wall = time.perf_counter() - begun
    os.close(nowhere)
    if os.waitstatus_to_exitcode(status) not in (0, 1):
        raise SystemExit(f"{words} ended with {os.waitstatus_to_exitcode(status)}")
    return Took(wall * 1000, (used.ru_utime + used.ru_stime) * 1000)


def bare(words: tuple[str, ...], workspace: Path) -> str:
    """A program that imports what the command imports."""
    listed = workspace / "modules"
    took((str(listed), *words), workspace, IMPORTED)
    names = [name for name in listed.read_text().split() if name != "__main__"]
    return f"import importlib\nfor name in {names!r}:\n importlib.import_module(name)"


def middle(runs: list[Took]) -> Took:
    """The medians."""
    return Took(*(statistics.median(times) for times in zip(*runs, strict=True)))


def measure(count: int, rounds: int) -> None:
    """Print what the commands take with so many events."""
    with tempfile.TemporaryDirectory() as folder:
        workspace, serial = Path(folder), 0
        events = list(history(count))
        ledger = ledger_of(workspace)
        for start in range(0, count, 256):
            ledger.record(events[start : start + 256], TODAY.isoformat())
        programs: dict[str, str] = {}
        whole: dict[str, list[Took]] = {name: [] for name in COMMANDS}
        floor: dict[str, list[Took]] = {name: [] for name in COMMANDS}
        for turn in range(rounds + 1):
            for name, words in COMMANDS.items():
                serial += 1
                asked = tuple(word.format(n=serial) for word in words)
                if not turn:
                    took(asked, workspace)  # what is kept for the next command is made now
                    programs[name] = bare(tuple(word.format(n=f"{serial}b") for word in words), workspace)
                    continue
                if name.endswith("anew"):
                    for kept in (workspace / "cache").rglob("*.standing"):
                        kept.unlink()
                whole[name].append(took(asked, workspace))
                floor[name].append(took((), workspace, programs[name]))
        for name in COMMANDS:
            full, least = middle(whole[name]), middle(floor[name])
            cells = (full.wall, least.wall, full.wall - least.wall, full.processor - least.processor)
            print(f"{count:>7}  {name:<15}" + "".join(f"{cell:>11.0f}" for cell in cells), flush=True)
        ledger_mb = (workspace / LEDGER).stat().st_size / 1e6
        fold_mb = sum(path.stat().st_size for path in (workspace / "cache").rglob("*.standing")) / 1e6
        print(f"{count:>7}  the ledger {ledger_mb:.1f} MB, the fold {fold_mb:.1f} MB", flush=True)


def main() -> None:
    """Measure as the command line asks."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("events", type=int, nargs="*", default=[1000, 5000, 20_000, 50_000])
    parser.add_argument("--rounds", type=int, default=11)
    given = parser.parse_args()
    print(f"{'events':>7}  {'command':<15}{'whole ms':>11}{'bare ms':>11}{'beyond ms':>11}{'of it CPU':>11}")
    for count in given.events:
        measure(count, given.rounds)


if __name__ == "__main__":
    main()
