"""What is called just so: items by name; classes, families and exposures by the words that asked.toml has for them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from kb.base.errors import BadInput
from kb.base.lexicon import run_of, squeezed
from kb.knowledge import Entry, Knowledge
from kb.knowledge.packing import unpack
from kb.materials import classes, graded, identify
from kb.rules.clauses import all_of

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
    #: Of an adhesive how hot it is cured [degC]; None where nobody said.
    cured_c: float | None = None


class Words:
    """What was typed, and what it may be held against."""

    def __init__(self, words: str, knowledge: Knowledge) -> None:
        self.words, self.knowledge = words, knowledge
        self.lexicon = knowledge.lexicon
        self.asked: Mapping[str, Any] = knowledge.tables["asked"]
        self.atoms = self._without_plain(self.lexicon.atoms(words))

    def meanings(self, where: str) -> Iterator[Reading]:
        """Tell what is called just so; else what is, without a word at an end that only says which kind is meant."""
        if (of_grade := self._graded(where)) is not None:
            yield of_grade
            return
        run = squeezed(self.atoms)
        named = [self.knowledge.entries[i] for i in self.knowledge.tables["lookup"]["runs"].get(run, ())]
        of_size = identify.sized(named, self.words, run)
        if len(of_size) < len(named):
            yield from map(item, of_size)
            return
        for atoms in (self.atoms, *self.lexicon.readings(self.words)[1:]):
            found = list(self._called(atoms, where))
            found += self._of_noun(atoms, found, where, last=True)
            # As in French: "colle époxy".
            found = found or list(self._of_noun(atoms, (), where, last=False))
            if found:
                yield from found
                return

    def _without_plain(self, atoms: tuple[str, ...]) -> tuple[str, ...]:
        """Leave out what says nothing of which kind is meant ("thick epoxy"), unless in a name ("white spirit")."""
        named = squeezed(atoms) in self.knowledge.tables["lookup"]["runs"] or run_of(atoms) in self.asked["runs"]
        return atoms if named else tuple(atom for atom in atoms if atom not in self.asked["plain"]) or atoms

    def _graded(self, where: str) -> Reading | None:
        """Tell which abrasives are meant where a grade stands beside them; None where that isn't so."""
        if squeezed(self.atoms) in self.knowledge.tables["lookup"]["runs"]:
            return None
        members = graded.meant(self.words, self.asked, self._abrasives, where)
        if members[1:]:
            return Reading(graded.KIND, self.words, members, is_class=True)
        return next(map(item, members), None)

    def _abrasives(self, words: str, where: str) -> Iterator[tuple[Entry, ...]]:
        """Give the abrasives that are called so."""
        return (one.members for one in self._called(self.lexicon.atoms(words), where) if one.kind == graded.KIND)

    def _of_noun(self, atoms: Sequence[str], known: Sequence[Reading], where: str, last: bool) -> Iterator[Reading]:
        """Tell what stands beside a noun that is the last word, or the first, of kinds that aren't `known`."""
        kinds = {reading.kind for reading in known}
        for kind, nouns in self.asked["nouns"].items():
            for noun in nouns:
                at = len(atoms) - len(noun) if last else 0
                rest = atoms[:at] if last else atoms[len(noun) :]
                if rest and tuple(atoms[at : at + len(noun)]) == noun and kind not in kinds:
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
                yield replace(item((by_id or entries)[0]), by_id=bool(by_id))
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
                found = Reading(kind, name, members, is_class=True) if len(members) > 1 else item(members[0])
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


def item(entry: Entry) -> Reading:
    return Reading(entry.kind, entry.id, (entry,))
