"""Checks on items, sources, and on the knowledge as a whole."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from kb import calc
from kb.base.models import Citation
from kb.base.vocabulary import CITED_BASES
from kb.knowledge import Entry
from kb.knowledge.catalog import MODELS, Mixture
from kb.lint.probe import used_items
from kb.lint.tree import Found, Linter, Tree
from kb.materials.identify import folded

#: Kinds whose classes are wide enough that a single figure would mislead.
WIDE_KINDS = ("substrate", "adhesive", "coating")


def cited(entry: Entry) -> Iterator[str]:
    """Give every source id that an entry names."""
    yield from (citation["id"] for citation in entry.facts.get("sources", ()))
    yield from (row["source"] for row in entry.facts.get("field_basis", ()) if row.get("source"))
    yield from (row["source"] for row in entry.facts.get("limits", ()))


def _citations(tree: Tree) -> Iterator[tuple[Citation, str]]:
    """Give every citation of a rule or a judged comparison, with its file."""
    yield from ((citation, where) for _, table, where in tree.rules for citation in table.sources)
    yield from ((citation, where) for comparison, where in tree.comparisons for citation in comparison.sources)


def unknown_source(tree: Tree) -> Found:
    """Citations of works that sources.toml doesn't hold."""
    for entry in tree.entries.values():
        for source in sorted(set(cited(entry)) - set(tree.sources)):
            yield entry.id, f"cites '{source}', which is not in sources.toml"
    for citation, where in _citations(tree):
        if citation.id not in tree.sources:
            yield where, f"cites '{citation.id}', which is not in sources.toml"


#: Locators that name no place in a work.
_WHOLE = frozenset(("", "all", "book", "passim", "the book", "throughout", "whole", "whole book", "whole work"))


def unlocated(tree: Tree) -> Found:
    """Citations of a whole work, or of none: nobody can look them up."""
    for entry in tree.entries.values():
        for row in entry.facts.get("field_basis", ()):
            if row["basis"] in CITED_BASES and not row.get("source"):
                yield entry.id, f"{', '.join(row['fields'])}: rests on a {row['basis']}, and no source is named"
            elif row.get("source") and row.get("locator", "").strip(" .").lower() in _WHOLE:
                yield entry.id, f"{', '.join(row['fields'])}: cites the whole of '{row['source']}'"
        for row in entry.facts.get("sources", ()):
            if row.get("locator", "").strip(" .").lower() in _WHOLE:
                yield entry.id, f"cites the whole of '{row['id']}'"
    for citation, where in _citations(tree):
        if citation.locator.strip(" .").lower() in _WHOLE:
            yield where, f"cites the whole of '{citation.id}'"
    for comparison, where in tree.comparisons:
        if comparison.basis in CITED_BASES and not comparison.sources:
            yield where, f"rests on a {comparison.basis}, and no source is named"


def uncited_source(tree: Tree) -> Found:
    """Works that nothing cites."""
    used = {source for entry in tree.entries.values() for source in cited(entry)}
    used |= {citation.id for citation, _ in _citations(tree)}
    used |= {source for name in calc.names() for source in calc.describe(name).sources}
    used |= set(_strings(tree.tables))
    for source in sorted(set(tree.sources) - used):
        yield source, "is in sources.toml, and nothing cites it"


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from _strings(inner)
    elif isinstance(value, (list, tuple)):
        for inner in value:
            yield from _strings(inner)


def unread_fact(tree: Tree) -> Found:
    """Fields that items fill and that no rule, step or table reads; those of mixtures are read for what follows."""
    read = {path.partition(".")[2].partition(".")[0] for rule, _, _ in tree.rules for path in rule.facts()}
    read |= {path.partition(".")[2].partition(".")[0] for path, _ in tree.step_facts()}
    read |= {part for text in _strings(tree.tables) for part in text.replace("{", ".").replace("}", ".").split(".")}
    for kind, model in MODELS.items():
        filled = {name.partition(".")[0] for e in tree.entries.values() if e.kind == kind for name in e.facts}
        for name in sorted((filled & set(model.model_fields)) - read - set(Mixture.model_fields) - {"vapours"}):
            yield f"{kind}.{name}", "no rule or step reads it"


def alias_two_ways(tree: Tree) -> Found:
    """Give the names of one kind that point to two items."""
    owner: dict[tuple[str, str], str] = {}
    for entry in tree.entries.values():
        for name in dict.fromkeys(folded(n) for n in (entry.id, entry.name, *entry.facts.get("aliases", ()))):
            other = owner.setdefault((entry.kind, name), entry.id)
            if other != entry.id:
                yield entry.id, f"'{name}' also means {other}"


def unknown_substance(tree: Tree) -> Found:
    """Mixtures of substances that the catalog doesn't hold, and what such substances swell."""
    for entry in tree.entries.values():
        for field, said in (("substances", "is made of or gives off"), ("swollen_by_substances", "is swollen by")):
            for name in entry.facts.get(field, ()):
                part = tree.entries.get(name)
                if part is None or part.kind != "substance":
                    yield entry.id, f"{said} '{name}', which is no substance in the catalog"


def missing_range(tree: Tree) -> Found:
    """Class values without any range, in kinds whose classes are wide."""
    for entry in tree.entries.values():
        if (
            entry.kind in WIDE_KINDS
            and not entry.facts.get("house")
            and not any(name.startswith("ranges") for name in entry.facts)
        ):
            yield entry.id, "states no range for any of its values"


def dead_item(tree: Tree) -> Found:
    """Find items that no job of a wide set can use; the set is that of the coverage table."""
    used = used_items(tree.knowledge)
    # A lab's rule may ban what it likes of the shipped items; its own should be of use.
    has_house_rules = any(rule.house for rule, _, _ in tree.rules)
    for entry in tree.entries.values():
        if has_house_rules and not entry.facts.get("house"):
            continue
        if entry.kind not in ("substrate", "aid", "substance") and entry.id not in used:
            yield entry.id, "no job of the coverage set can use it"


LINTERS = (
    Linter("unknown-source", "tree", "add it with what was seen", unknown_source),
    Linter("unlocated", "tree", "give the table, clause or page", unlocated),
    Linter("uncited-source", "tree", "take it out", uncited_source),
    Linter("unread-fact", "tree", "say in lint.toml what it is for, or take it out", unread_fact),
    Linter("alias-two-ways", "tree", "keep it with one of them", alias_two_ways),
    Linter("unknown-substance", "tree", "add it", unknown_substance),
    Linter("missing-range", "tree", "say how far the class spreads", missing_range),
    Linter("dead-item", "tree", "mend what shuts it out, or say why it stays", dead_item),
)
