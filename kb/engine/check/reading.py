"""What was typed, read by what stands beside it: "epoxy" beside aluminium is a glue, beside acetone a plastic."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations, pairwise, product
from typing import NamedTuple

from kb.base.errors import BadInput
from kb.engine.check.things import SEVERAL, Thing
from kb.engine.check.wiped import exposed_to, wiped
from kb.knowledge import Knowledge
from kb.materials.asked import readings
from kb.materials.readings import Reading
from kb.rules.relations import EXPOSURE, KINDS_BESIDE, KINDS_MET, meet
from kb.rules.roles import BESIDE_ROLES

#: Words between things that say in which order they come: where the thing that follows is put. Others only part them.
ORDER = {"on": -1, "over": -1, "after": -1, "under": 1, "then": 1, "before": 1}
#: Words of these that lay one thing on another: what something is exposed to is laid on nothing.
LAID = ("on", "over", "under")
#: The word before what surrounds all the rest.
AROUND = "in"
PARTING = (AROUND, "with", "and", "+", "beside")
#: Of two kinds that go as well with what stands beside, which is meant sooner.
SOONER = (
    "adhesive", "degreaser", "conditioner", "neutraliser", "abrasive", "treatment", "substrate", "coating", "backing",
    "wire", "solder", "flux", "exposure", "aid", "substance",
)  # fmt: skip
#: When each kind comes on in a chain. Those of one number come in either order: glue goes on the part, or the gauge.
WHEN = {
    "substrate": 0, "degreaser": 1, "abrasive": 1, "conditioner": 1, "neutraliser": 2,
    "treatment": 3, "adhesive": 3, "backing": 3, "wire": 4, "solder": 4, "flux": 4, "coating": 5,
}  # fmt: skip
#: What it counts that two kinds touch in a chain, and that one is only used before the other.
_TOUCH, _BEFORE = 2, 1


class Asked(NamedTuple):
    """One thing as it was typed and read: `name` is an id or a class, whose members are `things`."""

    typed: str
    kind: str
    name: str
    things: tuple[Thing, ...]
    is_class: bool = False
    #: Other kinds that the words name, too.
    others: tuple[str, ...] = ()
    #: What was typed beside the name and is not known here.
    not_known: tuple[str, ...] = ()
    #: The liquid or gas that meets what is finished, where what it does there is what is asked.
    wiped: str = ""


class Question(NamedTuple):
    """What is asked: the things, and whether they were put in an order."""

    asked: tuple[Asked, ...]
    ordered: bool = False


def question(words: Sequence[str], knowledge: Knowledge, where: str) -> Question:
    """Tell what `words` ask about, with words of order between them; BadInput where one of them isn't clear.

    The things stand in the order in which they are put on: "A over B" is B, then A.
    """
    typed, ordered = _in_order(words, where)
    found = [readings(one, knowledge, where) for one in typed]
    if not {word.lower() for word in words[1:]}.isdisjoint(LAID):
        found = [_laid(one, may_be, where) for one, may_be in zip(typed, found, strict=True)]
    chosen = min(product(*found), key=lambda combo: (ordered and _against(combo) is not None, _unlikely(combo)))
    against = _against(chosen) if ordered else None
    if against is not None:
        first, then = (typed[place] for place in against)
        said = f"no chain puts '{then}' ({chosen[against[1]].kind}) on after '{first}' ({chosen[against[0]].kind})"
        raise BadInput(where, said, "name them in the order of work, or without a word of order")
    asked = [
        Asked(
            one,
            reading.kind,
            reading.name,
            tuple(Thing(entry.id, entry, cured_c=reading.cured_c) for entry in reading.members)
            or (Thing(reading.name, of=reading.of, at_c=reading.at_c),),
            reading.is_class,
            tuple(other.kind for other in may_be if other is not reading),
            reading.not_known,
        )
        for one, reading, may_be in zip(typed, chosen, found, strict=True)
    ]
    around = {word for before, word in pairwise(words) if before.lower() == AROUND}
    places = [place for place, one in enumerate(asked) if one.typed in around]
    over = wiped([one.kind for one in asked], ordered, places)
    return Question(
        tuple(
            _as_wiped(one, knowledge, one.typed in around) if place in over else one for place, one in enumerate(asked)
        ),
        ordered,
    )


def _as_wiped(asked: Asked, knowledge: Knowledge, around: bool) -> Asked:
    """Read a liquid or gas as what the finished layers are exposed to; as it is where that isn't known of all of it.

    What they are said to stand in came after the bond.
    """
    found = [exposed_to(one, knowledge) for one in asked.things]
    things = tuple(dict.fromkeys(thing for thing in found if thing is not None))
    if not things or None in found:
        return asked._replace(things=tuple(replace(thing, around=around) for thing in asked.things))
    several = len(things) > 1
    name = asked.name if several else things[0].id
    return asked._replace(kind=EXPOSURE, name=name, things=things, is_class=several, others=(), wiped=asked.name)


def _against(combo: Sequence[Reading]) -> tuple[int, int] | None:
    """Find two things of which the later one comes earlier in every chain: no verdict holds for them so.

    A part may be named last all the same, but not on a coat.
    """
    placed = [(place, reading.kind) for place, reading in enumerate(combo) if reading.kind in WHEN]
    return next(
        (
            (a, b)
            for (a, first), (b, then) in pairwise(placed)
            if WHEN[first] > WHEN[then] and (WHEN[then] or first == "coating")
            if frozenset((first, then)) not in KINDS_BESIDE and not wiped((first, then), ordered=True)
        ),
        None,
    )


def _laid(typed: str, may_be: Sequence[Reading], where: str) -> list[Reading]:
    """Give the readings of what lies on another thing or under it; BadInput where it is only an exposure."""
    found = [reading for reading in may_be if reading.kind != EXPOSURE]
    if not found:
        mend = f"wipe it off before anything is laid there; to ask what stands it, write `in '{typed}'`"
        raise BadInput(where, f"nothing holds on or under '{typed}' ({may_be[0].name})", mend)
    return found


def _in_order(words: Sequence[str], where: str) -> tuple[list[str], bool]:
    """Give the things without the words between them, first put on first, and whether an order was said."""
    found: list[str] = []
    place, step, ordered = 0, 1, False
    for word in words:
        if word.lower() in ORDER and found:
            step, ordered = ORDER[word.lower()], True
        elif word.lower() in PARTING and found:
            step = 1
        else:
            place = place if not found or step < 0 else place + 1
            found.insert(place, word)
            step = 1
    if len(found) < 2:
        raise BadInput(where, "one thing alone has nothing to be checked with", "name two or more")
    return found, ordered


def _unlikely(combo: Sequence[Reading]) -> tuple[int, int, int, int]:
    """Tell what speaks against readings together: that they don't meet, that others are meant sooner."""
    kinds = [reading.kind for reading in combo]
    idle = sum(kind == EXPOSURE and not any(meet(kind, other) for other in kinds) for kind in kinds)
    return -_sense(combo), idle, -sum(r.sooner for r in combo), sum(map(SOONER.index, kinds))


def _sense(combo: Sequence[Reading]) -> int:
    """Tell how well the kinds go beside one another: by how many of them meet, and how closely."""
    met = sum(map(_closeness, combinations((reading.kind for reading in combo), 2)))
    single = [reading.kind for reading in combo if reading.kind not in (*SEVERAL, *BESIDE_ROLES)]
    return met - _TOUCH * (len(single) - len(set(single)))


def _closeness(kinds: tuple[str, str]) -> int:
    touch = KINDS_MET.get(frozenset(kinds))
    return 0 if touch is None else _TOUCH if touch else _BEFORE
