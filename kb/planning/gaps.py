"""What is not known of a material that the catalog lacks, what hangs on that, and the questions that tell it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from kb.engine.plan import Plan
from kb.engine.screened import Screened
from kb.engine.slots import INDEX
from kb.knowledge import Knowledge
from kb.materials.resolve import Resolved
from kb.rules.clauses import AnyOf, Condition
from kb.rules.job_facts import FROM_SUBSTRATE
from kb.rules.roles import SLOT_ROLES
from kb.rules.rule import Rule


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
    #: The fact that a figure answers, its unit, and figures that stand for all that may come.
    number: str | None
    unit: str
    tries: tuple[float, ...]
    choice: str | None


@dataclass(frozen=True, slots=True)
class Gap:
    """A fact that is not known, the rules whose verdicts hang on it for this job, and how to find it out."""

    fact: str
    rules: tuple[Rule, ...]
    questions: tuple[Question, ...]


def questions(knowledge: Knowledge) -> tuple[Question, ...]:
    """Give every question, in the order in which they are asked."""
    return tuple(
        Question(
            id=row["id"],
            ask=row["ask"],
            test=row["test"],
            sheet=row["sheet"],
            facts=row["facts"],
            answers=tuple(Answer(**answer) for answer in row["answers"]),
            number=row["number"],
            unit=row["unit"],
            tries=row["tries"],
            choice=row["choice"],
        )
        for row in knowledge.tables["questions"]
    )


def gaps(plan: Plan, resolved: Resolved) -> tuple[Gap, ...]:
    """Tell what is not known of the plan's material and decides something for its job, most first."""
    hanging = hangs(plan.screened, resolved.missing)
    asked = questions(plan.knowledge)
    found = [Gap(name, rules, tuple(_about(name, asked))) for name, rules in hanging.items()]
    return tuple(sorted(found, key=lambda gap: -len(gap.rules)))


def _about(fact: str, asked: Sequence[Question]) -> list[Question]:
    """List the questions that tell a fact.

    First come those of which most answers tell it, then those about the fewest others.
    """
    return sorted((q for q in asked if fact in q.facts), key=lambda q: (-_tells(q, fact), len(q.facts)))


def _tells(question: Question, fact: str) -> float:
    """Give the share of the answers that tell the fact; all of them where it is a figure, or a name."""
    if fact in (question.number, question.choice) or not question.answers:
        return 1.0
    return sum(fact in answer.sets for answer in question.answers) / len(question.answers)


def hangs(screened: Screened, missing: Sequence[str]) -> dict[str, tuple[Rule, ...]]:
    """List the rules whose verdict in a job hangs on each of the facts `missing`."""
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
    """Give the missing fact that `path` would give; a table's fields (hansen.d) hang on the table."""
    role, _, name = path.partition(".")
    if name in (screened.scene.get(role) or {}):
        return None
    return paths.get(path) or paths.get(f"{role}.{name.partition('.')[0]}")


def _undecided(condition: Condition, screened: Screened) -> bool:
    """Tell whether the condition can't be told for the job, or for some option that is still open."""
    roles = sorted(condition.roles() & set(SLOT_ROLES))
    if not roles:
        return condition.truth(screened.scene) is None
    slots = {INDEX[slot] for role in roles for slot in SLOT_ROLES[role]}
    if isinstance(condition, AnyOf) or len({SLOT_ROLES[role] for role in roles}) > 1:
        return True
    for slot in slots:
        true, possible = screened.domains[slot].masks(condition, roles, screened.scene)
        if (possible & ~true) & screened.remaining[slot]:
            return True
    return False
