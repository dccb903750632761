"""What typed words may mean beside other things: an item of any kind, a class of one, or what something is exposed to.

Every reading is given; which is meant, what stands beside it decides (kb.engine.check.reading).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from kb.base.errors import BadInput
from kb.base.lexicon import folded, run_of, squeezed
from kb.base.surroundings import not_judged
from kb.base.units import to_unit
from kb.base.vocabulary import EXPOSURES, KINDS
from kb.knowledge import Entry, Knowledge
from kb.knowledge.packing import unpack
from kb.materials import classes, graded, identify, qualified, resolve, surrounding
from kb.materials.misspelt import misspelt, within
from kb.rules.clauses import all_of

#: Less like than this is nothing that a person would see in the words; from ALIKE on several are taken together.
OFFERED, ALIKE = 75.0, 85.0
#: How like the words of a class what was typed must be to be taken for them, and to be offered.
SLIP, SEEN = 90.0, 80.0
#: What can be done about a word that nothing has: makers' names are not in here, what things are made of is.
_TEACH = "say what it is made of (`tackroom list`), or teach the word once: `tackroom call WORD ITEM`"
#: Degrees as they are typed beside what is so hot, and what is meant where they stand alone.
_DEGREES = re.compile(
    r"(?:\b(?:at|of|up to)\s+)?(?<![\w.])(?P<number>(?:[-+\u2212\u2013]|minus\s+)?\d+(?:\.\d+)?)\s*"
    r"(?:°|deg(?:rees?)?\.?)?\s*(?P<unit>[cf]|celsius|fahrenheit)\b",
    re.IGNORECASE,
)
_HEAT = "dry-air"
_NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?")
#: What is said of a class in asked.toml as a number: of things that go as well, the greater is meant.
_SOONER = {"sooner": 1, "": 0, "later": -1}


@dataclass(frozen=True)
class Reading:
    """One thing that words may mean: its kind, what it is called, and its members; an exposure has none."""

    kind: str
    name: str
    members: tuple[Entry, ...] = ()
    #: Whether the words name a class, and which of its members it is isn't said.
    is_class: bool = False
    #: Whether it is meant sooner than a thing of another kind that is called so, too; -1 where it is meant later.
    sooner: int = 0
    #: Whether it is called so by its very id, and not by one of several names.
    by_id: bool = False
    #: What was typed beside the name and is not known here.
    not_known: tuple[str, ...] = ()
    #: Of an exposure the kinds that are meant; empty where no kind is named.
    of: tuple[str, ...] = ()
    #: Of an exposure how hot or cold it is [degC]; None where nobody said.
    at_c: float | None = None


def readings(words: str, knowledge: Knowledge, where: str) -> list[Reading]:
    """List all that `words` may mean, each kind once; BadInput, with choices, where that is nothing or too much."""
    words = words.strip()
    if words.startswith("{"):
        return [_described(words, knowledge, where)]
    exact = knowledge.entries.get(words)
    if exact is not None and exact.kind == "substrate":
        # The element of the same name is meant beside another part: silver on titanium.
        return [_item(exact), *(r for r in _Words(words, knowledge).meanings(where) if r.kind == "substance")]
    if exact is not None and exact.kind != "substance":
        return [_item(exact)]
    if words in EXPOSURES:
        return [Reading("exposure", words)]
    if (heated := _heated(words, knowledge, where)) is not None:
        return [heated]
    if (around := surrounding.in_state(words, knowledge)) is not None:
        return [Reading("exposure", around[0], of=around[1])]
    if (finished := resolve.finish_on_metal(words, knowledge, where)) is not None:
        return [_item(finished.entry)]
    found = list(_Words(words, knowledge).meanings(where)) or _of_strength(words, knowledge, where)
    return _merged(found) if found else _near(words, knowledge, where)


def _of_strength(words: str, knowledge: Knowledge, where: str) -> list[Reading]:
    """Read a chemical behind a word of its strength, of which nothing is judged: "concentrated sulfuric acid"."""
    strength, _, rest = words.partition(" ")
    if strength.lower() not in knowledge.tables["asked"]["strengths"]:
        return []
    meant = _Words(rest, knowledge).meanings(where)
    return [replace(one, not_known=(strength,)) for one in meant if one.kind == "substance"]


class _Words:
    """What was typed, and what it may be held against."""

    def __init__(self, words: str, knowledge: Knowledge) -> None:
        self.words, self.knowledge = words, knowledge
        self.lexicon = knowledge.lexicon
        self.atoms = self.lexicon.atoms(words)
        self.asked: Mapping[str, Any] = knowledge.tables["asked"]

    def meanings(self, where: str) -> Iterator[Reading]:
        """Tell what is called just so; else what is, without a word at an end that only says which kind is meant."""
        if (of_grade := self._graded(where)) is not None:
            yield of_grade
            return
        run = squeezed(self.atoms)
        named = [self.knowledge.entries[i] for i in self.knowledge.tables["lookup"]["runs"].get(run, ())]
        of_size = identify.sized(named, self.words, run)
        if len(of_size) < len(named):
            yield from map(_item, of_size)
            return
        found = list(self._called(self.atoms, where))
        found += self._of_noun(found, where, last=True)
        # As in French: "colle époxy".
        yield from found or self._of_noun((), where, last=False)

    def _graded(self, where: str) -> Reading | None:
        """Tell which abrasives are meant where a grade stands beside them; None where that isn't so."""
        if squeezed(self.atoms) in self.knowledge.tables["lookup"]["runs"]:
            return None
        members = graded.meant(self.words, self.asked, self._abrasives, where)
        if members[1:]:
            return Reading(graded.KIND, self.words, members, is_class=True)
        return next(map(_item, members), None)

    def _abrasives(self, words: str, where: str) -> Iterator[tuple[Entry, ...]]:
        """Give the abrasives that are called so."""
        return (one.members for one in self._called(self.lexicon.atoms(words), where) if one.kind == graded.KIND)

    def _of_noun(self, known: Sequence[Reading], where: str, last: bool) -> Iterator[Reading]:
        """Tell what stands beside a noun that is the last word, or the first, of kinds that aren't `known`."""
        kinds = {reading.kind for reading in known}
        for kind, nouns in self.asked["nouns"].items():
            for noun in nouns:
                at = len(self.atoms) - len(noun) if last else 0
                rest = self.atoms[:at] if last else self.atoms[len(noun) :]
                if rest and self.atoms[at : at + len(noun)] == noun and kind not in kinds:
                    alike = (rest, *((*rest, *other) for other in nouns if other != noun))
                    meant = (reading for said in alike for reading in self._called(said, where))
                    found = next((reading for reading in meant if reading.kind == kind), None)
                    if found is not None:
                        kinds.add(kind)
                        yield found

    def _called(self, atoms: Sequence[str], where: str) -> Iterator[Reading]:
        """Give items of just this name, and classes, families and exposures of just these words; plural as singular."""
        if not atoms:
            return
        # What a job takes for these words: "wood" without what nobody calls so, and not all of the family of that name.
        known_class = classes.class_meant(self.words, self.knowledge) if tuple(atoms) == self.atoms else None
        for said in dict.fromkeys((tuple(atoms), classes.singular(atoms))):
            named = [self.knowledge.entries[i] for i in self.knowledge.tables["lookup"]["runs"].get(squeezed(said), ())]
            meant = self.asked["runs"].get(run_of(said), ())
            if not named and meant and all(sort == "open" for sort, _ in meant):
                self._ask_back(meant[0][1], where)
            yield from self._items(named, said)
            for sort, which in meant:
                if known_class is None or sort != "family" or which[0] != "substrate":
                    yield from self._meaning(sort, which)
            if named or meant:
                break
        if known_class is not None:
            name = str(known_class["words"][0])
            yield Reading("substrate", name, tuple(classes.members(known_class, self.knowledge)), is_class=True)

    def _items(self, named: Sequence[Entry], said: Sequence[str]) -> Iterator[Reading]:
        """Give the items that are called so, by kind."""
        for kind in dict.fromkeys(entry.kind for entry in named):
            entries = tuple(entry for entry in named if entry.kind == kind)
            by_id = [entry for entry in entries if squeezed(self.lexicon.atoms(entry.id)) == squeezed(said)]
            if by_id or len(entries) == 1:
                yield replace(_item((by_id or entries)[0]), by_id=bool(by_id))
            else:
                yield Reading(kind, self.words, entries, is_class=True)

    def _meaning(self, sort: str, which: Any) -> Iterator[Reading]:
        if sort == "exposure":
            name, of, at_c = which
            yield Reading("exposure", name, of=of, at_c=at_c)
        elif sort == "class":
            name, kind, families, when, items, meant = self.asked["classes"][which]
            conditions = [unpack(condition) for condition in when]
            members = tuple(
                entry
                for entry in self.knowledge.by_kind.get(kind, ())
                if (not families or entry.family in families)
                and (not items or entry.id in items or entry.facts.get("like") in items)
                and all_of(condition.truth({kind: entry.facts}) for condition in conditions) is True
            )
            if members:
                found = Reading(kind, name, members, is_class=True) if len(members) > 1 else _item(members[0])
                yield replace(found, sooner=_SOONER[meant])
        elif sort == "family":
            kind, family = which
            members = tuple(entry for entry in self.knowledge.by_kind.get(kind, ()) if entry.family == family)
            if members:
                yield Reading(kind, family, members, is_class=True)

    def _ask_back(self, number: int, where: str) -> None:
        """Raise BadInput: what was typed may be any of these, and they are handled differently."""
        _, among = self.asked["open"][number]
        raise BadInput(where, f"'{self.words}' may mean several things", f"write one of: {', '.join(among)}")


def _heated(words: str, knowledge: Knowledge, where: str) -> Reading | None:
    """Read an exposure with a number of degrees beside it, or degrees alone: "oil at 120 C", "200 degC"."""
    found = _DEGREES.search(words)
    if found is None:
        _with_unit(words, knowledge, where)
        return None
    try:
        at_c = to_unit(f"{found['number']} deg{found['unit'][0].upper()}", "degC")
    except ValueError as fault:
        raise BadInput(where, f"'{words}': {fault}", "give degrees that there are") from None
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
    if at and _NUMBER.fullmatch(number) and _DEGREES.search(said := f"{words} C") and _heated(said, knowledge, where):
        raise BadInput(where, f"'{words}' has no unit", f"write '{said}', or F; '{rest}' alone says no heat")


def _item(entry: Entry) -> Reading:
    return Reading(entry.kind, entry.id, (entry,))


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
    return _item(resolve.substrate(given, knowledge, where).entry)


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
        return [_item(matches[0].entry)]
    found = qualified.qualified(words, knowledge)
    if found is not None and (found.not_known or not isinstance(found.named, Entry)):
        named = _with_strange(words, found, knowledge, where)
        kinds = {"substrate", *(one.kind for one in named)}
        if all(m.entry.kind in kinds for m in matches if m.score >= OFFERED):
            return named
    best = [m.entry for m in matches if m.score >= ALIKE and matches[0].score - m.score < identify.LEAD]
    if len(best) > 1 and len({entry.kind for entry in best}) == 1:
        return [Reading(best[0].kind, words, tuple(best), is_class=True)]
    if told := not_judged().get(folded(words)) or not_judged("parts").get(folded(words)):
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
        own = _item(found.named)
    else:
        name = str(found.named["words"][0])
        own = Reading("substrate", name, tuple(classes.members(found.named, knowledge)), is_class=True)
    meant = readings(name, knowledge, where) if name and name != words else []
    if not any(reading.kind == "substrate" for reading in meant):
        meant = [own]
    return [replace(reading, not_known=found.not_known) for reading in meant]
