"""Words that name no material of a part: what else of the catalog they may mean, a glue, a liquid, a coat, a cable."""

from __future__ import annotations

from collections.abc import Sequence

from kb.base.errors import BadInput
from kb.base.lexicon import run_of, squeezed
from kb.base.vocabulary import KINDS
from kb.knowledge import Entry, Knowledge
from kb.materials import identify
from kb.materials.asked import readings
from kb.materials.identify.match import SEEN, Match
from kb.materials.resolve import Resolved, offered

#: How like a name is that was typed just so.
_JUST_SO = 100.0
#: Every kind but the materials of parts, and of what is in bottles the bottles first.
_OTHERS = tuple(kind for kind in KINDS if kind not in ("substrate", "substance"))


def anything(words: str, knowledge: Knowledge) -> tuple[list[Match], Resolved | None]:
    """Find what `words` may mean: the materials of parts first; where none is near, anything else in the catalog.

    >>> from kb.knowledge import load
    >>> known = load()
    >>> [match.entry.id for match in anything("acetone", known)[0]], anything("qwxzv", known)
    (['acetone'], ([], None))
    """
    matches, found = offered(words, knowledge)
    if found is not None or (matches and matches[0].score >= SEEN):
        return _with_namesake(words, matches, found, knowledge)
    return named_so(words, knowledge) or matches, None


def other_kinds(words: str, matches: Sequence[Match], knowledge: Knowledge) -> tuple[str, ...]:
    """Tell of which other kinds something is called so: beside other things `check` may read it as one.

    >>> from kb.knowledge import load
    >>> known = load()
    >>> other_kinds("fluorosilicone", anything("fluorosilicone", known)[0], known)
    ('coating',)
    """
    try:
        meant = readings(words, knowledge, "identify")
    except BadInput:
        return ()
    shown = {match.entry.kind for match in matches}
    return tuple(dict.fromkeys(r.kind for r in meant if r.kind not in shown)) if shown else ()


def _with_namesake(
    words: str, matches: list[Match], found: Resolved | None, knowledge: Knowledge
) -> tuple[list[Match], Resolved | None]:
    """Put before materials that are only like `words` what of another kind is called just so: "PTFE wire"."""
    runs = knowledge.tables["lookup"]["runs"].get(squeezed(knowledge.lexicon.atoms(words)), ())
    named = [entry for item in runs if (entry := knowledge.entries[item]).kind in _OTHERS]
    if not named or (matches and matches[0].score == _JUST_SO):
        return matches, found
    if found is None and identify.clear(matches):
        found = Resolved(matches[0].entry, words, matches[0].how, matches[0].score)
    own = [Match(entry, "alias", _JUST_SO, number) for number, entry in enumerate(named)]
    return [*own, *matches][: identify.MOST], found


def named_so(words: str, knowledge: Knowledge) -> list[Match]:
    """List the items of other kinds that are called so, or belong to a class that is, or are like it."""
    try:
        meant = [reading for reading in readings(words, knowledge, "identify") if reading.kind != "substrate"]
    except BadInput:
        meant = []
    entries = [entry for reading in meant for entry in reading.members] or _among(words, knowledge)
    bottles = [entry for entry in entries if entry.kind != "substance"] or entries
    if bottles:
        return [Match(entry, "alias", 100.0, number) for number, entry in enumerate(bottles[: identify.MOST])]
    return _seen(identify.identify(words, knowledge, _OTHERS)) or _seen(
        identify.identify(words, knowledge, ("substance",))
    )


def _among(words: str, knowledge: Knowledge) -> list[Entry]:
    """List what words may mean that mean too much to be guessed: "strain gauge"."""
    asked = knowledge.tables["asked"]
    typed = run_of(knowledge.lexicon.atoms(words))
    open_ = (which for sort, which in asked["runs"].get(typed, ()) if sort == "open")
    return [knowledge.entry(item) for number in open_ for item in asked["open"][number][1]]


def _seen(matches: Sequence[Match]) -> list[Match]:
    return [match for match in matches if match.score >= SEEN]
