"""The engine against general solvers on generated knowledge: times, memory, and that all agree."""

from __future__ import annotations

import gc
import statistics
import tracemalloc
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from kb.engine.plan import Engine
from kb.engine.search.k_best import Search, k_best
from kb.knowledge import Knowledge
from kb.knowledge.index import index_of
from tests.benchmarks import peers
from tests.benchmarks.generate import Generated, Shape, Written, generated
from tests.benchmarks.measure import Task, Timed, in_turn, memory_mb, shown

K = 10
#: Of wall time, for each peer and setting.
LIMIT_S = 20.0
#: Beyond as many items a slot there is no use in going through every chain.
MOST_FOR_ALL = 3


def compiled(knowledge: Knowledge) -> Knowledge:
    """With what is worked out when knowledge is compiled, and entries grouped by kind."""
    items = {kind: [entry.facts for entry in entries] for kind, entries in knowledge.by_kind.items()}
    read = (path for rule in knowledge.rules for path in rule.facts())
    ready = replace(knowledge, index=index_of(items, read))
    assert ready.by_kind
    return ready


def costs(engine: Engine, made: Generated) -> list[int]:
    """The k least costs: all that the engine works out for a job but the words."""
    screened = engine.screened(made.job, made.substrate)
    return [label.cost + screened.constant[0] for label in k_best(screened.problem, K).labels]


def engine_tasks(made: Generated) -> dict[str, Task]:
    """`build and solve` starts from compiled knowledge, `from raw data` from the bare items and rules."""
    ready = compiled(made.knowledge)
    screened = Engine(ready).screened(made.job, made.substrate)

    return {
        "build": Task(lambda *_: Engine(ready)),
        "build and solve": Task(lambda *_: costs(Engine(ready), made)),
        "from raw data": Task(lambda *_: costs(Engine(replace(made.knowledge)), made)),
        "search": Task(lambda classified, _: classified.run(), lambda: Search(screened.problem, K)),
    }


def peer_tasks(made: Generated, size: int) -> dict[str, dict[str, Task]]:
    """Each peer in each setting, the problem written out and with like items as one."""
    forms = {"by class": made.written.by_class(), "written out": made.written}

    def task(solver: peers.Solver, workers: int, form: Written) -> Task:
        return Task(lambda _, limit_s: solver(form, K, limit_s), threads=workers)

    return {
        name: {
            f"{setting}, {form}": task(solver, solver.keywords.get("workers", 1), problem)
            for setting, solver in settings.items()
            for form, problem in forms.items()
        }
        for name, settings in peers.installed().items()
        if size <= MOST_FOR_ALL or name not in peers.ENUMERATE
    }


def contest(
    size: int, rules: int, seed: int, clustered: bool, rounds: int, tuned: Mapping[str, Timed] | None = None
) -> dict[str, Timed]:
    """All of them in turn on one problem. Raises AssertionError where they don't agree.

    With `tuned`, each peer only in the setting that was best there; one that gave up there isn't asked.
    """
    made = generated(size, rules, seed, clustered)
    tasks = peer_tasks(made, size)
    if tuned is not None:
        settings = {name: tuned[name].setting for name in tasks if tuned[name].answer is not None}
        tasks = {name: {setting: tasks[name][setting]} for name, setting in settings.items()}
    contenders: dict[str, Mapping[str, Task]] = {name: {"engine": task} for name, task in engine_tasks(made).items()}
    found = in_turn(contenders | tasks, rounds, LIMIT_S)
    wanted = found["build and solve"].answer
    for name, timed in found.items():
        for setting, answer in timed.answers.items():
            if isinstance(answer, list):
                where = f"{name} ({setting}) disagrees at {size}, {'clustered' if clustered else 'spread'}, seed {seed}"
                assert answer == wanted[: 1 if name == "toulbar2" else K], where
    return found


def growth(rules: int, seed: int, clustered: bool, shape: Shape, rounds: int) -> dict[str, Timed]:
    """The engine alone at 300 items a slot."""
    tasks = engine_tasks(generated(300, rules, seed, clustered, shape))
    return in_turn({name: {"engine": task} for name, task in tasks.items()}, rounds, LIMIT_S)


def over_seeds(found: Iterable[Mapping[str, Timed]], name: str) -> str:
    """The median over seeds of a contender's medians in milliseconds; "over" where it gave up on any."""
    runs = [here[name] for here in found if name in here]
    return told(runs, [run.ms for run in runs])


def against(found: Iterable[Mapping[str, Timed]], name: str) -> str:
    """A peer's time as by `over_seeds`, and how many times the engine's build and solve that is, by seed."""
    runs = [(here[name], here["build and solve"]) for here in found if name in here]
    if not runs:
        return "-"
    ratios = told([peer for peer, _ in runs], [peer.ms / own.ms for peer, own in runs])
    return f"{told([peer for peer, _ in runs], [peer.ms for peer, _ in runs])} ({ratios}x)"


def proven(found: Iterable[Mapping[str, Timed]]) -> str:
    """On how many seeds the search proved that its chains are the best; on the others it gave a bound."""
    bounds = [here["search"].answer.bound for here in found]
    return f"{bounds.count(None)} of {len(bounds)}"


def told(runs: Sequence[Timed], values: Sequence[float]) -> str:
    """The median of `values`, which is but a lower bound where a run gave up."""
    return ("over " if any(run.answer is None for run in runs) else "") + shown(statistics.median(values))


def memory(system: str, size: int, clustered: bool) -> dict[str, Any]:
    """The most memory beyond the data that a system takes for one problem, in MB; for a process of its own.

    The engine starts from raw data. Its own allocations are counted as well, which the pages of a process hide.
    """
    made = generated(size, 200, 0, clustered)
    assert made.knowledge.by_kind
    solvers = {name: next(iter(settings.values())) for name, settings in peers.installed().items()}
    gc.collect()
    # From here on the most counts anew.
    Path("/proc/self/clear_refs").write_text("5")
    before = memory_mb("VmRSS")
    if system == "engine":
        costs(Engine(made.knowledge), made)
    else:
        solvers[system](made.written, K, LIMIT_S)
    found = {"system": system, "data_mb": before, "beyond_mb": memory_mb("VmHWM") - before}
    if system == "engine":
        tracemalloc.start()
        costs(Engine(made.knowledge), made)
        found["allocated_mb"] = tracemalloc.get_traced_memory()[1] / 2**20
    return found
