"""A rule as the engine holds it, and the roles that rules speak of.

>>> KIND_OF_ROLE["over"], SLOT_ROLES["over"]
('coating', ('coating_2', 'coating_3'))
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from kb.rules.clauses import Condition

#: The job's own tables; `bench` is the room, `chain` the finished chain as a whole.
JOB_ROLES = ("part", "service", "gauge", "batch", "bench", "limits")
#: What an item can be in a chain. `abrasive`, `liquid` and `coating` stand for each of several slots in turn;
#: `inner` and `outer` for the first and last coat, `under` and `over` for two coats that touch.
SLOT_ROLES = {
    "degreaser": ("degreaser",),
    "abrasive_dry": ("abrasive_dry",),
    "abrasive_wet": ("abrasive_wet",),
    "abrasive": ("abrasive_dry", "abrasive_wet"),
    "conditioner": ("conditioner",),
    "neutraliser": ("neutraliser",),
    "liquid": ("degreaser", "conditioner", "neutraliser"),
    "treatment": ("treatment",),
    "backing": ("backing",),
    "adhesive": ("adhesive",),
    "cure": ("adhesive",),
    "coating": ("coating_1", "coating_2", "coating_3"),
    "inner": ("coating_1",),
    "second": ("coating_2",),
    "outer": ("coating_1", "coating_2", "coating_3"),
    "under": ("coating_1", "coating_2"),
    "over": ("coating_2", "coating_3"),
}
ROLES = ("substrate", *SLOT_ROLES, *JOB_ROLES, "chain")
#: The kind of item that may stand in a role.
KIND_OF_ROLE = {
    "substrate": "substrate",
    "degreaser": "degreaser",
    "conditioner": "conditioner",
    "neutraliser": "neutraliser",
    "treatment": "treatment",
    "backing": "backing",
    "adhesive": "adhesive",
    **dict.fromkeys(("abrasive_dry", "abrasive_wet", "abrasive"), "abrasive"),
    **dict.fromkeys(("coating", "inner", "second", "outer", "under", "over"), "coating"),
}
#: The stage at which each slot's item is used, and the slot that is left empty when the stage is not done.
STAGE_OF_SLOT = {
    "degreaser": "degrease",
    "abrasive_dry": "abrade-dry",
    "abrasive_wet": "abrade-wet",
    "conditioner": "condition",
    "neutraliser": "neutralise",
    "treatment": "treat",
    "coating_1": "protect",
}


@dataclass(frozen=True, slots=True, eq=False)
class Rule:
    """A rule as the engine holds it. Two are the same only if they are one: ids are unique."""

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
    omits: str | None = None
    weight: int | None = None
    loosens: str | None = None
    reason: str = ""
    house: bool = False

    def roles(self) -> set[str]:
        """Every role that the conditions read."""
        return {role for condition in (*self.when, *self.needs) for role in condition.roles()}

    def facts(self) -> Iterator[str]:
        """Every fact that the conditions, the wait or the message read."""
        for condition in (*self.when, *self.needs):
            yield from condition.facts()
        if isinstance(self.wait_min, str):
            yield self.wait_min
        yield from (path for path in re.findall(r"\{([a-z_]+\.[a-z0-9_.-]+)\}", self.message))
