"""The whole answer to a question: a class is judged member by member, and its verdict is that of the worst."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod
from typing import NamedTuple

from kb.base.errors import BadInput
from kb.engine.check.hearing import VERDICTS
from kb.engine.check.reading import Asked, Question
from kb.engine.check.things import Setting, Thing
from kb.engine.check.verdict import Bench, Checked, Unknown, worst
from kb.engine.plan import Engine
from kb.rules.findings import Finding

#: So many members of classes, one with another, are judged; more is no question but a grid.
MOST_PAIRS = 4000


class Member(NamedTuple):
    """One choice of a member for each class, and what comes of it."""

    things: tuple[Thing, ...]
    checked: Checked


@dataclass(frozen=True)
class Answer:
    """What is said of the things that were asked about; `members` holds each choice where a class was named."""

    asked: tuple[Asked, ...]
    checked: Checked
    members: tuple[Member, ...] = ()


def answer(engine: Engine, asked: Question, setting: Setting | None = None, where: str = "check") -> Answer:
    """Judge what was asked; BadInput, which names `where`, where the classes have too many members."""
    classes = [one.things for one in asked.asked]
    if prod(map(len, classes)) > MOST_PAIRS:
        raise BadInput(where, f"the classes have {prod(map(len, classes))} pairs of members", "name narrower classes")
    bench = Bench(engine, setting)
    judge = bench.check if asked.ordered else bench.either_way
    members = tuple(Member(things, judge(things)) for things in product(*classes))
    if len(members) == 1:
        return Answer(asked.asked, members[0].checked)
    return Answer(asked.asked, _together(asked.asked, members), members)


def _together(asked: Sequence[Asked], members: Sequence[Member]) -> Checked:
    """Give the verdict of the worst member; of each rule what it says of the first member of whom it speaks."""
    badly = sorted((m.checked for m in members), key=lambda one: -VERDICTS.index(one.verdict))
    return Checked(
        tuple(one.name for one in asked),
        worst(one.verdict for one in badly),
        _one_a_rule(finding for one in badly for finding in one.findings),
        _one_a_rule(finding for one in badly for finding in one.notes),
        _one_a_rule(finding for one in badly for finding in one.suits),
        tuple(dict.fromkeys(_unknown(badly))),
        orders=_orders(asked, members),
    )


def _orders(asked: Sequence[Asked], members: Sequence[Member]) -> dict[tuple[str, ...], str]:
    """Give the orders of the coats by what was asked for, each with the worst verdict of a member."""
    found: dict[tuple[str, ...], list[str]] = {}
    for member in members:
        names = {thing.id: one.name for one, thing in zip(asked, member.things, strict=True)}
        for ids, verdict in member.checked.orders.items():
            found.setdefault(tuple(names[item] for item in ids), []).append(verdict)
    return {names: worst(verdicts) for names, verdicts in found.items()}


def _one_a_rule(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    found: dict[tuple[str, bool], Finding] = {}
    for finding in findings:
        found.setdefault((finding.rule.id, finding.known), finding)
    return tuple(found.values())


def _unknown(checked: Iterable[Checked]) -> Iterable[Unknown]:
    return (unknown for one in checked for unknown in one.unknown)
