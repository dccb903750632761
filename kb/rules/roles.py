"""The one table of what stands where in a chain: its slots in order, and the roles that rules call them by.

>>> SLOTS["coating_2"].kind, SLOTS["coating_2"].stage
('coating', 'protect')
>>> ROLES["over"].slots, ROLES["over"].kinds
(('coating_2', 'coating_3'), ('coating',))
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple


class Slot(NamedTuple):
    """One place in a chain: the kind of item that stands there, and the stage at which it is used."""

    kind: str
    stage: str
    #: What it is called in a table, and what begins a sentence about its item.
    label: str
    lead: str
    #: What a rule's `omits` calls it where a rule may leave it empty: its stage, or its own name where another slot
    #: shares the stage. Without one it is always filled, or free as a further coat is.
    omits: str = ""


#: By name, in the order in which a chain is made.
SLOTS: Mapping[str, Slot] = {
    "degreaser": Slot("degreaser", "degrease", "degreaser", "Degrease with", "degrease"),
    "abrasive_dry": Slot("abrasive", "abrade-dry", "abrasive, dry", "Abrade dry with", "abrade-dry"),
    "abrasive_wet": Slot("abrasive", "abrade-wet", "abrasive, wet", "Abrade wet with", "abrade-wet"),
    "conditioner": Slot("conditioner", "condition", "conditioner", "Condition with", "condition"),
    "neutraliser": Slot("neutraliser", "neutralise", "neutraliser", "Neutralise with", "neutralise"),
    "treatment": Slot("treatment", "treat", "treatment", "Treat with", "treat"),
    "backing": Slot("backing", "mount", "gauge backing", "Gauge backing"),
    "adhesive": Slot("adhesive", "mount", "adhesive", "Bond with", "adhesive"),
    "solder": Slot("solder", "connect", "joint", "Join with", "solder"),
    "flux": Slot("flux", "connect", "flux", "Flux with", "flux"),
    "wire": Slot("wire", "connect", "wire", "Wire with"),
    "coating_1": Slot("coating", "protect", "coat 1 (innermost)", "Coat 1", "protect"),
    "coating_2": Slot("coating", "protect", "coat 2", "Coat 2"),
    "coating_3": Slot("coating", "protect", "coat 3", "Coat 3"),
}
#: What a rule's `omits` calls a slot that it leaves empty, and the other way round.
OMITS_OF_SLOT: Mapping[str, str] = {name: slot.omits for name, slot in SLOTS.items() if slot.omits}
SLOT_OF_OMITS: Mapping[str, str] = {word: name for name, word in OMITS_OF_SLOT.items()}
#: The slots that every chain fills.
ALWAYS_FILLED = ("backing", "wire")
#: Every kind that can stand in a chain.
CHAIN_KINDS = tuple(dict.fromkeys(slot.kind for slot in SLOTS.values()))


class Role(NamedTuple):
    """What a rule calls a thing: the slots on which it stands in turn, none for the part and for the job's tables."""

    slots: tuple[str, ...] = ()
    #: What it is called where its item has no name yet; empty for "the" and the role.
    words: str = ""
    #: The kind of item that stands there and in no slot: the part, and what is only named beside a chain.
    own: str = ""

    @property
    def kinds(self) -> tuple[str, ...]:
        """The kinds of item that may stand in it."""
        return (self.own,) if self.own else tuple(dict.fromkeys(SLOTS[slot].kind for slot in self.slots))


_COATS = ("coating_1", "coating_2", "coating_3")
#: The finished chain as a whole: what a rule about it forbids is a chain; the search itself keeps the time limit.
CHAIN_ROLE = "chain"
#: The job's own tables; `bench` is the room, `choose` what was chosen and is kept.
JOB_ROLES = ("part", "service", "gauge", "batch", "bench", "limits", "choose")
#: What stands in no chain and may be named beside one: rules about it speak in `check` alone.
BESIDE_ROLES = ("aid", "substance")
#: Of what is named beside a chain, whether it only surrounds what has cured, and came after it: said by no item.
AROUND = "around"
#: What rules speak of. `inner` and `outer` are the first and the last coat, `under` and `over` two coats that touch,
#: `liquid` each of the three that are wiped on.
ROLES: Mapping[str, Role] = {
    "substrate": Role(words="the part", own="substrate"),
    "degreaser": Role(("degreaser",)),
    "abrasive_dry": Role(("abrasive_dry",), "the dry abrasive"),
    "abrasive_wet": Role(("abrasive_wet",), "the wet abrasive"),
    "abrasive": Role(("abrasive_dry", "abrasive_wet")),
    "conditioner": Role(("conditioner",)),
    "neutraliser": Role(("neutraliser",)),
    "liquid": Role(("degreaser", "conditioner", "neutraliser")),
    "treatment": Role(("treatment",)),
    "backing": Role(("backing",)),
    "adhesive": Role(("adhesive",)),
    "cure": Role(("adhesive",)),
    "solder": Role(("solder",), "the joint"),
    "flux": Role(("flux",)),
    "wire": Role(("wire",)),
    "coating": Role(_COATS, "the coat"),
    "inner": Role(_COATS[:1], "the first coat"),
    "second": Role(_COATS[1:2], "the second coat"),
    "third": Role(_COATS[2:], "the third coat"),
    "outer": Role(_COATS, "the last coat"),
    "under": Role(_COATS[:2], "the coat below"),
    "over": Role(_COATS[1:], "the coat above"),
    **{table: Role(words={"gauge": "the gauge", "limits": "the job's limits"}.get(table, "")) for table in JOB_ROLES},
    CHAIN_ROLE: Role(),
    **{role: Role(own=role) for role in BESIDE_ROLES},
}
#: The roles that are a slot's own name: what stands once in a chain. Coats are bound one by one.
OWN_ROLES = tuple(slot for slot in SLOTS if slot in ROLES)
#: The slots of each role that stands on any.
SLOT_ROLES: Mapping[str, tuple[str, ...]] = {name: role.slots for name, role in ROLES.items() if role.slots}


def kinds_of(role: str) -> tuple[str, ...]:
    """List the kinds of item that may stand in a role; empty for the job's tables.

    >>> kinds_of("liquid"), kinds_of("substrate"), kinds_of("service")
    (('degreaser', 'conditioner', 'neutraliser'), ('substrate',), ())
    """
    return ROLES[role].kinds if role in ROLES else ()


def role_words(role: str) -> str:
    """Name a role among other words.

    >>> role_words("over"), role_words("backing")
    ('the coat above', 'the backing')
    """
    return ROLES[role].words if role in ROLES and ROLES[role].words else f"the {role}"
