"""How much is known, and on what basis: counts of items, values and rules.

docs/basis.md is written by `python -m kb.reference`; a test holds it to the knowledge.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from kb.base.vocabulary import BASES, FAMILIES
from kb.knowledge import Entry, Knowledge
from kb.knowledge.catalog import MODELS, Item
from kb.knowledge.derive import DERIVED

#: Fields that say what an item is called or rests on; everything else is a value.
_NOT_VALUES = {*Item.model_fields, "kind"} - {"hazards"}


def bases_of_values(entry: Entry) -> Iterator[str]:
    """The basis of each of an item's values."""
    own = {name: row["basis"] for row in entry.facts.get("field_basis", ()) for name in row["fields"]}
    for path in entry.facts:
        top = path.partition(".")[0]
        if path in DERIVED or top in _NOT_VALUES:
            continue
        yield own.get(path) or own.get(top) or entry.facts["basis"]


def markdown(knowledge: Knowledge) -> str:
    """The counts as a document."""
    lines = [
        "# What is known, and on what basis",
        "",
        "Written by `python -m kb.reference`; a test holds it to the knowledge. A cited basis (standard, handbook,",
        "dataset) names its source; `by-definition` can have none, `common-practice` (a fact of the trade) has none;",
        "`memory` was recalled by the author and is to be confirmed. The answer to every question shows the basis of",
        "what it says.",
        "",
        "| kind | items | families | values | " + " | ".join(BASES) + " |",
        "|---|---|---|---|" + "---|" * len(BASES),
    ]
    for kind in MODELS:
        entries = knowledge.by_kind.get(kind, ())
        counts = Counter(basis for entry in entries for basis in bases_of_values(entry))
        families = f"{len({e.family for e in entries})} of {len(FAMILIES[kind])}"
        cells = " | ".join(str(counts[basis]) for basis in BASES)
        lines.append(f"| {kind} | {len(entries)} | {families} | {sum(counts.values())} | {cells} |")
    lines += ["", "| rules | number | " + " | ".join(BASES) + " |", "|---|---|" + "---|" * len(BASES)]
    for verdict in ("block", "need", "caution", "prefer"):
        rules = [rule for rule in knowledge.rules if rule.verdict == verdict]
        counts = Counter(rule.basis for rule in rules)
        lines.append(f"| {verdict} | {len(rules)} | " + " | ".join(str(counts[basis]) for basis in BASES) + " |")
    seen = sum(bool(source["seen"]) for source in knowledge.sources.values())
    lines += [
        "",
        f"{len(knowledge.entries)} items, {len(knowledge.rules)} rules, {len(knowledge.sources)} sources, of which the",
        f"author had {seen} in hand.",
    ]
    return "\n".join(lines) + "\n"
