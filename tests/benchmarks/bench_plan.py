"""The whole `plan` command against the floor that Typer sets: `python -m tests.benchmarks.bench_plan [RUNS]`.

Both are run in turn as whole processes; the medians and their ratio are printed, then the same as JSON. The
floor is an empty Typer command with the same shape of arguments, which loads pydantic at its first call as ours does.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from kb.demo import jobs

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


def seconds(command: list[str]) -> float:
    """Wall seconds of one run; it must succeed."""
    start = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    return time.perf_counter() - start


def main(runs: int) -> None:
    job = str(jobs()["board"])
    with tempfile.TemporaryDirectory() as folder:
        script = Path(folder) / "empty.py"
        script.write_text(EMPTY)
        commands = {
            "an empty Typer command": [sys.executable, str(script), "plan", job],
            "tackroom plan": [sys.executable, "-m", "kb", "plan", job],
        }
        for command in commands.values():
            seconds(command)
        taken: dict[str, list[float]] = {name: [] for name in commands}
        for _ in range(runs):
            for name, command in commands.items():
                taken[name].append(seconds(command))
    medians = {name: statistics.median(times) for name, times in taken.items()}
    floor, whole = medians.values()
    for name, median in medians.items():
        print(f"{name:<24} {median * 1000:7.1f} ms  (median of {runs})")
    print(f"{'ratio':<24} {whole / floor:7.2f}")
    print(json.dumps({"runs": runs, "floor_s": floor, "plan_s": whole, "ratio": whole / floor}))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 9)
