"""The procedure's steps as what takes time, so that the search counts a chain's minutes as the bench will.

A step is grounded as a rule is: where its conditions hold, or can't be told, its hands-on minutes and its wait are
added to the chain.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from kb.base.vocabulary import PROOF_STAGE
from kb.knowledge.packing import unpack
from kb.rules.rule import Rule

if TYPE_CHECKING:
    from kb.knowledge.tables import StepRow

#: Stands where a rule has its verdict: a step says nothing, it takes time.
TIMED = "timed"


def timed_steps(steps: Iterable[StepRow]) -> Iterator[Rule]:
    """Turn each step that takes time before a gauge may be measured into a rule that adds it."""
    for number, step in enumerate(steps, start=1):
        wait = step["wait_min"] if step["wait_s"] is None else step["wait_s"] / 60
        if step["stage"] == PROOF_STAGE or not (wait or step["hands_min"]):
            continue
        roles = (step["item"], wait.partition(".")[0] if isinstance(wait, str) else None)
        yield Rule(
            id=f"step {number}",
            title=step["do"],
            verdict=TIMED,
            about=tuple(dict.fromkeys(role for role in roles if role)),
            message="",
            because="",
            instead="",
            basis="common-practice",
            sources=(),
            when=tuple(unpack(condition) for condition in step["when"]),
            wait_min=wait,
            step_stage=step["stage"],
            step_min=step["hands_min"],
        )
