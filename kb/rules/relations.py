"""What stands beside what: the pairs of roles of which a rule can say that they suit each other.

>>> relation("coating", "service").words, relation("adhesive", "conditioner") is None
('in', True)
>>> relation("substrate", "degreaser") is relation("degreaser", "substrate")
True
"""

from __future__ import annotations

from typing import NamedTuple

from kb.rules.roles import kinds_of


class Relation(NamedTuple):
    """Two roles that meet, in the order in which they are said: a degreaser on the part."""

    first: str
    second: str
    words: str
    #: Whether the two touch in a finished chain or while it is made; else one is only used some time before the other.
    touches: bool = True
    #: Whether a chain holds the two so; else they meet at the bench alone, and rules about them speak in `check` alone.
    chained: bool = True

    @property
    def key(self) -> frozenset[str]:
        """The two roles, in whichever order they are named."""
        return frozenset((self.first, self.second))


#: Every pair of neighbours in a chain, what is used before what is bonded, and each layer in its surroundings.
RELATIONS = (
    *(Relation(role, "substrate", "on") for role in ("degreaser", "abrasive", "conditioner", "neutraliser")),
    Relation("treatment", "substrate", "on"),
    Relation("adhesive", "treatment", "on"),
    Relation("adhesive", "substrate", "on"),
    Relation("backing", "adhesive", "on"),
    Relation("inner", "adhesive", "over"),
    Relation("inner", "backing", "over"),
    Relation("coating", "substrate", "on"),
    Relation("over", "under", "over"),
    Relation("coating", "wire", "round"),
    Relation("flux", "wire", "on"),
    Relation("flux", "substrate", "on", touches=False),
    Relation("flux", "solder", "with"),
    Relation("solder", "wire", "on"),
    Relation("solder", "backing", "on the tabs of"),
    *(Relation(role, "flux", "after", touches=False, chained=False) for role in ("degreaser", "liquid")),
    Relation("inner", "flux", "over", touches=False, chained=False),
    *(Relation(role, "service", "in") for role in ("substrate", "backing", "adhesive", "wire", "coating")),
    Relation("degreaser", "service", "in", touches=False, chained=False),
    Relation("backing", "substrate", "over", touches=False),
    Relation("degreaser", "adhesive", "before", touches=False),
    Relation("degreaser", "conditioner", "before", touches=False),
    Relation("degreaser", "treatment", "before", touches=False),
    Relation("abrasive", "adhesive", "before", touches=False),
    Relation("neutraliser", "conditioner", "after", touches=False),
    Relation("neutraliser", "adhesive", "before", touches=False),
    *(Relation("aid", role, "with", touches=False) for role in ("liquid", "adhesive", "coating", "substrate")),
    Relation("substance", "substrate", "on", touches=False),
    *(
        Relation("substance", role, "around", touches=False, chained=False)
        for role in ("coating", "wire", "adhesive", "backing")
    ),
)
#: What the surroundings are called among kinds of things.
EXPOSURE = "exposure"
_BY_ROLES = {relation.key: relation for relation in RELATIONS}


def kinds_in(role: str) -> tuple[str, ...]:
    """List the kinds of thing that stand in a role of a relation.

    >>> kinds_in("service"), kinds_in("inner")
    (('exposure',), ('coating',))
    """
    return (EXPOSURE,) if role == "service" else kinds_of(role)


#: Pairs of kinds that meet, and whether they touch; of several ways the closest counts. A word that is an exposure too
#: is none beside what is only at the bench: water beside sodium. A liquid's name is sooner that of what is wiped over a
#: coat than that of the chemical.
KINDS_MET = {
    frozenset((one, other)): how.touches
    for how in sorted(RELATIONS, key=lambda how: how.touches)
    if how.chained or (how.second != "service" and how.first != "substance")
    for one in kinds_in(how.first)
    for other in kinds_in(how.second)
}
#: Pairs of kinds that meet, and in no chain: in either order, whichever slot comes first.
KINDS_BESIDE = {
    frozenset((one, other))
    for how in RELATIONS
    if not how.chained
    for one in kinds_in(how.first)
    for other in kinds_in(how.second)
}


def meet(one: str, other: str) -> bool:
    """Tell whether things of two kinds ever meet.

    >>> meet("neutraliser", "conditioner"), meet("treatment", "coating")
    (True, False)
    """
    return frozenset((one, other)) in KINDS_MET


def relation(one: str, other: str) -> Relation | None:
    """Tell how two roles meet; None for two that never do."""
    return _BY_ROLES.get(frozenset((one, other)))
