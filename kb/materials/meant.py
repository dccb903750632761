"""Which of several materials words mean: the one that is clear, or a question back with what is near."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from kb.base import surfaces
from kb.base.errors import BadInput
from kb.base.lexicon import folded
from kb.knowledge import Knowledge
from kb.materials import identify
from kb.materials.identify import Match
from kb.rules.words import shown

#: What else can be done about a material that isn't clear.
_DESCRIBE = ", or let `tackroom describe` ask about it"
#: And about a word that is in no list: a maker's name, a word of the lab's own.
_TEACH = ", or teach the word once: `tackroom call WORD ITEM`"


def meant(matches: Sequence[Match], words: str, where: str, kind: str) -> Match:
    """Give the best match, if it is clear; else BadInput with what is near."""
    if not matches or matches[0].score < identify.SEEN:
        said = f"'{words}' is no {kind or 'item'} that is known"
        listed = f"`tackroom list {kind}`{_DESCRIBE}" if kind else "`tackroom list`"
        raise BadInput(where, said, f"see {listed}{_TEACH}")
    if len(matches) == 1 and not identify.clear(matches):
        near = f"the nearest is {matches[0].entry.id} ({matches[0].score:.0f} of 100); write that if it is meant"
        raise BadInput(where, f"'{words}' is no {kind or 'item'} that is known", near)
    if not identify.clear(matches):
        near = ", ".join(f"{m.entry.id} ({m.score:.0f})" for m in matches[:5])
        other = _DESCRIBE if kind == "substrate" else ""
        raise BadInput(where, f"'{words}' may mean several things", f"write one of: {near}{other}")
    return matches[0]


def agreeing(said: Mapping[str, Any], matches: Sequence[Match], knowledge: Knowledge) -> Sequence[Match]:
    """Keep the near matches that agree with what a job says of its part, where these are clear; else all."""
    if not matches or identify.clear(matches):
        return matches
    table: Mapping[str, Mapping[str, Any]] = knowledge.tables["words"].get("settles", {})
    asked: list[Mapping[str, Any]] = []
    for field, value in said.items():
        for one in value if isinstance(value, tuple) else (value,):
            asked += [wanted for word, wanted in table.get(field, {}).items() if word == shown(one)]
    near = [m for m in matches if matches[0].score - m.score < identify.LEAD]
    agreed = [m for m in near if asked and all(m.entry.facts.get(k) in v for row in asked for k, v in row.items())]
    return agreed if agreed and identify.clear(agreed) else matches


def refuse_within(words: str, knowledge: Knowledge, where: str) -> None:
    """Raise BadInput where words near nothing hold the name of a material, or of what lies on one."""
    from kb.materials.qualified import named_in

    said = f"'{words}' is no substrate that is known"
    lies_on_it = surfaces.said_beside(
        word for word in map(folded, words.split()) if word in knowledge.lexicon.lies_on_it
    )
    on_it = "".join(f"; '{word}' belongs to part.surface ({surface})" for word, surface in lies_on_it.items())
    if names := named_in(words, knowledge):
        raise BadInput(where, said, f"if it is {' or '.join(names[:3])}, write that alone{_DESCRIBE}{_TEACH}{on_it}")
    if on_it:
        raise BadInput(where, said, f"name the material{_DESCRIBE}{_TEACH}{on_it}")
