"""Which of the things that are named meet, and of which of these it is positively known that they suit each other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations
from typing import NamedTuple

from kb.engine.check.hearing import PART, Heard, Hearing, Party
from kb.engine.check.layout import Layout
from kb.engine.check.things import Situation
from kb.engine.slots import COATS, NAMES
from kb.rules.findings import Finding
from kb.rules.relations import EXPOSURE, Relation, relation
from kb.rules.roles import BESIDE_ROLES, SLOTS, kinds_of

#: What the rules beside an aid or a flux call what it meets, where none speaks of that kind alone.
_WIDER = {**dict.fromkeys(kinds_of("liquid"), "liquid"), "coating": "inner"}


class Pair(NamedTuple):
    """Two parties that meet, and how; an exposure is one by its own name."""

    first: Party
    second: Party
    relation: Relation


def pairs_of(situation: Situation, layout: Layout) -> list[Pair]:
    """List the pairs of which something ought to be known.

    These are what touches, and for what touches nothing, what comes before it.

    A treatment lies between the part and the glue; a coat keeps the surroundings off the gauge.
    """
    met = list(_meetings(situation, layout))
    touching = [pair for pair in met if pair.relation.touches]
    placed = {party for pair in touching for party in pair[:2]}
    return touching + [pair for pair in met if not pair.relation.touches and not {*pair[:2]} <= placed]


def _meetings(situation: Situation, layout: Layout) -> Iterator[Pair]:
    parties: list[Party] = [PART] if situation.part else []
    parties += sorted(layout.things)
    parties += [kind for kind in BESIDE_ROLES if situation.of_kind(kind)]
    for one, other in combinations([*parties, *situation.exposures], 2):
        for role, against in _as_roles(one, other, situation, layout):
            how = relation(role, against)
            if how is not None:
                yield Pair(one, other, how) if role == how.first else Pair(other, one, how)
                break


def _as_roles(one: Party, other: Party, situation: Situation, layout: Layout) -> Iterator[tuple[str, str]]:
    """Give the roles in which two parties may meet, in their order.

    A party that is no slot and no role is an exposure.
    """
    coats = [slot for slot in layout.things if slot in COATS]
    if one in coats and other in coats:
        if coats.index(other) - coats.index(one) == 1:
            yield "under", "over"
        return
    roles = [_role(party, situation) for party in (one, other)]
    on_gauge = not {"backing", "adhesive"}.isdisjoint(roles)
    if "service" in roles and coats and ("coating" in roles or on_gauge):
        # Only the outermost meets what the gauge is exposed to; what lies under a coat doesn't.
        if coats[-1] in (one, other):
            yield roles[0], roles[1]
    elif "coating" in roles and on_gauge:
        if coats[0] == COATS[0] and coats[0] in (one, other):
            first, second = ("inner" if role == "coating" else role for role in roles)
            yield first, second
    else:
        yield roles[0], roles[1]
        if not {"aid", "flux"}.isdisjoint(roles):
            first, second = (_WIDER.get(role, role) for role in roles)
            yield first, second


def _role(party: Party, situation: Situation) -> str:
    """Give the role of which a relation speaks where this party stands."""
    if isinstance(party, int):
        return SLOTS[NAMES[party]].kind
    return "service" if party in situation.exposures else party


class Approvals:
    """What is positively known of the things of a situation; each exposure is asked about by itself."""

    def __init__(self, hearings: Mapping[str, Hearing]) -> None:
        #: By exposure; under "" what is said without any.
        self._hearings = hearings

    def of(self, pair: Pair, layout: Layout) -> list[Finding]:
        """Tell what says that the two suit each other."""
        exposure = next((str(party) for party in pair[:2] if party in self._hearings), "")
        wanted = {EXPOSURE if party == exposure else party for party in pair[:2]}
        heard = self._hearings[exposure].says(layout)
        return [h.finding for h in heard if h.finding.known and _said_of(h, pair.relation) and h.parties >= wanted]


def _said_of(heard: Heard, how: Relation) -> bool:
    return heard.finding.rule.verdict == "suits" and frozenset(heard.finding.rule.about) == how.key


def bridged(pair: Pair, known: Iterable[Pair]) -> bool:
    """Tell whether a treatment that suits both lies between the part and the glue."""
    if pair.relation.key != {"adhesive", "substrate"}:
        return False
    met = {how.relation.key for how in known}
    return {frozenset(("adhesive", "treatment")), frozenset(("treatment", "substrate"))} <= met
