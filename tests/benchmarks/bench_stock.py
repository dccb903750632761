"""How the stock commands grow with the number of events: whole processes, side by side with their bare imports.

    python tests/benchmarks/bench_stock.py [EVENTS ...]

Each round runs every contender once, in turn, so that all suffer the same weather; the medians are printed. The
floor of a command is a program that imports every module the command imports, and does nothing.
"""

from __future__ import annotations

import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from kb.stock.log.tinystore import TinyStore

ROUNDS = 11
ROOT = Path(__file__).parents[2]
RUN = "from kb.cli.stock import app; app()"
COMMANDS = {
    "use": ("use", "L7", "0.001", "mL", "--at", "2030-01-01", "--anyway", "--reason", "bench"),
    "use, checked": ("use", "L7", "0.001", "mL", "--at", "2030-01-01"),
    "flag": ("flag", "--on", "2027-06-01", "--json"),
    "list": ("list", "--on", "2027-06-01", "--json"),
    "verify": ("verify", "--json"),
}
#: Runs a command, and prints which modules it had imported by the end.
IMPORTED = "import sys, atexit; atexit.register(lambda: print(*[m for m in sys.modules], file=sys.stderr)); " + RUN


def history(count: int) -> list[dict[str, Any]]:
    """`count` events of an invented lab: lots come in, are opened, used and now and then counted and moved."""
    dice = random.Random(count)
    items = ("acetone", "isopropyl-alcohol", "ethanol", "cotton-swab", "non-woven-wipe")
    events: list[dict[str, Any]] = []
    day, lots = date(2025, 1, 1), 0
    open_lots: list[str] = []
    while len(events) < count:
        day += timedelta(days=dice.random() < 0.05)
        common = {"at": day.isoformat(), "who": "kim"}
        if lots < 10 or dice.random() < 0.1:
            lots += 1
            mark = f"L{lots}"
            last = (day + timedelta(days=dice.randrange(200, 900))).isoformat()
            given = {"item": items[lots % len(items)], "quantity": "500", "unit": "mL", "received": day.isoformat()}
            events.append({"type": "received", **common, "lot": mark, **given, "expires": last, "location": "cabinet"})
            events.append({"type": "opened", **common, "lot": mark})
            open_lots = [*open_lots[-30:], mark] if mark != "L7" else open_lots
        elif open_lots:
            mark, amount = dice.choice(open_lots), str(dice.randrange(1, 40) / 10)
            used = {
                "type": "used",
                **common,
                "lot": mark,
                "quantity": amount,
                "unit": "mL",
                "job": f"J-{len(events) // 50}",
            }
            events.append(used)
    return events[:count]


def run(words: tuple[str, ...], workspace: Path, program: str = RUN) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "TACKROOM_WORKSPACE": str(workspace), "TACKROOM_CACHE": str(workspace / "cache")}
    return subprocess.run(
        [sys.executable, "-c", program, *words], cwd=ROOT, env=environment, capture_output=True, text=True
    )


def seconds(words: tuple[str, ...], workspace: Path, program: str = RUN) -> float:
    begun = time.perf_counter()
    run(words, workspace, program)
    return time.perf_counter() - begun


def floor_of(words: tuple[str, ...], workspace: Path) -> str:
    """A program that imports what the command imports, once the knowledge is compiled."""
    run(words, workspace)
    modules = run(words, workspace, IMPORTED).stderr.split("\n")[-2].split()
    return (
        "import importlib\nfor name in "
        + repr([m for m in modules if m != "__main__"])
        + ":\n importlib.import_module(name)"
    )


def main(counts: list[int]) -> None:
    print(f"{'events':>7}  {'command':<13} {'whole ms':>9} {'floor ms':>9} {'beyond ms':>10}")
    for count in counts:
        with tempfile.TemporaryDirectory() as folder:
            workspace = Path(folder)
            # As a history grows: in small writes, which fill one segment after another.
            events = history(count)
            store = TinyStore(workspace)
            for start in range(0, count, 256):
                store.append(set(), lambda _, part=events[start : start + 256]: part)  # type: ignore[misc]
            floors = {name: floor_of(words, workspace) for name, words in COMMANDS.items()}
            whole: dict[str, list[float]] = {name: [] for name in COMMANDS}
            bare: dict[str, list[float]] = {name: [] for name in COMMANDS}
            for _ in range(ROUNDS):
                for name, words in COMMANDS.items():
                    whole[name].append(seconds(words, workspace))
                    bare[name].append(seconds((), workspace, floors[name]))
            for name in COMMANDS:
                took, floor = statistics.median(whole[name]) * 1000, statistics.median(bare[name]) * 1000
                print(f"{count:>7}  {name:<13} {took:>9.0f} {floor:>9.0f} {took - floor:>10.0f}", flush=True)


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]] or [1000, 5000, 20_000])
