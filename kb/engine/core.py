"""Which few rules leave a job no chain, whatever all others say: an unsatisfiable core, as constraint solvers call it.

It is traced back from a slot that holds nothing any more. Most of the jobs that are tried to find what would help fail
for the same few rules, and to ask those alone (`Engine.barred`) is a tenth of the work.
"""

from __future__ import annotations

from collections.abc import Mapping

from kb.engine.grounding import Sets
from kb.engine.screened import Screened
from kb.engine.search.masks import union
from kb.engine.slots import COATS, INDEX, NAMES
from kb.rules.roles import ALWAYS_FILLED, SLOT_OF_OMITS


def core(screened: Screened, wanted: Sets) -> frozenset[str]:
    """Name the fewest rules that leave some slot nothing, or none of the options `wanted`; none where it is not so."""
    emptied = [{slot: -1} for slot, remaining in enumerate(screened.remaining) if not remaining]
    if wanted and not any(screened.remaining[slot] & options for slot, options in wanted.items()):
        emptied.append(wanted)
    cores = [_closing(screened, options) for options in emptied]
    return min(cores, key=lambda rules: (len(rules), sorted(rules)), default=frozenset())


def _closing(screened: Screened, wanted: Sets) -> frozenset[str]:
    """Name the rules that close these options, and those that leave other slots so little that they can."""
    grounded = {each.rule.id: each for each in screened.grounded}
    stages = _stages(screened)
    found: set[str] = set()
    left, seen = dict(wanted), set[int]()
    while left:
        slot, options = left.popitem()
        seen.add(slot)
        closing = [(rule.id, mask) for rule, mask in screened.closed_by[slot] if mask & options]
        rules = {rule for rule, _ in closing}
        # A rule over several slots closes one of them alone where the others hold nothing else any more.
        behind = {other for rule in rules for constraint in grounded[rule].constraints for other in constraint.sets}
        domain = screened.domains[slot]
        begun_with = domain.filled if NAMES[slot] in ALWAYS_FILLED else domain.all
        if begun_with & options & ~screened.remaining[slot] & ~union(mask for _, mask in closing):
            # No rule closed these: the order of coats did, or a stage that may not be left out.
            behind |= {*COATS} if slot in COATS else set()
            for stage, reach in stages.items():
                if slot in reach:
                    behind |= reach
                    rules |= {rule.id for rule in screened.knowledge.rules if rule.omits == stage}
        found |= rules
        left.update((other, -1) for other in behind - seen)
    return frozenset(found)


def _stages(screened: Screened) -> Mapping[str, set[int]]:
    """Give each stage's slot, and the slots on which it hangs whether it may be left out."""
    stages = {stage: {INDEX[slot]} for stage, slot in SLOT_OF_OMITS.items()}
    for rule, conjunctions, _ in screened.grounded:
        if rule.omits:
            stages[rule.omits].update(slot for where in conjunctions for slot in where.possible)
    return stages
