"""What a changed fact can do to an answer, told from the rules alone: most moves change nothing, and need no search.

A rule turns only where a condition that reads the fact does: which, its limit tells. Where there was no chain, it
matters only if it can let one through.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import cached_property
from math import inf
from typing import NamedTuple

from kb.engine.domain import Option
from kb.engine.grounding import Grounder
from kb.engine.steps import TIMED
from kb.rules.clauses import Condition, Scene
from kb.rules.roles import SLOT_ROLES, kinds_of
from kb.rules.rule import Rule

#: (of the cure?, name) of a fact of an option, as the index has it.
OptionFact = tuple[bool, str]


class _Reader(NamedTuple):
    """Where a rule reads a fact: in a condition, of which it is a need or not; no condition: its wait is that long."""

    rule: Rule
    condition: Condition | None
    need: bool = False


class Turn(NamedTuple):
    """A reader of a changed fact; `settled`: it read `before`, and now reads `after`."""

    reader: _Reader
    settled: bool = False
    before: bool | None = None
    after: bool | None = None
    #: The most minutes that its rule takes less now.
    saves_min: float = 0.0

    def may_let_through(self, timed: bool) -> bool:
        """Tell whether a chain may be allowed that was not; `timed`: there is a limit of time to be kept."""
        return self.lifts or (timed and self.saves_min > 0)

    @property
    def lifts(self) -> bool:
        """Whether a chain may be allowed that was forbidden."""
        rule = self.reader.rule
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

    def turned(self, kind: str, old: Option, new: Option, facts: Collection[OptionFact]) -> Iterator[Turn]:
        """Give what reads one of these facts of an option and may come to something else than before."""
        for fact in facts:
            for reader in self._readers.get((kind, fact), ()):
                turn = self._turn(reader, old, new)
                if turn is not None:
                    yield turn

    def _turn(self, reader: _Reader, old: Option, new: Option) -> Turn | None:
        if reader.condition is None:
            return Turn(reader, saves_min=_waits(reader.rule, old) - _waits(reader.rule, new))
        roles = reader.condition.roles() & SLOT_ROLES.keys()
        if len(roles - {"cure"}) > 1 or ("cure" in roles and not roles <= {"cure", "adhesive"}):
            # It also reads what stands in another slot.
            return Turn(reader, saves_min=_takes_time(reader.rule))
        before, after = (
            reader.condition.truth({**self._scene, **{role: option.facts(role) for role in roles}})
            for option in (old, new)
        )
        return (
            None
            if before is after
            else Turn(reader, settled=True, before=before, after=after, saves_min=_takes_time(reader.rule))
        )


def _takes_time(rule: Rule) -> float:
    """Give the most minutes that may be saved where a rule holds no longer: no end of them where it takes any time."""
    return inf if rule.wait_min or rule.step_min or rule.verdict == TIMED else 0.0


def _waits(rule: Rule, option: Option) -> float:
    """Give the minutes that a fact of an option makes a rule wait; none where it isn't known."""
    role, _, name = str(rule.wait_min).partition(".")
    minutes = (option.facts(role) or {}).get(name)
    return float(minutes) if isinstance(minutes, (int, float)) else 0.0
