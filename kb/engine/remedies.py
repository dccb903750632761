"""What would make things go together: another item in the place of one of them, or one more that supplies a need."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from kb.engine.check import VERDICTS, Checked, Thing, check, speakers, supplied
from kb.knowledge import Knowledge
from kb.rules.clauses import Facts
from kb.rules.roles import kinds_of

#: No more items than this are named for one remedy.
MOST_NAMED = 5


@dataclass(frozen=True)
class Remedy:
    """Put one of `by` in the place of `item`; or, where `item` is empty, add one of them."""

    item: str
    by: tuple[str, ...]
    verdict: str


def remedies(
    knowledge: Knowledge, things: Sequence[Thing], checked: Checked, job: Mapping[str, Facts] | None = None
) -> list[Remedy]:
    """For things that are blocked or need something: what would do, the like of what was named first.

    The part and the exposures are what they are; nothing is proposed for them.
    """
    found = []
    if checked.verdict == "blocked":
        found = [swap for place in range(len(things)) if (swap := _swap(knowledge, things, place, job)) is not None]
    return found + list(_added(knowledge, things, checked, job))


def _swap(knowledge: Knowledge, things: Sequence[Thing], place: int, job: Mapping[str, Facts] | None) -> Remedy | None:
    """The items that go best in the place of one thing; None where none is better than blocked."""
    entry = things[place].entry
    if entry is None or entry.kind == "substrate":
        return None
    rules = speakers(knowledge, {t.kind for t in things}, job is not None)
    ranked: list[tuple[int, bool, str]] = []
    for other in knowledge.by_kind[entry.kind]:
        tried = [*things[:place], Thing(other.id, other), *things[place + 1 :]]
        verdict = check(knowledge, tried, job, rules).verdict
        ranked.append((VERDICTS.index(verdict), other.family != entry.family, other.id))
    best = min(ranked)[0]
    if VERDICTS[best] == "blocked":
        return None
    named = sorted(row for row in ranked if row[0] == best)
    return Remedy(entry.id, tuple(name for _, _, name in named[:MOST_NAMED]), VERDICTS[best])


def _added(
    knowledge: Knowledge, things: Sequence[Thing], checked: Checked, job: Mapping[str, Facts] | None
) -> Iterator[Remedy]:
    """For each need that nothing supplies: what could be added, without anything new being blocked."""
    for finding in checked.findings:
        if not finding.rule.needs or supplied(finding) or not finding.known:
            continue
        kinds = {kind for need in finding.rule.needs for role in need.roles() for kind in kinds_of(role)}
        named = []
        for kind in sorted(kinds):
            for other in knowledge.by_kind[kind]:
                tried = check(knowledge, [*things, Thing(other.id, other)], job)
                met = all(supplied(f) for f in tried.findings if f.rule is finding.rule)
                if met and tried.verdict != "blocked":
                    named.append((VERDICTS.index(tried.verdict), other.id))
        if named:
            best = min(named)[0]
            ids = tuple(name for worst, name in sorted(named) if worst == best)
            yield Remedy("", ids[:MOST_NAMED], VERDICTS[best])
