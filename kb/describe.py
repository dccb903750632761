"""A material that the catalog lacks: what is not known of it, what hangs on that, and what to ask.

`given` is always the description as a job file holds it: `{ like = ..., family = ..., max_temperature_c = ... }`.
A question is asked only if some answer to it would change the chain for the job, which is found by planning with
each answer that is still possible. Nothing here reads input or prints.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from kb.clauses import AnyOf, Condition
from kb.engine.plan import Engine, Plan
from kb.engine.screen import Screened
from kb.engine.slots import INDEX
from kb.errors import BadInput, nearest
from kb.job import FROM_SUBSTRATE, Job
from kb.knowledge import Knowledge
from kb.resolve import Resolved, described
from kb.rules import SLOT_ROLES, Rule

Given = Mapping[str, Any]
#: Short for "not known": what a user answers who can't tell.
UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Answer:
    """What may be answered, and the facts that it sets."""

    key: str
    say: str
    sets: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Question:
    """What a technician can find out: at the bench (`test`), or on a data sheet (`sheet`)."""

    id: str
    ask: str
    test: str
    sheet: str
    facts: tuple[str, ...]
    answers: tuple[Answer, ...]
    #: The fact that a figure answers, and figures that stand for all that may come.
    number: str | None
    tries: tuple[float, ...]
    choice: str | None


@dataclass(frozen=True, slots=True)
class Gap:
    """A fact that is not known, the rules whose verdicts hang on it for this job, and how to find it out."""

    fact: str
    rules: tuple[Rule, ...]
    questions: tuple[Question, ...]


def questions(knowledge: Knowledge) -> tuple[Question, ...]:
    """Every question, in the order in which they are asked."""
    return tuple(
        Question(**{**row, "answers": tuple(Answer(**answer) for answer in row["answers"])})
        for row in knowledge.tables["questions"]
    )


def gaps(plan: Plan, resolved: Resolved) -> tuple[Gap, ...]:
    """What is not known of the plan's material and decides something for its job, most first."""
    hanging = hangs(plan.screened, resolved.missing)
    asked = questions(plan.knowledge)
    found = [Gap(name, rules, tuple(_about(name, asked))) for name, rules in hanging.items()]
    return tuple(sorted(found, key=lambda gap: -len(gap.rules)))


def _about(fact: str, asked: Sequence[Question]) -> list[Question]:
    """The questions that tell a fact, those about the fewest others first."""
    return sorted((q for q in asked if fact in q.facts), key=lambda q: len(q.facts))


def hangs(screened: Screened, missing: Sequence[str]) -> dict[str, tuple[Rule, ...]]:
    """For each of the facts `missing` on which some rule's verdict hangs in a job: those rules."""
    paths = {f"substrate.{name}": name for name in missing}
    paths |= {FROM_SUBSTRATE[name]: name for name in missing if name in FROM_SUBSTRATE}
    found: dict[str, dict[Rule, None]] = {}
    for rule in screened.rules:
        for condition in (*rule.when, *rule.needs):
            names = [n for path in condition.facts() if (n := _missing_in(path, paths, screened)) is not None]
            if names and _undecided(condition, screened):
                for name in names:
                    found.setdefault(name, {})[rule] = None
    return {name: tuple(found[name]) for name in missing if name in found}


def _missing_in(path: str, paths: Mapping[str, str], screened: Screened) -> str | None:
    """The missing fact that `path` would give; a table's fields (hansen.d) hang on the table."""
    role, _, name = path.partition(".")
    if name in (screened.scene.get(role) or {}):
        return None
    return paths.get(path) or paths.get(f"{role}.{name.partition('.')[0]}")


def _undecided(condition: Condition, screened: Screened) -> bool:
    """Whether the condition can't be told for the job, or for some option that is still open."""
    roles = sorted(condition.roles() & set(SLOT_ROLES))
    if not roles:
        return condition.truth(screened.scene) is None
    slots = {INDEX[slot] for role in roles for slot in SLOT_ROLES[role]}
    if isinstance(condition, AnyOf) or len({SLOT_ROLES[role] for role in roles}) > 1:
        return True
    for slot in slots:
        true, possible = screened.domains[slot].masks(condition, roles, screened.scene)
        if (possible & ~true) & screened.left[slot]:
            return True
    return False


@dataclass
class Interview:
    """The questions about one material for one job. `given` grows with each answer; `answers` keeps them in order."""

    engine: Engine
    job: Job
    given: dict[str, Any]
    where: str = "describe"
    answers: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._chains: dict[str, Any] = {}
        self.questions = {q.id: q for q in questions(self.engine.knowledge)}

    def resolved(self, given: Given | None = None) -> Resolved:
        """The material as described so far."""
        return described(self.given if given is None else given, self.engine.knowledge, self.where)

    def plan(self, top: int = 1) -> Plan:
        """The plan for the material as described so far."""
        return self.engine.plan(self.job, self.resolved().entry, top)

    def open(self) -> Iterator[Question]:
        """The questions, not answered yet, of which some answer would change the chain; in their order."""
        resolved = self.resolved()
        plan = self.plan()
        hanging = hangs(plan.screened, resolved.missing)
        now = _chain(plan)
        for question in self.questions.values():
            # A fact on which nothing hangs can change nothing: that saves most of the planning.
            if question.id in self.answers or not set(question.facts) & set(hanging):
                continue
            if any(self._chain_with(answer) != now for answer in self.possible(question)):
                yield question

    def next(self) -> Question | None:
        """The next question to ask; None where no answer would change the chain any more."""
        return next(self.open(), None)

    def possible(self, question: Question) -> list[Answer]:
        """The answers that contradict nothing known and say something new; of a figure those that stand for all."""
        known = self.resolved()
        return [a for a in self._all(question) if _agrees(a, known.entry.facts) and set(a.sets) & set(known.missing)]

    def answer(self, question: Question, words: str) -> None:
        """Takes an answer: a key, the start of one, a family, or a figure. BadInput where it is none of these,
        where it contradicts what is known, and where no material has such a figure: then nothing is taken.

        A fact that is known already stays as it is.
        """
        if words == UNKNOWN:
            self.answers[question.id] = words
            return
        chosen = self._meant(question, words)
        known = self.resolved()
        if not _agrees(chosen, known.entry.facts):
            told = next(name for name, value in chosen.sets.items() if not _same(known.entry.facts, name, value))
            has = known.entry.facts.get(told)
            raise BadInput(f"{self.where}: {question.id}", f"'{words}' contradicts {told} = {has}", "mend one of them")
        given = {**self.given, **{name: value for name, value in chosen.sets.items() if name in known.missing}}
        self.resolved(given)
        self.given = given
        self.answers[question.id] = chosen.key

    def choose(self, question: Question, typed: str) -> None:
        """Takes what was typed at a prompt: the number of an answer that is still possible, or words, or nothing."""
        offered = [a for a in self.possible(question) if a in question.answers]
        if typed.isdigit() and 1 <= int(typed) <= len(offered):
            typed = offered[int(typed) - 1].key
        self.answer(question, typed or UNKNOWN)

    def take(self, answers: Mapping[str, Any]) -> None:
        """Answers by question, and facts as such in the table `facts`. BadInput at the first that is neither."""
        facts = answers.get("facts", {})
        if not isinstance(facts, Mapping):
            raise BadInput(self.where, "facts: should be a table", "for instance [facts] with max_temperature_c = 90")
        self.resolved({**self.given, **facts})
        self.given |= facts
        for name in answers:
            if name != "facts" and name not in self.questions:
                mend = nearest(name, self.questions) or f"questions: {', '.join(self.questions)}"
                raise BadInput(self.where, f"{name}: there is no such question", mend)
        for question in self.questions.values():
            if question.id in answers:
                given = answers[question.id]
                self.answer(question, f"{given:g}" if isinstance(given, float) else str(given))

    def _all(self, question: Question) -> list[Answer]:
        if question.choice == "family":
            families = dict.fromkeys(e.family for e in self.engine.knowledge.by_kind["substrate"])
            return [Answer(name, name, {"family": name}) for name in families if self._family_agrees(name)]
        if question.number is None:
            return list(question.answers)
        limits = _limits(self.engine.knowledge, f"substrate.{question.number}")
        figures = sorted({*question.tries, *limits})
        return [*question.answers, *(Answer(f"{n:g}", f"{n:g}", {question.number: n}) for n in figures)]

    def _family_agrees(self, family: str) -> bool:
        """Whether some member of the family is as the description says."""
        given = {name: value for name, value in self.given.items() if name not in ("like", "name", "family")}
        members = (e for e in self.engine.knowledge.by_kind["substrate"] if e.family == family)
        return any(all(_same(e.facts, name, value) for name, value in given.items() if _sharp(value)) for e in members)

    def _meant(self, question: Question, words: str) -> Answer:
        answers = self._all(question)
        for answer in answers:
            if words == answer.key:
                return answer
        starts = [a for a in answers if a.key.startswith(words) and a.key in {x.key for x in question.answers}]
        if len(starts) == 1:
            return starts[0]
        if question.number is not None:
            try:
                return Answer(words, words, {question.number: float(words)})
            except ValueError:
                pass
        keys = [a.key for a in (answers if question.choice else question.answers)]
        if question.choice == "family":
            keys = sorted({e.family for e in self.engine.knowledge.by_kind["substrate"]})
            if words in keys:
                return Answer(words, words, {"family": words})
        allowed = ", ".join([*keys, *(["a figure"] if question.number else []), UNKNOWN])
        mend = nearest(words, keys) or f"one of: {allowed}"
        raise BadInput(f"{self.where}: {question.id}", f"'{words}' is no answer", mend)

    def _chain_with(self, answer: Answer) -> Any:
        known = self.resolved()
        given = {**self.given, **{name: v for name, v in answer.sets.items() if name in known.missing}}
        key = repr(sorted(given.items(), key=lambda item: item[0]))
        if key not in self._chains:
            entry = self.resolved(given).entry
            self._chains[key] = _chain(self.engine.plan(self.job, entry, 1))
        return self._chains[key]


def _limits(knowledge: Knowledge, path: str) -> set[float]:
    """The numbers that rules compare a fact with."""
    conditions = [c for rule in knowledge.rules for c in (*rule.when, *rule.needs)]
    clauses = [x for c in conditions for x in (c.clauses if isinstance(c, AnyOf) else (c,))]
    return {float(x.value) for x in clauses if x.fact == path and isinstance(x.value, (int, float))}


def _chain(plan: Plan) -> tuple[tuple[str, Any], ...] | None:
    """What makes the best chain this one: its items and its cure; None where there is no chain."""
    if not plan.chains:
        return None
    return tuple((option.id, option.cure["id"] if option.cure else None) for option in plan.chains[0].picks)


def _sharp(value: Any) -> bool:
    """Whether a value is a word or a yes or no, and no figure."""
    return isinstance(value, (str, bool))


def _agrees(answer: Answer, facts: Mapping[str, Any]) -> bool:
    return all(_same(facts, name, value) for name, value in answer.sets.items() if _sharp(value))


def _same(facts: Mapping[str, Any], name: str, value: Any) -> bool:
    """Whether `facts` hold that value, or none."""
    return name not in facts or facts[name] == value
