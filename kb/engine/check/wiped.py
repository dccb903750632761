"""A liquid or gas that meets what is finished, wiped over it or around it: to that it is a surrounding like others.

Beside anything else a liquid is what its stage of a chain makes of it: it is on the part before any coat is. A chemical
beside other chemicals is mixed with them.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from kb.engine.check.things import Thing
from kb.knowledge import Knowledge
from kb.materials.surrounding import surrounding
from kb.rules.relations import EXPOSURE

#: The kinds of liquid that are wiped over things.
LIQUIDS = ("degreaser", "conditioner", "neutraliser")
#: What a liquid is wiped over, and what a chemical meets: layers and leads as they are once all has cured.
OVER, FINISHED = ("coating", "wire"), ("coating", "wire", "adhesive")
#: What stands in a liquid that is said to be around it, and isn't wiped with it before it is used.
STANDS_IN = (*FINISHED, "backing")
CHEMICAL = "substance"


def wiped(kinds: Sequence[str], ordered: bool, around: Collection[int] = ()) -> list[int]:
    """Find the places of what can only meet finished layers: a liquid over a coat or a lead, a chemical around any.

    So does a liquid whose place is `around`: it is said to surround the rest.

    >>> wiped(("degreaser", "coating"), ordered=False), wiped(("substrate", "coating", "degreaser"), ordered=True)
    ([0], [2])
    >>> wiped(("degreaser", "substrate", "coating"), ordered=False), wiped(("degreaser", "coating"), ordered=True)
    ([], [])
    >>> wiped(("adhesive", "degreaser"), ordered=False), wiped(("adhesive", "degreaser"), ordered=False, around=[1])
    ([], [1])
    >>> wiped(("substance", "adhesive"), ordered=False), wiped(("substance", "substance", "coating"), ordered=False)
    ([0], [])
    """
    if CHEMICAL in kinds:
        others = {kind for kind in kinds if kind != CHEMICAL} - {EXPOSURE}
        return [kinds.index(CHEMICAL)] if others and others <= {*FINISHED} and kinds.count(CHEMICAL) == 1 else []
    liquids = [place for place, kind in enumerate(kinds) if kind in LIQUIDS]
    if not {*STANDS_IN}.isdisjoint(kinds) and (standing := [place for place in liquids if place in around]):
        return standing
    if ordered:
        return [place for place in liquids if place and kinds[place - 1] in OVER]
    others = {kind for kind in kinds if kind not in LIQUIDS} - {EXPOSURE}
    return liquids if others and others <= {*OVER} else []


def exposed_to(liquid: Thing, knowledge: Knowledge) -> Thing | None:
    """Say what a finished layer is exposed to that the liquid or gas meets; None where nothing says it."""
    if liquid.entry is None or (found := surrounding(liquid.entry, knowledge)) is None:
        return None
    exposure, of = found
    return Thing(exposure, of=of, undiluted=liquid.entry.name if liquid.kind == CHEMICAL else "")
