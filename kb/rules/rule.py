"""A rule as the engine holds it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from kb.base.vocabulary import PROOF_STAGE
from kb.rules.clauses import Condition
from kb.rules.relations import relation
from kb.rules.roles import BESIDE_ROLES


class Rule(NamedTuple):
    """A rule as the engine holds it; no two have the same id."""

    id: str
    title: str
    verdict: str
    about: tuple[str, ...]
    message: str
    because: str
    instead: str
    basis: str
    sources: tuple[str, ...]
    when: tuple[Condition, ...]
    needs: tuple[Condition, ...] = ()
    wait_min: float | str | None = None
    wait_before: str = ""
    step_stage: str = ""
    step_do: str = ""
    step_min: float = 0.0
    step_first: bool = False
    #: Whether its step takes the layer off, so that the part is from then on what lay below.
    bares: bool = False
    omits: str | None = None
    level: str | None = None
    loosens: str | None = None
    reason: str = ""
    house: bool = False
    #: The test or the fact that would settle what is only recalled.
    settle: str = ""
    #: Whether it is read before all else: it comes with the part or the place, and can hurt for life.
    urgent: bool = False

    def __hash__(self) -> int:
        return hash(self.id)

    @property
    def delay_min(self) -> float:
        """Minutes of its step until the gauge may be measured; a step that proves the bond comes after."""
        return 0.0 if self.step_stage == PROOF_STAGE else self.step_min

    def roles(self) -> set[str]:
        """List every role that the conditions read."""
        return {role for condition in (*self.when, *self.needs) for role in condition.roles()}

    @property
    def of_gauge(self) -> bool:
        """Whether it says what to ask of the gauge itself, which stands in no slot."""
        return self.verdict == "prefer" and self.about == ("gauge",)

    @property
    def beside(self) -> bool:
        """Whether it says nothing of a chain: that things suit each other, of the gauge, or of what is in no chain."""
        if self.verdict == "suits" or self.of_gauge or not self.roles().union(self.about).isdisjoint(BESIDE_ROLES):
            return True
        how = relation(*self.about) if len(self.about) == 2 else None
        return how is not None and not how.chained

    def facts(self) -> Iterator[str]:
        """List every fact that the conditions, the wait or the message read; `{calc.…}` is none."""
        for condition in (*self.when, *self.needs):
            yield from condition.facts()
        if isinstance(self.wait_min, str):
            yield self.wait_min
        yield from told_facts(self.message)


@lru_cache(maxsize=4096)
def told_facts(message: str) -> tuple[str, ...]:
    """List every fact that a message tells.

    >>> told_facts("{adhesive} holds for {calc.said}; the job lasts {service.duration_days} days")
    ('service.duration_days',)
    """
    return tuple(re.findall(r"\{(?!calc\.)([a-z_]+\.[a-zA-Z0-9_.-]+)\}", message))
