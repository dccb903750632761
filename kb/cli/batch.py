"""Many job files planned in one go: a line of JSON for each, in the order given, by as many processes as are asked for.

Nothing waits for the whole: a line goes out as soon as it and those before it are there, and only a few are under way
at a time, so that memory doesn't grow with the number of jobs.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from collections import Counter, deque
from collections.abc import Generator, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple, TextIO

from kb.base.errors import ANSWER, BAD_INPUT, NO_CHAIN, STOPPED, STORE, BadInput, TackroomError
from kb.cli.common import job_in, known_by_lab, leave_output, print_plain
from kb.cli.planned import yields_of
from kb.job import Job
from kb.planning.ask import Asked, ask, check_preference, prefers_stock

if TYPE_CHECKING:
    from concurrent.futures import Future, ProcessPoolExecutor

    from kb.engine.plan import Engine

#: Fewer jobs than this are done before other processes have begun.
FEW = 4
#: Jobs under way for each process: enough that none waits while a slow one holds the line up.
AHEAD = 4
#: Where nobody watches a terminal, progress is said each time that so many jobs are done.
EVERY = 100
#: Of several jobs the exit status that says most: the first of these that any of them has.
STATUSES = (STORE, BAD_INPUT, NO_CHAIN, ANSWER)


class Terms(NamedTuple):
    """What every job of one command is asked with, apart from the job itself."""

    top: int = 3
    prefer: str | None = None
    stock: bool = False
    on: str | None = None
    workspace: Path | None = None
    #: Facts that the question changes, each ITEM.FIELD=VALUE.
    settings: tuple[str, ...] = ()
    #: Whether what each answer hangs on is looked for: many times the work of a plan.
    hangs_on: bool = False

    def engine(self) -> Engine:
        """Make the engine over the workspace's knowledge; BadInput where `prefer` is no preference."""
        from kb.engine.plan import Engine

        known = known_by_lab(self.workspace)
        check_preference(self.prefer, known, "--prefer")
        return Engine(known)

    def planned(self, engine: Engine, job: Job, where: str) -> Asked:
        """Plan `job` on these terms."""
        shelf = None
        if self.stock or prefers_stock(job, self.prefer):
            from kb.cli.planned import offered_shelf

            shelf = offered_shelf(job, self.on, self.workspace)
        elif self.on is not None:
            raise BadInput("--on", "is the day for which the shelf is asked", "add --stock, or leave it out")
        yields = yields_of(job, self.workspace)
        return ask(engine, job, where, self.top, self.prefer, shelf, settings=self.settings, yields=yields)


class Line(NamedTuple):
    """One job's line for standard output, its exit status, and the fault in words where there is one."""

    text: str
    status: int
    fault: str = ""


class Planner(NamedTuple):
    """Plans one job file after the other, on the same terms."""

    terms: Terms
    engine: Engine

    def line(self, path: Path) -> Line:
        """Write the line of the job in the file at `path`.

        It holds its plan or, as `tackroom.fault/1`, what is wrong with it.
        """
        from kb.report.plan_json import plan_json

        try:
            asked = self.terms.planned(self.engine, job_in(path), str(path))
            hangs = asked.hangs_on if self.terms.hangs_on else None
            document = plan_json(asked.plan, asked.resolved, asked.trouble, asked.others, asked.supposed, hangs)
            return Line(_compact(document), ANSWER if asked.plan.chains else NO_CHAIN)
        except TackroomError as fault:
            said = {"where": fault.where, "what": fault.what, "mend": fault.mend, "job": str(path)}
            return Line(_compact({"schema": "tackroom.fault/1", **said}), fault.exit_status, str(fault))


def _compact(document: object) -> str:
    return json.dumps(document, ensure_ascii=False, separators=(",", ":"), allow_nan=False) + "\n"


def run(paths: Sequence[Path], terms: Terms, workers: int | None = None) -> int:
    """Print the line of each job, its fault on standard error as well, and how far it is; give the exit status of all.

    `workers`: as many processes (all cores, if left out). A reader who goes away, or Ctrl-C, ends every one of them.
    """
    # What is wrong for all of them is said once, and before the first line.
    planner = Planner(terms, terms.engine())
    progress = Progress(len(paths), sys.stderr)
    with closing(lines(paths, planner, workers or cores())) as found:
        try:
            for line in found:
                print_plain(line.text)
                progress.add(line)
        except BrokenPipeError:
            leave_output()
            return ANSWER
        except KeyboardInterrupt:
            progress.end("stopped: ")
            return STOPPED
    progress.end()
    return next(status for status in STATUSES if progress.met[status] or status == ANSWER)


def lines(paths: Sequence[Path], planner: Planner, workers: int) -> Generator[Line, None, None]:
    """Give the lines of all jobs in the order given; a few jobs are done here, more by processes of their own."""
    if workers == 1 or len(paths) < FEW:
        return (planner.line(path) for path in paths)
    return _by_processes(paths, planner, min(workers, len(paths)))


def _by_processes(paths: Sequence[Path], planner: Planner, workers: int) -> Generator[Line, None, None]:
    from concurrent.futures import ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool
    from multiprocessing import get_context

    # A fork has the knowledge made ready already. Elsewhere than on Linux it isn't safe, and each makes its own.
    forks = sys.platform == "linux"
    begin = (planner.terms, planner.engine if forks else None)
    with ProcessPoolExecutor(workers, get_context("fork" if forks else "spawn"), _begin, begin) as pool:
        try:
            yield from _in_order(pool, paths, AHEAD * workers)
        except BaseException as fault:
            # The few jobs that are begun are finished, and no more: a process that is ended while it hands a line on
            # leaves the pool waiting for the rest of it, for ever.
            pool.shutdown(cancel_futures=True)
            if isinstance(fault, BrokenProcessPool):
                what = "a process that was planning ended from outside, perhaps for want of memory"
                raise BadInput("--workers", what, "ask for fewer: --workers 1") from None
            raise


def _in_order(pool: ProcessPoolExecutor, paths: Sequence[Path], most: int) -> Iterator[Line]:
    """Results in the order of `paths`, with at most `most` jobs begun and not yet handed on."""
    begun: deque[Future[Line]] = deque()
    for path in paths:
        with _unheard():
            begun.append(pool.submit(_line, path))
        if len(begun) == most:
            yield begun.popleft().result()
    while begun:
        yield begun.popleft().result()


@contextmanager
def _unheard() -> Iterator[None]:
    """Let Ctrl-C wait, where a system can: processes begun meanwhile never hear it, and no lock is left half taken."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


_worker: Planner


def _begin(terms: Terms, engine: Engine | None) -> None:
    """Begin as a worker. Ctrl-C is for its parent to hear, and it doesn't outlive it."""
    from threading import Thread

    global _worker
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=_end_with_parent, daemon=True).start()
    _worker = Planner(terms, engine or terms.engine())


def _end_with_parent() -> None:
    from multiprocessing import parent_process

    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(STOPPED)


def _line(path: Path) -> Line:
    return _worker.line(path)


def cores() -> int:
    """Count the cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class Progress:
    """Says how far it is: on a terminal in one line that is written over, else each time that EVERY jobs are done."""

    def __init__(self, jobs: int, to: TextIO) -> None:
        self.jobs, self.to, self.live = jobs, to, to.isatty()
        self.met: Counter[int] = Counter()
        self._shown = 0

    def add(self, line: Line) -> None:
        """Count one job more as done."""
        self.met[line.status] += 1
        if line.fault:
            self._over(line.fault, "\n")
        if self.live:
            self._over(str(self), "\r")
        elif self.met.total() % EVERY == 0:
            self._over(str(self), "\n")

    def end(self, lead: str = "") -> None:
        """Say the last word, where any was said, or `lead` is to be."""
        if lead or self.live or (self.jobs >= EVERY and self.jobs % EVERY):
            self._over(f"{lead}{self}", "\n")

    def __str__(self) -> str:
        done = f"{self.met.total()} of {self.jobs} jobs"
        parts = {"with no chain": self.met[NO_CHAIN], "at fault": self.met[BAD_INPUT] + self.met[STORE]}
        return ", ".join([done, *(f"{count} {what}" for what, count in parts.items() if count)])

    def _over(self, words: str, end: str) -> None:
        """Give `words` in the place of what a terminal's line still shows."""
        print(words.ljust(self._shown), end=end, file=self.to, flush=True)
        self._shown = len(words) if end == "\r" else 0
