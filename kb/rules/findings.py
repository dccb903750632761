"""A rule held against a situation: what it says, the facts it saw, and what it couldn't know.

A finding is data. Its sentence is written by `kb.rules.words`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from kb.rules.clauses import NUMERIC, Calculation, Clause, Condition, Missing, Scene, all_of, any_of, filled, look_up
from kb.rules.rule import Rule, told_facts
from kb.rules.values import recalled


class Calculated(NamedTuple):
    """A calculation that a rule took: its inputs, and the one of its results that was compared."""

    name: str
    inputs: Mapping[str, object]
    result: str
    value: object


class Finding(NamedTuple):
    """One rule that speaks in one situation.

    `known` is False where the rule hangs on a fact that is unknown: then it only cautions. `met` is True for
    a need that is supplied. `names` holds, for each role of the rule, the id and name of what stands there.
    """

    rule: Rule
    known: bool
    met: bool
    names: tuple[tuple[str, str, str], ...]
    seen: tuple[tuple[str, object], ...]
    unknown: tuple[str, ...]
    calculations: tuple[Calculated, ...]
    wait_min: float
    #: The numbers of items that a block compares and that nothing but memory bears out.
    recalled: tuple[str, ...] = ()

    @property
    def verdict(self) -> str:
        """The rule's verdict; only a caution where it is not known to hold."""
        return self.rule.verdict if self.known or self.rule.verdict == "prefer" else "caution"

    @property
    def closes(self) -> bool:
        """Whether it shuts out what it is about."""
        return self.known and (self.rule.verdict == "block" or (self.rule.verdict == "need" and not self.met))

    @property
    def on_memory(self) -> bool:
        """Whether it is a refusal that nothing but memory bears out: the rule itself, or a number that it compares."""
        return self.verdict == "block" and (self.rule.basis == "memory" or bool(self.recalled))

    @property
    def about(self) -> tuple[str, ...]:
        """Ids of the items that it is about, in the order of the rule's roles."""
        return tuple(dict.fromkeys(item_id for _, item_id, _ in self.names if item_id))

    def key(self) -> tuple[object, ...]:
        """Tell what makes two findings the same statement."""
        return (self.rule.id, self.about, self.known, self.met)


def judge(rule: Rule, scene: Scene, need_scenes: Sequence[Scene] = ()) -> Finding | None:
    """Hold `rule` against `scene`; None where it is silent.

    `need_scenes` are the scenes in any of which the need may be supplied (each coat of a stack, say); by
    default the scene itself.
    """
    when = all_of(condition.truth(scene) for condition in rule.when)
    if when is False:
        return None
    if not rule.needs:
        if when is None and rule.verdict == "prefer":
            return None
        return _finding(rule, scene, known=when is True, met=rule.verdict == "need", needs=())
    met = any_of(all_of(need.truth(s) for need in rule.needs) for s in (need_scenes or (scene,)))
    if met is True:
        return _finding(rule, scene, known=True, met=True, needs=()) if when is True else None
    known = when is True and met is False
    return _finding(rule, scene, known=known, met=False, needs=rule.needs)


def _finding(rule: Rule, scene: Scene, *, known: bool, met: bool, needs: tuple[Condition, ...]) -> Finding:
    seen: dict[str, object] = {}
    unknown: dict[str, None] = {}
    calculations: list[Calculated] = []
    # Where a rule is known to hold, so is each of its conditions.
    decided = [known or condition.truth(scene) is not None for condition in rule.when]
    decided += [need.truth(scene) is not None for need in needs]
    for condition, settled in zip((*rule.when, *needs), decided, strict=True):
        for clause in condition.clauses:
            _note(clause, scene, seen, None if settled else unknown, calculations)
    for path in told_facts(rule.message):
        if not isinstance(value := look_up(path, scene), Missing):
            seen.setdefault(path, value)
    wait = 0.0
    if isinstance(rule.wait_min, str):
        minutes = look_up(rule.wait_min, scene)
        if isinstance(minutes, Missing):
            unknown[rule.wait_min] = None
        else:
            wait = float(minutes)
    elif rule.wait_min is not None:
        wait = float(rule.wait_min)
    return Finding(
        rule=rule,
        known=known,
        met=met,
        names=tuple((role, *_who(role, scene)) for role in rule.about),
        seen=tuple(seen.items()),
        unknown=tuple(unknown),
        calculations=tuple(calculations),
        wait_min=wait,
        recalled=tuple(_recalled(rule, scene)) if known and rule.verdict == "block" else (),
    )


def _recalled(rule: Rule, scene: Scene) -> Iterator[str]:
    compared = (clause for condition in rule.when for clause in condition.clauses if clause.op in NUMERIC)
    return (path for path in dict.fromkeys(p for clause in compared for p in clause.facts()) if recalled(path, scene))


def _note(
    clause: Clause,
    scene: Scene,
    seen: dict[str, object],
    unknown: dict[str, None] | None,
    calculations: list[Calculated],
) -> None:
    for path in clause.facts():
        value = look_up(path, scene)
        if not isinstance(value, Missing):
            seen[path] = value
        elif unknown is not None and repr(value) == "unknown":
            unknown[path] = None
    if isinstance(clause.fact, Calculation):
        left, _ = clause.sides(scene)
        if not isinstance(left, Missing):
            inputs = filled(clause.fact.inputs, scene)
            told = Calculated(clause.fact.name, inputs, clause.fact.result, left)
            # A result that has to lie between two limits is told once.
            if told not in calculations:
                calculations.append(told)


def _who(role: str, scene: Scene) -> tuple[str, str]:
    """Give id and name of what stands in `role`; empty where nothing does or the role isn't an item."""
    facts = scene.get(role)
    if not facts:
        return "", ""
    return str(facts.get("id", "")), str(facts.get("name", facts.get("id", "")))


def distinct(findings: Iterable[Finding]) -> list[Finding]:
    """Keep each statement once, where it is first made: what a reader wants to see."""
    found: dict[tuple[object, ...], Finding] = {}
    for finding in findings:
        found.setdefault(finding.key(), finding)
    return list(found.values())
