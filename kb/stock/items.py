"""What stands on the shelf, in the catalog's terms: names to item ids, and ids to facts.

A house item (what is really there, under the lab's own name) is a catalog item of the workspace that is `like` a
generic one; the limits on its data sheet, which it carries, stand in the place of the class's.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from typing import Any

from kb import knowledge
from kb.base.errors import BadInput
from kb.base.vocabulary import KINDS
from kb.knowledge import Entry, Knowledge
from kb.materials import identify

#: Kinds that are kept in stock.
STOCKED = tuple(kind for kind in KINDS if kind not in ("substrate", "substance"))


class Items:
    """The items that stock may be of, from the shipped catalog and the workspace's own."""

    def __init__(self, known: Knowledge) -> None:
        self._known = known

    @classmethod
    def load(cls, workspace: Path | None) -> Items:
        """The items of the catalog with those of the workspace. BadInput where a file of the lab's own is broken."""
        return cls(knowledge.load(workspace))

    def resolve(self, words: str) -> str:
        """The id of the item of that id or name. BadInput with what is near: stock is not put down to a guess."""
        found = self._by_name.get(identify.folded(words))
        if found is not None:
            return found
        near = identify.identify(words, self._known, STOCKED, most=3)
        mend = f"near: {', '.join(match.entry.id for match in near)}" if near else "see `tackroom list`"
        raise BadInput("", f"'{words}' is no item that is known", mend)

    def facts(self, item: str) -> Mapping[str, Any]:
        """What is known of an item; nothing, where the catalog no longer has it."""
        entry = self._known.entries.get(item)
        return entry.facts if entry else {}

    def name(self, item: str) -> str:
        """What an item is called; its id, where the catalog no longer has it."""
        entry = self._known.entries.get(item)
        return entry.name if entry else item

    @cached_property
    def _by_name(self) -> dict[str, str]:
        entries: list[Entry] = [e for kind in STOCKED for e in self._known.by_kind.get(kind, ())]
        named = {name: entry.id for entry in reversed(entries) for name in identify.names_of(entry)}
        return named | {identify.folded(entry.id): entry.id for entry in entries}
