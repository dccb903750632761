"""Cutting planes: each round the engine gives the best chain of either side under the numbers of the last one.

A comparison says that some chain of one side beats every chain of the other. All chains are too many to write down, so
only those are, that some numbers made the best of their side.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from kb.calibrate.fit import Fit, Pair, fit
from kb.engine.plan import Engine
from kb.engine.rank import FREE
from kb.judged import Comparison, Held, hold
from kb.knowledge import Knowledge
from kb.knowledge.ranking import Level

#: After so many rounds the best of them is taken.
MOST_ROUNDS = 20
#: In so many parts the comparisons are left out, one part at a time.
FOLDS = 10
#: What every level costs to begin with where points must owe nothing to what is left out.
EVEN = 20
Judged = Sequence[tuple[Comparison, str]]
#: The times of each level, as a key.
_Times = tuple[tuple[str, float], ...]


@dataclass
class Pool:
    """The chains of each comparison that were the best of their side under some numbers."""

    better: dict[str, dict[_Times, None]] = field(default_factory=dict)
    worse: dict[str, dict[_Times, None]] = field(default_factory=dict)
    equal: set[str] = field(default_factory=set)

    def add(self, held: Iterable[Held]) -> bool:
        """Take what was found; whether any of it is new."""
        new = False
        for each in held:
            name = each.comparison.id
            if each.comparison.equal:
                self.equal.add(name)
            for pool, best in ((self.better, each.better), (self.worse, each.worse)):
                key = tuple(sorted(best.times.items()))
                new |= key not in pool.setdefault(name, {})
                pool[name][key] = None
        return new

    def pairs(self, points: Mapping[str, int], names: Iterable[str] | None = None) -> list[Pair]:
        """Pair the better chain that costs least under `points` with every worse one that was seen."""
        wanted = self.better if names is None else [name for name in self.better if name in set(names)]
        found = []
        for name in wanted:
            best = min(self.better[name], key=lambda times: _cost(times, points))
            worse = self.worse[name]
            if name in self.equal:
                worse = {min(worse, key=lambda times: _cost(times, points)): None}
            found += [Pair(name, dict(best), dict(each), name in self.equal) for each in worse]
        return found


@dataclass(frozen=True)
class Round:
    """Numbers, and how every comparison stands under them."""

    fit: Fit
    held: tuple[Held, ...]

    @property
    def broken(self) -> list[str]:
        return [each.comparison.id for each in self.held if not each.kept]

    @property
    def narrowest(self) -> int:
        return min((each.margin for each in self.held if each.kept and not each.comparison.equal), default=0)


def engine_with(knowledge: Knowledge, points: Mapping[str, int]) -> Engine:
    """Make an engine that prices by these points."""
    ranking = knowledge.tables["ranking"].copy()
    ranking["levels"] = points
    return Engine(replace(knowledge, tables={**knowledge.tables, "ranking": ranking}))


def held_under(knowledge: Knowledge, points: Mapping[str, int], judged: Judged) -> tuple[Held, ...]:
    """Hold every comparison under these points. BadInput for one that can't be held."""
    engine = engine_with(knowledge, points)
    return tuple(hold(comparison, engine, where) for comparison, where in judged)


def calibrated(
    knowledge: Knowledge,
    levels: Mapping[str, Level],
    judged: Judged,
    tell: Callable[[str], None] = lambda _: None,
    most_rounds: int = MOST_ROUNDS,
) -> tuple[list[Round], Pool]:
    """Fit and hold until nothing new is found; gives every round, the first under today's numbers."""
    pool = Pool()
    points = {level.id: level.points for level in levels.values()}
    rounds = [Round(Fit(points, 0.0, {}), held_under(knowledge, points, judged))]
    tell(f"today: {len(rounds[0].broken)} of {len(judged)} broken")
    while pool.add(rounds[-1].held) and len(rounds) <= most_rounds:
        found = fit(levels, pool.pairs(rounds[-1].fit.points))
        rounds.append(Round(found, held_under(knowledge, found.points, judged)))
        tell(f"round {len(rounds) - 1}: {len(rounds[-1].broken)} broken, the narrowest kept by {rounds[-1].narrowest}")
        if not rounds[-1].broken and rounds[-1].narrowest >= found.margin:
            break
    return rounds, pool


def best_of(rounds: Sequence[Round]) -> Round:
    """Give the round that breaks least, then has the widest margin."""
    return min(rounds, key=lambda each: (len(each.broken), -each.narrowest))


def left_out(knowledge: Knowledge, levels: Mapping[str, Level], judged: Judged) -> list[str]:
    """Fit without each tenth in turn, and name the comparisons of that tenth that the numbers don't meet.

    A fit stays near the points that it starts from, and today's have seen every comparison: these start all even.
    """
    even = {
        name: level if name == FREE else level.model_copy(update={"points": EVEN}) for name, level in levels.items()
    }
    rounds, pool = calibrated(knowledge, even, judged)
    points = best_of(rounds).fit.points
    missed = []
    for fold in range(FOLDS):
        out = [each for number, each in enumerate(judged) if number % FOLDS == fold]
        kept = [comparison.id for number, (comparison, _) in enumerate(judged) if number % FOLDS != fold]
        found = fit(even, pool.pairs(points, kept))
        missed += [each.comparison.id for each in held_under(knowledge, found.points, out) if not each.kept]
    return missed


def _cost(times: _Times, points: Mapping[str, int]) -> float:
    return sum(many * points.get(level, 0) for level, many in times)
