"""A job and the knowledge in, ranked chains and reasons out."""

from __future__ import annotations

from collections.abc import Callable, Collection, Container, Iterable, Iterator, Mapping
from copy import copy
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import takewhile
from typing import Any

from kb.engine.breakpoints import breakpoints
from kb.engine.chain import Chain, chain_of
from kb.engine.domain import EMPTY, Domain, domains
from kb.engine.grounding import Grounder, Sets
from kb.engine.rank import MS_PER_MINUTE, Ranking, milliseconds
from kb.engine.refusals import refusals
from kb.engine.relaxed import Relaxed
from kb.engine.scene import scene_of
from kb.engine.screen import Screener
from kb.engine.screened import Grounded, Screened
from kb.engine.search.k_best import MOST_TRANSITIONS, Best, best_within, k_best
from kb.engine.search.problem import SearchProblem
from kb.engine.search.reach import fastest
from kb.engine.settle import RuleConstraint
from kb.engine.steps import timed_steps
from kb.engine.turning import OptionFact, Turning
from kb.engine.varied import CannotTellError, Varied, differences
from kb.job import Job
from kb.knowledge import Entry, Knowledge
from kb.knowledge.index import HANDS
from kb.rules.clauses import Scene
from kb.rules.findings import Finding
from kb.rules.job_facts import NO_LIMIT_MIN
from kb.rules.roles import CHAIN_ROLE, kinds_of

#: What an option costs by itself, in every job.
OF_OPTIONS = frozenset((HANDS, "hazards", "basis"))

#: What comes out well of a chain [0 to 1], by what makes it this chain.
Yields = Mapping[frozenset[tuple[str, str]], float]


@dataclass(frozen=True)
class Plan:
    """The answer: chains best first; why each other item is in none is worked out when it is asked for."""

    job: Job
    knowledge: Knowledge
    substrate: Entry
    screened: Screened
    chains: tuple[Chain, ...]
    #: How many chains were asked for.
    top: int
    #: Any chain that is missing costs this or more; None where the chains are proven to be the best.
    bound: int | None = None
    #: How many of the chains, from the first, the shelf can supply; None where it was not asked.
    supplied: int | None = None
    #: What is to be read with this answer, a lab's loosened rules first.
    notes: tuple[str, ...] = ()
    #: The share that came out well, of chains of which the lab has a record.
    yields: Yields = field(default_factory=dict)
    #: What is worked out of a chain, each once, by what it is and of which chain: an answer asks a dozen times.
    worked_out: dict[tuple[object, ...], Any] = field(default_factory=dict, compare=False, repr=False)

    def yield_of(self, chain: Chain) -> float:
        """Tell what share of a chain's installations comes out well: by the lab's record, or else by the job."""
        return self.yields.get(frozenset(chain.named.items()), self.job.batch.expected_yield)

    def noted(self, *notes: str) -> Plan:
        """Add notes to the plan."""
        return replace(self, notes=(*self.notes, *notes))

    @property
    def proven(self) -> int:
        """How many of the chains, from the first, are proven to be the best: all, but in the widest of knowledge."""
        return sum(1 for _ in takewhile(lambda chain: self.bound is None or chain.cost < self.bound, self.chains))

    @cached_property
    def excluded(self) -> list[tuple[Entry, list[Finding]]]:
        """Every item that no chain for this job could use, with its findings."""
        return refusals(self.screened, fastest(self.screened.problem))

    def called(self, job: Job) -> Plan:
        """Give the same plan for a job that differs from its own in name alone, with all that is worked out of it."""
        plan = copy(self)
        object.__setattr__(plan, "job", job)
        return plan

    def complete(self) -> Plan:
        """Work out what waits until it is asked for: no reader of a plan that many share should have to."""
        _ = self.excluded
        return self


class Engine:
    """The knowledge made ready for many jobs: options laid out and rules taken apart once."""

    def __init__(self, knowledge: Knowledge, most_transitions: int = MOST_TRANSITIONS) -> None:
        self.knowledge, self.most_transitions = knowledge, most_transitions
        self.domains: tuple[Domain, ...] = domains(knowledge)
        self.grounders = [Grounder(rule) for rule in knowledge.rules]
        steps = timed_steps(knowledge.tables.get("steps", ()))
        self._rules = [*self.grounders, *map(Grounder, steps)]
        self._screeners: dict[str | None, Screener] = {}

    def barred(self, job: Job, substrate: Entry, rules: frozenset[str], wanted: Sets) -> bool:
        """Tell whether these rules alone leave a job nothing for some slot, or none of the options `wanted`."""
        return self._screener_of(None).barred(self._scene(job, substrate), rules, wanted)

    def breakpoints(
        self, job_of: Callable[[float], Job], substrate: Entry, start: float, end: float, grave: Container[str] = ()
    ) -> dict[float, set[str]]:
        """Give the values of a number of a job at which what is allowed may change (kb.engine.breakpoints)."""
        left = self._screener_of(None).left_between
        rules, domains = self.knowledge.rules, self.domains
        return breakpoints(rules, domains, left, lambda value: self._scene(job_of(value), substrate), start, end, grave)

    def screened(self, job: Job, substrate: Entry, prefer: str | None = None) -> Screened:
        """Hold the job against every rule, before the search."""
        return self._screener_of(prefer).screen(self._scene(job, substrate))

    def _screener_of(self, prefer: str | None) -> Screener:
        if prefer not in self._screeners:
            self._screeners[prefer] = self._screener(Ranking(self.knowledge.tables["ranking"], prefer))
        return self._screeners[prefer]

    def _screener(self, ranking: Ranking) -> Screener:
        """Make the screener of a ranking: of one that prices rules as it does, with all that one knows already."""
        for known in tuple(self._screeners.values()):
            if known.ranking.prices_rules_like(ranking):
                return known.priced(ranking)
        return Screener(self.knowledge, self.domains, ranking, self._rules)

    def _scene(self, job: Job, substrate: Entry) -> Scene:
        return {**scene_of(self.knowledge, job, substrate.facts), CHAIN_ROLE: {}}

    def plan(self, job: Job, substrate: Entry, top: int = 3, prefer: str | None = None) -> Plan:
        """Find the `top` best chains for `job` on `substrate`; none where the rules leave none."""
        screened = self.screened(job, substrate, prefer)
        chains, bound = self._best(screened, screened.problem, top)
        return Plan(job, self.knowledge, substrate, screened, chains, top, bound, notes=self.knowledge.notes)

    def apart(self) -> Engine:
        """Make an engine that shares all but the job before: for many questions about one, while others ask others."""
        engine = copy(self)
        engine._screeners = {
            prefer: screener.restated(self.knowledge, self.domains, None, ())
            for prefer, screener in self._screeners.items()
        }
        return engine

    def restated(self, knowledge: Knowledge, kind: str, facts: Collection[OptionFact]) -> Engine:
        """Make the engine over knowledge that differs from this one's in these facts of items of one kind alone.

        What no rule reads of them is taken over, so that many such questions about one job are quick.
        """
        engine = copy(self)
        engine.knowledge = knowledge
        domain = Domain(kind, knowledge.by_kind[kind], knowledge.index[kind])
        engine.domains = tuple(domain if one.kind == kind else one for one in self.domains)
        own = not {name for _, name in facts}.isdisjoint(OF_OPTIONS)
        readers = {number for fact in facts for number in self._readers.get((kind, *fact), ())}
        engine._screeners = {
            prefer: screener.restated(
                knowledge, engine.domains, Ranking(knowledge.tables["ranking"], prefer) if own else None, readers
            )
            for prefer, screener in self._screeners.items()
        }
        return engine

    @cached_property
    def _readers(self) -> dict[tuple[str, bool, str], set[int]]:
        """The rules and timed steps, by number, that read each fact of an option of each kind."""
        found: dict[tuple[str, bool, str], set[int]] = {}
        for number, grounder in enumerate(self._rules):
            for path in grounder.rule.facts():
                role, _, name = path.partition(".")
                for kind in kinds_of(role):
                    found.setdefault((kind, role == "cure", name), set()).add(number)
        return found

    def turning(self, job: Job, substrate: Entry) -> Turning:
        """Look at which rules a changed fact of an option may turn in a job."""
        return Turning(self._rules, self._scene(job, substrate))

    def says_same(self, job: Job, substrate: Entry, prefer: str | None = None) -> bool:
        """Tell whether every rule says of a job what it said of the one that was screened last."""
        screener = self._screeners.get(prefer)
        return screener is not None and not screener.said_otherwise(self._scene(job, substrate))

    def varied(self, job: Job, substrate: Entry, prefer: str | None = None) -> Varied:
        """Keep the search of a job that has a chain, to ask what its first is with a few facts changed."""
        return Varied(self.screened(job, substrate, prefer), self.most_transitions)

    def said_otherwise(
        self, job: Job, substrate: Entry, prefer: str | None = None
    ) -> list[tuple[Grounded | None, Grounded | None]]:
        """Give what rules said of the job that was screened last, and what they say of this one where that differs.

        Raises CannotTellError where that isn't all: what a slot may be left empty by is worked out of all such rules.
        """
        pairs = self._screeners[prefer].said_otherwise(self._scene(job, substrate))
        if any(each is not None and each.rule.omits for pair in pairs for each in pair):
            raise CannotTellError
        return pairs

    def changes(self, job: Job, substrate: Entry, prefer: str | None = None) -> list[RuleConstraint]:
        """Lay out the same as what has to be added for it, as `Varied.first` takes it; CannotTellError as there."""
        screener, service = self._screeners[prefer], self._scene(job, substrate)["service"] or {}
        priced = (
            [[screener.with_time(c, service) for c in each.constraints] if each else [] for each in pair]
            for pair in self.said_otherwise(job, substrate, prefer)
        )
        return list(differences((old, new) for old, new in priced))

    def relaxed(self, job: Job, substrate: Entry, prefer: str | None = None) -> Relaxed:
        """Lay out a job that was screened, to ask what it would be with nothing held against some items."""
        return Relaxed(self._screeners[prefer], self._scene(job, substrate))

    def first(self, job: Job, substrate: Entry, prefer: str | None = None) -> tuple[int, ...] | None:
        """Find the place of what stands in each slot of the best chain, and nothing else; None without a chain."""
        labels = k_best(self.screened(job, substrate, prefer).problem, 1, self.most_transitions).labels
        return labels[0].picks if labels else None

    def among(self, plan: Plan, items: Container[str]) -> Plan:
        """Plan the same job again using only these items, by id."""
        problem = plan.screened.problem.only([EMPTY | domain.places(items) for domain in self.domains])
        chains, bound = self._best(plan.screened, problem, plan.top)
        return replace(plan, chains=chains, bound=bound)

    #: More milliseconds than any chain takes.
    longest_ms = int(NO_LIMIT_MIN * MS_PER_MINUTE)

    def best(self, screened: Screened, problem: SearchProblem) -> Chain | None:
        """Find the best chain of a problem that is the job's or a part of it; None where it has none."""
        chains, _ = self._best(screened, problem, 1)
        return chains[0] if chains else None

    def best_within(self, screened: Screened, limits_min: Iterable[float]) -> Iterator[Chain]:
        """Give the best chain that is ready within each of some times that the first is known to miss, if there is one.

        Longer limits are looked into when they are asked for.
        """
        # What every chain takes is no part of the search.
        limits = (milliseconds(minutes - screened.constant[1]) for minutes in limits_min)
        for best in best_within(screened.problem, limits, self.most_transitions):
            yield from _judged(screened, best)

    def _best(self, screened: Screened, problem: SearchProblem, top: int) -> tuple[tuple[Chain, ...], int | None]:
        """Find the best chains of a problem that is the job's or a part of it, and the bound of what is missing."""
        best = k_best(problem, top, self.most_transitions)
        bound = None if best.bound is None or best.proven == top else best.bound + screened.constant[0]
        return _judged(screened, best), bound


def _judged(screened: Screened, best: Best) -> tuple[Chain, ...]:
    """Make chains of what a search found."""
    return tuple(chain_of(screened, rank, label) for rank, label in enumerate(best.labels, start=1))
