"""Words to catalog items: an id, a known name, a misspelling, words in another order or among others.

Several are offered where it isn't sure, and nothing where nothing is near. What is sure is for `clear` to say:
between items whose handling differs nothing is picked silently.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from kb.base.lexicon import Lexicon, folded, squeezed
from kb.knowledge import Entry, Knowledge
from kb.knowledge.called import key_of
from kb.materials.identify.match import LEAD, NAMESAKE, SURE, Match

__all__ = ["LEAD", "SURE", "Match", "clear", "folded", "identify", "names_of"]


def names_of(entry: Entry) -> tuple[str, ...]:
    """Everything that an entry is called, folded: its id, name and aliases."""
    return tuple(dict.fromkeys(folded(n) for n in (entry.id, entry.name, *entry.facts.get("aliases", ()))))


def identify(words: str, knowledge: Knowledge, kinds: Sequence[str] | None = None, most: int = 8) -> list[Match]:
    """What `words` may mean among `kinds`, best first; empty where nothing is near enough to be offered.

    Left out, the kinds are the substrates, and whatever the lab has words of its own for.
    """
    taught = knowledge.entries.get(knowledge.called.get(key_of(words), ""))
    kinds = kinds or (("substrate",) if taught is None else ("substrate", taught.kind))
    entry = knowledge.entries.get(words)
    if entry is not None and entry.kind in kinds:
        return [Match(entry, "id", 100.0)]
    if taught is not None and taught.kind in kinds:
        return [Match(taught, "house", 100.0)]
    lexicon = Lexicon(knowledge.tables["words"])
    atoms = lexicon.atoms(words)
    found = _named(atoms, knowledge, kinds, lexicon) or _shared(atoms, knowledge, kinds, lexicon)
    if not found and sum(map(len, atoms)) > 1:
        from kb.materials.identify.likeness import alike

        found = alike(atoms, knowledge, kinds, lexicon)
    return _grouped(_used(found), knowledge)[:most]


def _named(atoms: Sequence[str], knowledge: Knowledge, kinds: Sequence[str], lexicon: Lexicon) -> list[Match]:
    """The entries that are called just this, and what of another kind has it as a word of its family.

    "Epoxy" is the name of a plastic, and many an adhesive is one.
    """
    lookup, run = knowledge.tables["lookup"], squeezed(atoms)
    named = [e for i in lookup["runs"].get(run, ()) if (e := knowledge.entries[i]).kind in kinds]
    found = [Match(e, "id" if squeezed(lexicon.atoms(e.id)) == run else "alias", 100.0) for e in named]
    if not found or any(match.how == "id" for match in found):
        return [match for match in found if match.how == "id"]
    others = [kind for kind in kinds if kind not in {e.kind for e in named}]
    namesakes = (e for kind in others for e in knowledge.by_kind.get(kind, ()))
    return found + [Match(e, "fuzzy", NAMESAKE) for e in namesakes if {*atoms} <= {*lexicon.atoms(e.family)}]


def _shared(atoms: Sequence[str], knowledge: Knowledge, kinds: Sequence[str], lexicon: Lexicon) -> list[Match]:
    """All that a short name stands for which several things share ("SMA"), with or without words of form."""
    wanted = {squeezed(atoms), squeezed(atom for atom in atoms if atom not in lexicon.forms)}
    for row in knowledge.tables["words"].get("several", ()):
        if wanted & {squeezed(lexicon.atoms(word)) for word in row["words"]}:
            named = (knowledge.entries[item] for item in row["may_be"] if item in knowledge.entries)
            return [Match(entry, "alias", 100.0) for entry in named if entry.kind in kinds]
    return []


def _used(matches: Sequence[Match]) -> list[Match]:
    """The matches without pure substances that are no better than what is used at the bench and made of them."""
    best = max((m.score for m in matches if m.entry.kind != "substance"), default=0.0)
    return [m for m in matches if m.entry.kind != "substance" or m.score > best]


def _grouped(matches: Sequence[Match], knowledge: Knowledge) -> list[Match]:
    """The matches with their handling: equal numbers where every fact that a rule reads is the same."""
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
    """Whether the best may be taken without asking: very like, and well ahead of all that is handled otherwise."""
    best = matches[0]
    rivals = (m for m in matches[1:] if m.handling != best.handling)
    return best.score >= SURE and all(best.score - m.score >= LEAD for m in rivals)
