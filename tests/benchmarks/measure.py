"""Times taken in turn, so that all suffer the same weather, and memory in processes of their own."""

from __future__ import annotations

import gc
import json
import re
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

#: What takes longer is not repeated.
LONG_S = 4.0


@dataclass(frozen=True)
class Task:
    """What is timed: it is given what `ready` makes, which isn't, and the seconds that it has."""

    run: Callable[[Any, float], Any]
    ready: Callable[[], Any] = lambda: None
    threads: int = 1


@dataclass
class Timed:
    """The best setting of a contender, the seconds of its runs, and its answer; None where it gave up.

    `answers` holds those of all its settings.
    """

    setting: str = ""
    seconds: list[float] = field(default_factory=list)
    answer: Any = None
    answers: Mapping[str, Any] = field(default_factory=dict)

    @property
    def ms(self) -> float:
        """The median in milliseconds; where it gave up, what it had taken by then."""
        return statistics.median(self.seconds) * 1e3


def in_turn(contenders: Mapping[str, Mapping[str, Task]], rounds: int, limit_s: float) -> dict[str, Timed]:
    """Every contender once a round: in the first in every setting, then in the one that was fastest.

    A setting that takes three times as long as another is stopped. What takes long, or gives up, isn't run again.
    The garbage collector leaves alone what was there before.
    """
    gc.collect()
    gc.freeze()
    found: dict[str, Timed] = {}
    for name, settings in contenders.items():
        tried, left = [], limit_s
        for setting, task in settings.items():
            start = time.perf_counter()
            seconds, answer = _once(task, left)
            tried.append(Timed(setting, [seconds], answer))
            if answer is not None:
                left = min(left, max(1.0, 3 * (time.perf_counter() - start)))
        best = min(tried, key=lambda timed: (timed.answer is None, timed.seconds[0]))
        found[name] = replace(best, answers={timed.setting: timed.answer for timed in tried})
    for _ in range(rounds - 1):
        for name, timed in found.items():
            if timed.answer is not None and timed.seconds[-1] < LONG_S:
                timed.seconds.append(_once(contenders[name][timed.setting], limit_s)[0])
    gc.unfreeze()
    return found


def _once(task: Task, limit_s: float) -> tuple[float, Any]:
    given = task.ready()
    return seconds_of(lambda: task.run(given, limit_s), task.threads)


def seconds_of(run: Callable[[], Any], threads: int = 1) -> tuple[float, Any]:
    """The seconds that `run` takes, and its answer.

    Of one thread the lesser of wall and processor time, so that other programs don't count; of several the wall's.
    """
    wall, thread = time.perf_counter(), time.thread_time()
    answer = run()
    wall, thread = time.perf_counter() - wall, time.thread_time() - thread
    return min(wall, thread) if threads == 1 else wall, answer


def commands_in_turn(commands: Mapping[str, Sequence[str]], rounds: int) -> dict[str, float]:
    """Median milliseconds of whole processes, one of each a round after one that isn't counted.

    Of wall and processor time the less here too.
    """
    seconds: dict[str, list[float]] = {name: [] for name in commands}
    for number in range(rounds + 1):
        for name, command in commands.items():
            start, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run(command, check=True, capture_output=True)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            processor = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
            if number:
                seconds[name].append(min(time.perf_counter() - start, processor))
    return {name: statistics.median(taken) * 1e3 for name, taken in seconds.items()}


def memory_mb(what: str) -> float:
    """Memory of this process in MB: `VmRSS` is now, `VmHWM` the most so far (Linux)."""
    found = re.search(rf"{what}:\s+(\d+) kB", Path("/proc/self/status").read_text())
    assert found is not None
    return int(found[1]) / 1024


def in_process(*arguments: str, limit_s: float) -> dict[str, Any] | None:
    """What `python -m tests.benchmarks ARGUMENTS` prints as JSON in a process of its own; None where it gave up."""
    command = [sys.executable, "-m", "tests.benchmarks", *arguments]
    try:
        done = subprocess.run(command, capture_output=True, timeout=limit_s, check=True)
    except subprocess.TimeoutExpired:
        return None
    found: dict[str, Any] = json.loads(done.stdout.decode().splitlines()[-1])
    return found


def shown(value: float | None) -> str:
    """A number to three digits; a dash where there is none.

    >>> shown(1234.5), shown(0.12345), shown(None)
    ('1,230', '0.123', '-')
    """
    if value is None:
        return "-"
    rounded = float(f"{value:.3g}")
    return f"{rounded:,.0f}" if rounded >= 100 else f"{rounded:g}"


def table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Rows as a table in Markdown, columns aligned."""
    widths = [max(len(row[column]) for row in (header, *rows)) for column in range(len(header))]
    lines = [
        "| " + " | ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)) + " |" for row in (header, *rows)
    ]
    lines.insert(1, "|" + "|".join("-" * (w + 2) for w in widths) + "|")
    return "\n".join(lines)
