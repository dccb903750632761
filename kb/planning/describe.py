"""A material that the catalog lacks, described by answers: only those are asked for that would change the chain.

`given` is always the description as a job file holds it: `{ like = ..., family = ..., max_temperature_c = ... }`.
A question is asked only if some answer to it would change the chain for the job, which is found by planning with
each answer that is still possible. Nothing here reads input or prints.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from kb.base.errors import BadInput, nearest
from kb.base.units import converted
from kb.engine.plan import Engine, Plan
from kb.job import Job
from kb.knowledge import Knowledge
from kb.materials.resolve import Resolved, described, family_meant
from kb.planning.ask import Asked, ask
from kb.planning.gaps import Answer, Question, hangs, questions
from kb.rules.words import shown

Given = Mapping[str, Any]
#: Short for "not known": what a user answers who can't tell; and other ways to say it at a prompt.
UNKNOWN = "unknown"
_UNSURE = ("", "?", "-", "not known", "don't know", "dont know", "no idea", "not sure", "skip")
#: Of two answers the first says yes.
_YES_NO = {"y": 0, "yes": 0, "n": 1, "no": 1}


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
        self._before: list[dict[str, Any]] = []
        self.questions = {q.id: q for q in questions(self.engine.knowledge)}

    def resolved(self, given: Given | None = None) -> Resolved:
        """Give the material as described so far."""
        return described(self.given if given is None else given, self.engine.knowledge, self.where)

    def asked(self, top: int = 1, part: Resolved | None = None) -> Asked:
        """Plan the job on the material as described so far, or on `part`."""
        return ask(self.engine, self.job, self.where, top, part=part or self.resolved())

    def open(self) -> Iterator[Question]:
        """Give the questions, not answered yet, of which some answer would change the chain; in their order."""
        asked = self.asked()
        hanging = hangs(asked.plan.screened, asked.resolved.missing)
        now = _chain(asked.plan)
        for question in self.questions.values():
            # A fact on which nothing hangs can change nothing: that saves most of the planning.
            if question.id in self.answers or not set(question.facts) & set(hanging):
                continue
            if any(self._chain_with(answer) != now for answer in self.possible(question)):
                yield question

    def next(self) -> Question | None:
        """Give the next question to ask; None where no answer would change the chain any more."""
        return next(self.open(), None)

    def possible(self, question: Question) -> list[Answer]:
        """List the answers that contradict nothing known and say something new.

        Of a figure these are the ones that stand for all.
        """
        known = self.resolved()
        return [a for a in self._all(question) if _agrees(a, known.entry.facts) and set(a.sets) & set(known.missing)]

    def answer(self, question: Question, words: str) -> None:
        """Take an answer: a key, the start of one, a family, or a figure with or without its unit.

        A fact that is known already stays as it is. BadInput where it is none of these, where it contradicts what is
        known, and where no material has such a figure: then nothing is taken.
        """
        given, key = self.given, UNKNOWN
        if words != UNKNOWN:
            chosen = self._meant(question, words)
            known = self.resolved()
            if not _agrees(chosen, known.entry.facts):
                told = next(name for name, value in chosen.sets.items() if not _same(known.entry.facts, name, value))
                raise self._contradiction(question, words, f"{told} = {shown(known.entry.facts.get(told))}")
            given = {**self.given, **{name: value for name, value in chosen.sets.items() if name in known.missing}}
            self.resolved(given)
            key = chosen.key
        self._before.append(self.given)
        self.given = given
        self.answers[question.id] = key

    def choose(self, question: Question, typed: str) -> None:
        """Take what was typed: the number of an answer that is still possible, or words, or nothing.

        BadInput for a lone digit that numbers no answer: it is hardly the figure that could be given instead.
        """
        offered = [a for a in self.possible(question) if a in question.answers]
        words = typed.strip()
        if words.isdecimal() and 1 <= int(words) <= len(offered):
            words = offered[int(words) - 1].key
        elif words.isdecimal() and len(words) == 1 and offered:
            figure = f", or a figure with its unit: {words} {question.unit}" if question.number else ""
            what = f"'{words}' is none of the {len(offered)} answers"
            raise BadInput(f"{self.where}: {question.id}", what, f"give a number from 1 to {len(offered)}{figure}")
        elif words.casefold() in _UNSURE:
            words = UNKNOWN
        elif len(question.answers) == 2 and words.casefold() in _YES_NO:
            words = question.answers[_YES_NO[words.casefold()]].key
        elif question.number is None:
            words = words.casefold()
        self.answer(question, words)

    def back(self) -> bool:
        """Take the last answer back; False where there is none."""
        if not self._before:
            return False
        self.given = self._before.pop()
        self.answers.popitem()
        return True

    def take(self, answers: Mapping[str, Any]) -> None:
        """Take answers by question, and facts as such in the table `facts`. BadInput at the first that is neither."""
        facts = answers.get("facts", {})
        if not isinstance(facts, Mapping):
            raise BadInput(self.where, "facts: should be a table", "for instance [facts] with max_temperature_c = 90")
        self.resolved({**self.given, **facts})
        self.given = {**self.given, **facts}
        for name in answers:
            if name != "facts" and name not in self.questions:
                mend = nearest(name, self.questions) or f"questions: {', '.join(self.questions)}"
                raise BadInput(self.where, f"{name}: there is no such question", mend)
        for question in self.questions.values():
            if question.id in answers:
                given = answers[question.id]
                if isinstance(given, float):
                    self.answer(question, f"{given:g}")
                else:
                    self.choose(question, str(given))

    def _all(self, question: Question) -> list[Answer]:
        if question.choice == "family":
            families = sorted({e.family for e in self.engine.knowledge.by_kind["substrate"]})
            return [Answer(name, name, {"family": name}) for name in families if self._family_agrees(name)]
        if question.number is None:
            return list(question.answers)
        limits = _limits(self.engine.knowledge, f"substrate.{question.number}")
        figures = sorted({*question.tries, *limits})
        return [*question.answers, *(Answer(f"{n:g}", f"{n:g}", {question.number: n}) for n in figures)]

    def _family_agrees(self, family: str) -> bool:
        """Tell whether some member of the family is as the description says."""
        given = {name: value for name, value in self.given.items() if name not in ("like", "name", "family")}
        members = (e for e in self.engine.knowledge.by_kind["substrate"] if e.family == family)
        return any(all(_same(e.facts, name, value) for name, value in given.items() if _sharp(value)) for e in members)

    def _meant(self, question: Question, words: str) -> Answer:
        if question.choice == "family":
            return self._family_meant(question, words)
        for answer in question.answers:
            if words == answer.key:
                return answer
        starts = [answer for answer in question.answers if words and answer.key.startswith(words)]
        if len(starts) == 1:
            return starts[0]
        keys = [answer.key for answer in question.answers]
        figure = f"a figure in {question.unit}" if question.number else ""
        mend = nearest(words, keys) or f"one of: {', '.join(filter(None, (*keys, figure, UNKNOWN)))}"
        if question.number is not None:
            try:
                value = converted(question.number, words)
            except ValueError as fault:
                if any(letter.isdecimal() for letter in words):
                    said = str(fault).removeprefix(f"{question.number}: ")
                    raise BadInput(
                        f"{self.where}: {question.id}", said, f"write the figure in {question.unit}"
                    ) from None
            else:
                return Answer(words, words, {question.number: value})
        raise BadInput(f"{self.where}: {question.id}", f"'{words}' is no answer", mend)

    def _family_meant(self, question: Question, words: str) -> Answer:
        families = {e.family for e in self.engine.knowledge.by_kind["substrate"]}
        if words in families and self._family_agrees(words):
            return Answer(words, words, {"family": words})
        if words in families:
            members = [e for e in self.engine.knowledge.by_kind["substrate"] if e.family == words]
            told = [n for n, v in self.given.items() if _sharp(v) and not any(_same(e.facts, n, v) for e in members)]
            told = [name for name in told if name not in ("like", "name", "family")]
            other = f"{told[0]} = {shown(self.given[told[0]])}" if told else "what is known, taken together"
            raise self._contradiction(question, words, other)
        agreeing = [name for name in sorted(families) if self._family_agrees(name)]
        mend = family_meant(words, self.engine.knowledge, agreeing) or nearest(words, families, 85)
        raise BadInput(f"{self.where}: {question.id}", f"'{words}' is no family", mend or f"write one, or {UNKNOWN}")

    def _contradiction(self, question: Question, words: str, known: str) -> BadInput:
        mend = f"mend one of them, or say {UNKNOWN}"
        return BadInput(f"{self.where}: {question.id}", f"'{words}' contradicts {known}", mend)

    def _chain_with(self, answer: Answer) -> Any:
        known = self.resolved()
        given = {**self.given, **{name: v for name, v in answer.sets.items() if name in known.missing}}
        key = repr(sorted(given.items(), key=lambda item: item[0]))
        if key not in self._chains:
            self._chains[key] = _chain(self.asked(part=self.resolved(given)).plan)
        return self._chains[key]


def _limits(knowledge: Knowledge, path: str) -> set[float]:
    """Give the numbers that rules compare a fact with."""
    conditions = [c for rule in knowledge.rules for c in (*rule.when, *rule.needs)]
    clauses = [x for c in conditions for x in c.clauses]
    return {float(x.value) for x in clauses if x.fact == path and isinstance(x.value, (int, float))}


def _chain(plan: Plan) -> tuple[tuple[str, Any], ...] | None:
    """Tell what makes the best chain this one: its items and its cure; None where there is no chain."""
    return plan.chains[0].key if plan.chains else None


def _sharp(value: Any) -> bool:
    """Tell whether a value is a word or a yes or no, and no figure."""
    return isinstance(value, (str, bool))


def _agrees(answer: Answer, facts: Mapping[str, Any]) -> bool:
    return all(_same(facts, name, value) for name, value in answer.sets.items() if _sharp(value))


def _same(facts: Mapping[str, Any], name: str, value: Any) -> bool:
    """Tell whether `facts` hold that value, or none."""
    return name not in facts or facts[name] == value
