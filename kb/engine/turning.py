"""What a changed fact can do to an answer, told from the rules alone: most moves change nothing, and need no search.

A rule turns only where a condition that reads the fact does: which, its limit tells. What then changes is looked at
in two ways: whether it can let a chain through where there was none, and whether it can make another chain the first.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import NamedTuple

from kb.engine.domain import Option
from kb.engine.grounding import Grounder
from kb.engine.settle import RuleConstraint
from kb.engine.steps import TIMED
from kb.rules.clauses import Condition, Scene
from kb.rules.roles import SLOT_ROLES, kinds_of
from kb.rules.rule import Rule

#: (of the cure?, name) of a fact of an option, as the index has it.
OptionFact = tuple[bool, str]
#: What one rule forbids or costs.
Said = Sequence[RuleConstraint]


class _Reader(NamedTuple):
    """Where a rule reads a fact: in a condition, of which it is a need or not; no condition: its wait is that long."""

    rule: Rule
    condition: Condition | None
    need: bool = False


class _Turn(NamedTuple):
    """A reader of a changed fact; `settled`: it read `before`, and now reads `after`."""

    reader: _Reader
    settled: bool = False
    before: bool | None = None
    after: bool | None = None

    def may_let_through(self, timed: bool) -> bool:
        """Tell whether a chain may be allowed that was not; `timed`: there is a limit of time to be kept."""
        rule = self.reader.rule
        if timed and (rule.wait_min or rule.step_min or rule.verdict == TIMED):
            return True
        if rule.omits:
            return True
        if rule.verdict != "block" and not rule.needs:
            return False
        if not self.settled:
            return True
        # It forbids where its conditions certainly hold and its needs certainly don't.
        return self.before is (not self.reader.need)


class Turning:
    """The rules that are not silent in one job, by the facts of options that they read."""

    def __init__(self, rules: Sequence[Grounder], scene: Scene) -> None:
        self._rules, self._scene = rules, scene

    @cached_property
    def _readers(self) -> Mapping[tuple[str, OptionFact], list[_Reader]]:
        found: dict[tuple[str, OptionFact], list[_Reader]] = {}
        for grounder in self._rules:
            rule = grounder.rule
            if grounder.decided(self._scene) is False:
                continue
            reads = [(path, _Reader(rule, c)) for c in rule.when for path in c.facts()]
            reads += [(path, _Reader(rule, c, need=True)) for c in rule.needs for path in c.facts()]
            if isinstance(rule.wait_min, str):
                reads.append((rule.wait_min, _Reader(rule, None)))
            for path, reader in reads:
                role, _, name = path.partition(".")
                for kind in kinds_of(role) if role in SLOT_ROLES else ():
                    found.setdefault((kind, (role == "cure", name)), []).append(reader)
        return found

    def turned(self, kind: str, old: Option, new: Option, facts: Collection[OptionFact]) -> Iterator[_Turn]:
        """Give what reads one of these facts of an option and may come to something else than before."""
        for fact in facts:
            for reader in self._readers.get((kind, fact), ()):
                turn = self._turn(reader, old, new)
                if turn is not None:
                    yield turn

    def _turn(self, reader: _Reader, old: Option, new: Option) -> _Turn | None:
        if reader.condition is None:
            return _Turn(reader)
        roles = reader.condition.roles() & SLOT_ROLES.keys()
        if len(roles - {"cure"}) > 1 or ("cure" in roles and not roles <= {"cure", "adhesive"}):
            # It also reads what stands in another slot.
            return _Turn(reader)
        before, after = (
            reader.condition.truth({**self._scene, **{role: option.facts(role) for role in roles}})
            for option in (old, new)
        )
        return None if before is after else _Turn(reader, settled=True, before=before, after=after)


def leaves_first(pairs: Iterable[tuple[Said, Said]], first: Mapping[int, int]) -> bool:
    """Tell whether what rules say now (second of each pair) leaves the first chain first, as it was.

    `first` marks its option in each slot. So it is where nothing that changed meets it, and all of it makes others
    dearer: each differs from what it was by what costs more and holds for more, or costs less and holds for less.
    """
    return all(_no_cheaper(old, new) and _met(old, first) == _met(new, first) for old, new in pairs)


def _met(said: Said, first: Mapping[int, int]) -> tuple[int, float, bool]:
    here = [each for each in said if all(first[slot] & mask for slot, mask in each.sets.items())]
    return sum(each.cost for each in here), sum(each.minutes for each in here), any(each.forbids for each in here)


def _no_cheaper(old: Said, new: Said) -> bool:
    """Tell whether no chain is allowed, cheaper or faster by `new` that wasn't by `old`. It may say no wrongly."""
    gone, come = [each for each in old if each not in new], [each for each in new if each not in old]
    if len(gone) != len(come):
        return all(map(_saves, gone)) and all(map(_costs, come))
    return all(_grown(*pair) if _costs(pair[0]) else _grown(*reversed(pair)) for pair in zip(gone, come, strict=True))


def _grown(small: RuleConstraint, large: RuleConstraint) -> bool:
    """Tell whether two constraints say the same, the second of more options."""
    alike = small._replace(sets={}) == large._replace(sets={}) and small.sets.keys() == large.sets.keys()
    return alike and all(not mask & ~large.sets[slot] for slot, mask in small.sets.items())


def _costs(constraint: RuleConstraint) -> bool:
    return constraint.forbids or (constraint.cost >= 0 and constraint.minutes >= 0)


def _saves(constraint: RuleConstraint) -> bool:
    return not constraint.forbids and constraint.cost <= 0 and constraint.minutes <= 0
