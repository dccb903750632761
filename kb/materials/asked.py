"""What typed words may mean beside other things: an item of any kind, a class of one, or what something is exposed to.

Every reading is given; which is meant, what stands beside it decides (kb.engine.check.reading).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from kb.base.errors import BadInput
from kb.base.lexicon import folded
from kb.base.surroundings import not_judged
from kb.base.vocabulary import EXPOSURES, KINDS
from kb.knowledge import Entry, Knowledge
from kb.materials import classes, identify, qualified, resolve, surrounding
from kb.materials.cured import cured_at, with_cure
from kb.materials.diluted import without_strength
from kb.materials.heat import DEGREES, celsius
from kb.materials.misspelt import misspelt, within
from kb.materials.readings import Reading, Words, item

#: Less like than this is nothing that a person would see in the words; from ALIKE on several are taken together.
OFFERED, ALIKE = 75.0, 85.0
#: How like the words of a class what was typed must be to be taken for them, and to be offered.
SLIP, SEEN = 90.0, 80.0
#: What can be done about a word that nothing has: makers' names are not in here, what things are made of is.
_TEACH = "say what it is made of (`tackroom list`), or teach the word once: `tackroom call WORD ITEM`"
_HEAT = "dry-air"
#: What is sold in several strengths.
_OF_SOME_STRENGTH = ("substance", "degreaser", "conditioner", "neutraliser")
_NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?")


def readings(words: str, knowledge: Knowledge, where: str) -> list[Reading]:
    """List all that `words` may mean, each kind once; BadInput, with choices, where that is nothing or too much."""
    words = words.strip()
    if words.startswith("{"):
        return [_described(words, knowledge, where)]
    exact = knowledge.entries.get(words)
    if exact is not None and exact.kind == "substrate":
        # The element of the same name is meant beside another part: silver on titanium.
        return [item(exact), *(r for r in Words(words, knowledge).meanings(where) if r.kind == "substance")]
    if exact is not None and exact.kind != "substance":
        return [item(exact)]
    if words in EXPOSURES:
        return [Reading("exposure", words)]
    if (cured := cured_at(words, where)) is not None:
        named, at_c, long = cured
        return with_cure(readings(named, knowledge, where), named, at_c, long, where)
    if (heated := _heated(words, knowledge, where)) is not None:
        return [heated]
    if (around := surrounding.in_state(words, knowledge)) is not None:
        return [Reading("exposure", around[0], of=around[1])]
    if (finished := resolve.finish_on_metal(words, knowledge, where)) is not None:
        return [item(finished.entry)]
    found = list(Words(words, knowledge).meanings(where)) or _of_strength(words, knowledge, where)
    return _merged(found) if found else _near(words, knowledge, where)


def _of_strength(words: str, knowledge: Knowledge, where: str) -> list[Reading]:
    """Read a liquid or gas beside its strength, of which nothing is judged: "concentrated sulfuric acid".

    What is called so with its strength is that: "70 % IPA" is "IPA 70 %".
    """
    for name, strength in without_strength(words, knowledge.tables["asked"]["strengths"]):
        for said, told in ((f"{name} {strength}", ()), (name, (strength,))):
            meant = [one for one in Words(said, knowledge).meanings(where) if one.kind in _OF_SOME_STRENGTH]
            if meant:
                return [replace(one, not_known=told) for one in meant]
    return []


def _heated(words: str, knowledge: Knowledge, where: str) -> Reading | None:
    """Read an exposure with a number of degrees beside it, or degrees alone: "oil at 120 C", "200 degC"."""
    found = DEGREES.search(words)
    if found is None:
        _with_unit(words, knowledge, where)
        return None
    at_c = celsius(found, words, where)
    rest = f"{words[: found.start()]} {words[found.end() :]}".strip()
    if not rest:
        return Reading("exposure", _HEAT, at_c=at_c)
    try:
        meant = readings(rest, knowledge, where)
    except BadInput:
        return None
    return next((replace(reading, at_c=at_c) for reading in meant if reading.kind == "exposure"), None)


def _with_unit(words: str, knowledge: Knowledge, where: str) -> None:
    """Raise BadInput where an exposure is said to be "at" a number whose unit is missing."""
    rest, at, number = words.rpartition(" at ")
    if at and _NUMBER.fullmatch(number) and DEGREES.search(said := f"{words} C") and _heated(said, knowledge, where):
        raise BadInput(where, f"'{words}' has no unit", f"write '{said}', or F; '{rest}' alone says no heat")


def _merged(found: Sequence[Reading]) -> list[Reading]:
    """Merge to one reading a kind: the item of that id, else the members of all its classes, else the item.

    A name that an item has and a whole class too ("cyanoacrylate") says no more than the class.
    """
    by_kind: dict[str, list[Reading]] = {}
    for reading in found:
        by_kind.setdefault(reading.kind, []).append(reading)
    merged = []
    for same in by_kind.values():
        best = [r for r in same if r.by_id] or [r for r in same if r.is_class] or same
        members = {entry.id: entry for reading in best for entry in reading.members}
        sooner = max(reading.sooner for reading in same)
        merged.append(replace(best[0], members=tuple(members.values()), is_class=len(members) > 1, sooner=sooner))
    return merged


def _described(words: str, knowledge: Knowledge, where: str) -> Reading:
    """Give a part's material that is described in a table: { like = "peek", porous = true }."""
    import tomllib

    try:
        given = tomllib.loads(f"given = {words}")["given"]
    except tomllib.TOMLDecodeError as fault:
        raise BadInput(where, f"'{words}' can't be read: {fault}", 'for instance { like = "peek" }') from None
    return item(resolve.substrate(given, knowledge, where).entry)


def _near(words: str, knowledge: Knowledge, where: str) -> list[Reading]:
    """Tell what the words are most like, where that is clear; else BadInput with what a person would see in them.

    A class in whose words a letter is wrong goes before an item that is only like them. Several of one kind that are as
    like as one another are a class, too; and so is a material or class with strange words beside it, which are told.
    """
    meant = misspelt(words, knowledge, SLIP)
    if meant:
        return readings(meant[0], knowledge, where)
    matches = identify.identify(words, knowledge, KINDS)
    if matches and identify.clear(matches):
        return [item(matches[0].entry)]
    found = qualified.qualified(words, knowledge)
    if found is not None and (found.not_known or not isinstance(found.named, Entry)):
        named = _with_strange(words, found, knowledge, where)
        kinds = {"substrate", *(one.kind for one in named)}
        if all(m.entry.kind in kinds for m in matches if m.score >= OFFERED):
            return named
    best = [m.entry for m in matches if m.score >= ALIKE and matches[0].score - m.score < identify.LEAD]
    if len(best) > 1 and len({entry.kind for entry in best}) == 1:
        return [Reading(best[0].kind, words, tuple(best), is_class=True)]
    if told := not_judged().get(folded(words)) or identify.no_part(words, ()):
        raise BadInput(where, f"'{words}' is judged by no rule", told)
    near = [*misspelt(words, knowledge, SEEN), *(m.entry.id for m in matches if m.score >= OFFERED)]
    said = f"'{words}' is nothing that is known"
    if near:
        raise BadInput(where, said, f"near it: {', '.join(dict.fromkeys(near[:5]))}")
    if held := within(words, knowledge):
        said = f"'{words}' as a whole is nothing that is known"
        raise BadInput(where, said, f"within it {held} is; write that alone if it is meant, or {_TEACH}")
    raise BadInput(where, said, _TEACH)


def _with_strange(words: str, found: qualified.Qualified, knowledge: Knowledge, where: str) -> list[Reading]:
    """Give the material or the class that is named, with the words beside it that nothing is known of.

    What else its name may mean goes with it: "thick epoxy" is as much a glue as a plastic.
    """
    if isinstance(found.named, Entry):
        name = " ".join(word for word in words.split() if folded(word) not in found.not_known)
        own = item(found.named)
    else:
        name = str(found.named["words"][0])
        own = Reading("substrate", name, tuple(classes.members(found.named, knowledge)), is_class=True)
    meant = readings(name, knowledge, where) if name and name != words else []
    if not any(reading.kind == "substrate" for reading in meant):
        meant = [own]
    return [replace(reading, not_known=found.not_known) for reading in meant]
