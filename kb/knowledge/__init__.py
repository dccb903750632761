"""Catalog, rules and a lab's own, together, as the engine uses them.

`load()` gives the compiled knowledge where that still matches the files, else reads the files. What is
compiled holds plain facts only, so that an ordinary run neither parses TOML nor builds models.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from kb.base.errors import BadInput
from kb.base.lexicon import Lexicon
from kb.knowledge import cache
from kb.knowledge.called import called
from kb.knowledge.index import Index
from kb.knowledge.packing import Conditions, conditions_of, unpack_rule
from kb.rules.clauses import Facts, role_of
from kb.rules.rule import Rule
from kb.rules.words import roles_told

if TYPE_CHECKING:
    from kb.knowledge.tables import Compiled, Tables


class Entry(NamedTuple):
    """A catalog item as the engine sees it: what it is, and its known facts by dotted name."""

    id: str
    kind: str
    family: str
    name: str
    facts: Facts


@dataclass(frozen=True)
class Knowledge:
    """All that is known: entries by id in catalog order, rules in order of id, sources, and the shared tables.

    `rules` speak of chains. What is said `beside` them is read where two things are looked at: that they suit each
    other, and what concerns things that stand in no chain.
    """

    entries: Mapping[str, Entry]
    rules: tuple[Rule, ...]
    sources: Mapping[str, Facts]
    tables: Tables
    digest: str
    notes: tuple[str, ...] = field(default=())
    #: For each kind, its options by the values of facts, as far as that was worked out (kb.knowledge.index).
    index: Mapping[str, Index] = field(default_factory=dict)
    beside: tuple[Rule, ...] = ()
    #: What the lab's own words for items are compared by, with the item that each was taught to mean.
    called: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def by_kind(self) -> dict[str, tuple[Entry, ...]]:
        """Entries of each kind, in catalog order."""
        kinds: dict[str, list[Entry]] = {}
        for entry in self.entries.values():
            kinds.setdefault(entry.kind, []).append(entry)
        return {kind: tuple(entries) for kind, entries in kinds.items()}

    @cached_property
    def rarities(self) -> dict[frozenset[str], tuple[dict[str, float], dict[tuple[str, ...], float]]]:
        """By kinds, how rare words and whole names are among their names, as far as that was worked out."""
        return {}

    @cached_property
    def rules_by_id(self) -> dict[str, Rule]:
        """Every rule, those beside the chains among them."""
        return {rule.id: rule for rule in (*self.rules, *self.beside)}

    @cached_property
    def baring(self) -> tuple[Rule, ...]:
        """The rules that take the layer of a part off."""
        return tuple(rule for rule in self.rules if rule.bares)

    @cached_property
    def lexicon(self) -> Lexicon:
        """The spellings and word classes by which names are read."""
        return Lexicon(self.tables["words"])

    @cached_property
    def conditions_of_steps(self) -> tuple[Conditions, ...]:
        """What each step of the procedure hangs on."""
        return conditions_of(self.tables["steps"])

    @cached_property
    def roles_of_steps(self) -> tuple[frozenset[str], ...]:
        """The roles that each step of the procedure reads: in its conditions, its sentences and its figures."""
        return tuple(map(_roles_read, self.tables["steps"], self.conditions_of_steps))

    @cached_property
    def conditions_of_usage(self) -> tuple[Conditions, ...]:
        """What each row of what the work uses hangs on."""
        return conditions_of(self.tables["usage"]["rows"])

    def entry(self, item_id: str) -> Entry:
        """Give the entry of that id; BadInput with the near id where there is none."""
        from kb.base.errors import nearest

        if item_id not in self.entries:
            raise BadInput(item_id, "is not in the catalog", nearest(item_id, self.entries) or "see `tackroom list`")
        return self.entries[item_id]


def _roles_read(step: Facts, conditions: Conditions) -> frozenset[str]:
    texts = (step["do"], step["wait_for"], step["because"], *step["must"], *step["never"])
    figures = (path for path in (step["heat"], step["wait_min"]) if isinstance(path, str))
    return conditions.roles.union(map(role_of, figures), *map(roles_told, texts))


def load(workspace: Path | None = None) -> Knowledge:
    """Load the shipped knowledge with the workspace's own items and rules on top.

    Raises BadInput, naming file and field, where a file of the lab's own is broken.
    """
    known = knowledge_of(*cache.load(cache.roots(workspace), _build))
    own = called(workspace) if workspace is not None else {}
    if not own:
        return known
    digest = hashlib.sha256(f"{known.digest}{sorted(own.items())}".encode()).hexdigest()
    return replace(known, called=own, digest=digest)


def _build(where: Mapping[str, Path]) -> Compiled:
    # The models of every kind take 1.9 s to build, which an ordinary run is spared: 38 ms from the compiled file.
    from kb.knowledge.build import build

    return build(where)


def knowledge_of(payload: Compiled, digest: str) -> Knowledge:
    """Make the knowledge of what `kb.knowledge.build.build` gives."""
    return Knowledge(
        entries={e[0]: Entry(*e) for e in payload["entries"]},
        rules=tuple(map(unpack_rule, payload["rules"])),
        beside=tuple(map(unpack_rule, payload["beside"])),
        sources=payload["sources"],
        tables=payload["tables"],
        digest=digest,
        notes=tuple(payload["notes"]),
        index=payload["index"],
    )
