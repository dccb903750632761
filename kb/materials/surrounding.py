"""A liquid or gas as what surrounds a thing: which exposure it is to what has cured, by its name or as its vapour."""

from __future__ import annotations

from typing import NamedTuple

from kb.base.lexicon import squeezed
from kb.knowledge import Entry, Knowledge
from kb.knowledge.packing import unpack
from kb.rules.clauses import all_of


class Surrounding(NamedTuple):
    """An exposure, and of what kinds it is."""

    exposure: str
    of: tuple[str, ...]


def surrounding(entry: Entry, knowledge: Knowledge) -> Surrounding | None:
    """Say which exposure a liquid or gas is to what is finished; None where nothing says it.

    >>> from kb.knowledge import load
    >>> known = load()
    >>> surrounding(known.entry("glycol-ether-brake-fluid"), known)
    Surrounding(exposure='solvent-splash', of=('alcohol', 'ester'))
    >>> surrounding(known.entry("carbon-dioxide"), known)
    """
    for kind, when, exposure, of, of_fact in knowledge.tables["asked"]["wiped"]:
        if entry.kind != kind or all_of(unpack(c).truth({kind: entry.facts}) for c in when) is not True:
            continue
        named = entry.facts.get(of_fact, ()) if of_fact else of
        return Surrounding(exposure, (named,) if isinstance(named, str) else tuple(named))
    return None


def in_state(words: str, knowledge: Knowledge) -> Surrounding | None:
    """Read a liquid or gas with the word of a state behind it as what things are exposed to.

    >>> from kb.knowledge import load
    >>> in_state("acetone vapour", load())
    Surrounding(exposure='solvent-splash', of=('ketone',))
    """
    atoms = knowledge.lexicon.atoms(words)
    for state in knowledge.tables["asked"]["states"]:
        rest = atoms[: len(atoms) - len(state)]
        if not rest or atoms[len(rest) :] != state:
            continue
        for item in knowledge.tables["lookup"]["runs"].get(squeezed(rest), ()):
            if (found := surrounding(knowledge.entries[item], knowledge)) is not None:
                return found
    return None
