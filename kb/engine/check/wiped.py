"""A liquid wiped over a finished coat, to clean it or to get through it: the coat stands it as it stands such splashes.

Beside anything else a liquid is what its stage of a chain makes of it: it is on the part before any coat is.
"""

from __future__ import annotations

from collections.abc import Sequence

from kb.engine.check.things import Thing
from kb.knowledge import Knowledge
from kb.knowledge.packing import unpack
from kb.rules.clauses import all_of
from kb.rules.relations import EXPOSURE

#: The kinds of liquid that are wiped over things.
LIQUIDS = ("degreaser", "conditioner", "neutraliser")


def wiped(kinds: Sequence[str], ordered: bool) -> list[int]:
    """Find the places of the liquids that can only be wiped over a coat: put on after one, or beside nothing but coats.

    >>> wiped(("degreaser", "coating"), ordered=False), wiped(("substrate", "coating", "degreaser"), ordered=True)
    ([0], [2])
    >>> wiped(("degreaser", "substrate", "coating"), ordered=False), wiped(("degreaser", "coating"), ordered=True)
    ([], [])
    """
    liquids = [place for place, kind in enumerate(kinds) if kind in LIQUIDS]
    if ordered:
        return [place for place in liquids if place and kinds[place - 1] == "coating"]
    others = {kind for kind in kinds if kind not in LIQUIDS}
    return liquids if "coating" in others <= {"coating", EXPOSURE} else []


def exposed_to(liquid: Thing, knowledge: Knowledge) -> Thing | None:
    """Say what a coat is exposed to over which the liquid is wiped; None where nothing says it."""
    entry = liquid.entry
    for kind, when, exposure, of, of_fact in knowledge.tables["asked"]["wiped"]:
        if entry is None or entry.kind != kind:
            continue
        if all_of(unpack(condition).truth({kind: entry.facts}) for condition in when) is True:
            named = entry.facts.get(of_fact, ()) if of_fact else of
            return Thing(exposure, of=tuple(named))
    return None
