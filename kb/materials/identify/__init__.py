"""Words to catalog items: an id, a known name, a misspelling, words in another order or among others.

Several are offered where it isn't sure, and nothing where nothing is near. What is sure is for `clear` to say:
between items whose handling differs nothing is picked silently.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from kb.base.lexicon import Lexicon, folded, squeezed
from kb.base.surroundings import not_judged
from kb.knowledge import Entry, Knowledge
from kb.knowledge.called import key_of
from kb.materials.classes import members, row_called
from kb.materials.identify.match import LEAD, NAMESAKE, SEEN, SURE, Match

__all__ = ["LEAD", "MOST", "NAMESAKE", "SEEN", "SURE", "Match", "clear", "folded", "identify", "names_of", "no_part"]


#: How like a name is that was typed just so.
_JUST_SO = 100.0
#: So many are offered.
MOST = 8


def names_of(entry: Entry) -> tuple[str, ...]:
    """List everything that an entry is called, folded: its id, name and aliases."""
    return tuple(dict.fromkeys(folded(n) for n in (entry.id, entry.name, *entry.facts.get("aliases", ()))))


def identify(words: str, knowledge: Knowledge, kinds: Sequence[str] | None = None, most: int = MOST) -> list[Match]:
    """Tell what `words` may mean among `kinds`, best first; empty where nothing is near enough to be offered.

    Left out, the kinds are the substrates, and whatever the lab has words of its own for.
    """
    taught = knowledge.entries.get(knowledge.called.get(key_of(words), ""))
    kinds = kinds or (("substrate",) if taught is None else ("substrate", taught.kind))
    entry = knowledge.entries.get(words)
    if entry is not None and entry.kind in kinds:
        return [Match(entry, "id", 100.0)]
    if taught is not None and taught.kind in kinds:
        return [Match(taught, "house", 100.0)]
    lexicon = knowledge.lexicon
    readings = lexicon.readings(words)
    found: list[Match] = []
    for atoms in readings:
        found = found or _named(words, atoms, knowledge, kinds, lexicon) or _shared(atoms, knowledge, kinds, lexicon)
    for atoms in () if found else lexicon.numbers(words):
        found = found or _named(words, atoms, knowledge, kinds, lexicon)
    if not found and any(sum(map(len, atoms)) > 1 for atoms in readings):
        guesses = (_guessed(atoms, knowledge, kinds, lexicon) for atoms in dict.fromkeys((readings[0], readings[-1])))
        found = max(guesses, key=lambda matches: matches[0].score if matches else 0.0)
    return _grouped(_used(_of_system(found, words, knowledge, lexicon)), knowledge)[:most]


def no_part(words: str, matches: Sequence[Match], kinds: Sequence[str] | None = None) -> str:
    """Tell what to do where `words` name what no gauge is bonded to; "" where they name an item, or may be a part."""
    if (matches and matches[0].score == _JUST_SO) or kinds not in (None, ("substrate",)):
        return ""
    return not_judged("parts").get(folded(words), "")


def sized(named: Sequence[Entry], words: str, run: str) -> list[Entry]:
    """Keep of entries of one name those that are called so with the size that was typed, if any is.

    A size says nothing of a material, and is left out of its name; of films it is all that tells one from another.
    """
    full = _with_sizes(words)
    left_out = sum(map(str.isdigit, words)) > sum(map(str.isdigit, run))
    return [e for e in named if left_out and full in (_with_sizes(e.id), _with_sizes(e.name))] or list(named)


def _with_sizes(name: str) -> list[str]:
    """List the words of a name in no order, each number with its unit.

    >>> _with_sizes("25 um polyimide film") == _with_sizes("polyimide-film-25um")
    True
    """
    return sorted(re.sub(r"(?<=\d) (?=[a-z])", "", folded(name)).split())


def _named(
    words: str, atoms: Sequence[str], knowledge: Knowledge, kinds: Sequence[str], lexicon: Lexicon
) -> list[Match]:
    """Give the entries that are called just this, and what of another kind has it as a word of its family.

    "Epoxy" is the name of a plastic, and many an adhesive is one.
    """
    lookup, run = knowledge.tables["lookup"], squeezed(atoms)
    named = sized([e for i in lookup["runs"].get(run, ()) if (e := knowledge.entries[i]).kind in kinds], words, run)
    found = [Match(e, "id" if squeezed(lexicon.atoms(e.id)) == run else "alias", 100.0) for e in named]
    if not found or any(match.how == "id" for match in found):
        return [match for match in found if match.how == "id"]
    others = [kind for kind in kinds if kind not in {e.kind for e in named}]
    namesakes = (e for kind in others for e in knowledge.by_kind.get(kind, ()))
    return found + [Match(e, "fuzzy", NAMESAKE) for e in namesakes if {*atoms} <= {*lookup["families"][e.family]}]


def _shared(atoms: Sequence[str], knowledge: Knowledge, kinds: Sequence[str], lexicon: Lexicon) -> list[Match]:
    """Give all that a short name stands for which several things share ("SMA"), with or without words of form."""
    several: Mapping[str, tuple[str, ...]] = knowledge.tables["lookup"]["several"]
    wanted = (squeezed(atoms), squeezed(atom for atom in atoms if atom not in lexicon.forms))
    shared = next((several[run] for run in wanted if run in several), ())
    named = (knowledge.entries[item] for item in shared if item in knowledge.entries)
    return [Match(entry, "alias", 100.0) for entry in named if entry.kind in kinds]


def _guessed(atoms: Sequence[str], knowledge: Knowledge, kinds: Sequence[str], lexicon: Lexicon) -> list[Match]:
    """Rank what the words are like; where they are a misspelling of what several things share, all of these."""
    from kb.materials.identify.likeness import alike
    from kb.materials.identify.phrase import Phrase

    phrase = Phrase(atoms, knowledge, frozenset(kinds), lexicon)
    shared = _shared(phrase.corrected(), knowledge, kinds, lexicon)
    if shared:
        return [match._replace(how="fuzzy", score=NAMESAKE) for match in shared]
    return _members_first(atoms, alike(phrase), knowledge, lexicon)


def _members_first(atoms: Sequence[str], found: list[Match], knowledge: Knowledge, lexicon: Lexicon) -> list[Match]:
    """Put the members of a class that is called just so before `found`, the ordinary one first."""
    row = row_called(atoms, knowledge, lexicon) if found else None
    if row is None or row.get("of") == "family" or any(m.entry.kind != "substrate" or m.how == "alias" for m in found):
        return found
    own = sorted(members(row, knowledge), key=lambda e: e.id != row.get("ordinary"))
    score = min(found[0].score, SURE - LEAD)
    ids = {e.id for e in own}
    rest = [m._replace(score=min(m.score, score)) for m in found if m.entry.id not in ids]
    return [*(Match(e, "fuzzy", score) for e in own), *rest]


def _of_system(found: list[Match], words: str, knowledge: Knowledge, lexicon: Lexicon) -> list[Match]:
    """Keep of several what the named system has designations for: AISI 1050 is a steel, and no aluminium."""
    table: Mapping[str, Sequence[str]] = knowledge.tables["words"].get("families_of", {})
    families = {family for system in lexicon.systems(words) for family in table.get(system, ())}
    return [m for m in found if m.entry.family in families] or found


def _used(matches: Sequence[Match]) -> list[Match]:
    """Give the matches without pure substances that are no better than what is used at the bench and made of them."""
    best = max((m.score for m in matches if m.entry.kind != "substance"), default=0.0)
    return [m for m in matches if m.entry.kind != "substance" or m.score > best]


def _grouped(matches: Sequence[Match], knowledge: Knowledge) -> list[Match]:
    """Give the matches with their handling: equal numbers where every fact that a rule reads is the same."""
    if len(matches) < 2:
        return list(matches)
    read: Mapping[str, tuple[str, ...]] = knowledge.tables["lookup"]["read"]
    singled = knowledge.tables["lookup"]["singled"]
    seen: dict[Any, int] = {}

    def handling(entry: Entry) -> int:
        facts = tuple(repr(entry.facts.get(name)) for name in read.get(entry.kind, ()))
        return seen.setdefault((entry.kind, entry.family, facts, entry.id if entry.id in singled else None), len(seen))

    return [Match(m.entry, m.how, m.score, handling(m.entry)) for m in matches]


def clear(matches: Sequence[Match]) -> bool:
    """Tell whether the best may be taken without asking: very like, and well ahead of all that is handled otherwise."""
    best = matches[0]
    rivals = (m for m in matches[1:] if m.handling != best.handling)
    return best.score >= SURE and all(best.score - m.score >= LEAD for m in rivals)
