"""How much is known, and on what basis: counts of items, values and rules.

docs/basis.md is written by `python -m kb.reference`; a test holds it to the knowledge.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from kb.base.vocabulary import BASES, CITED_BASES, FAMILIES, VERDICTS
from kb.knowledge import Entry, Knowledge
from kb.knowledge.catalog import MODELS, Item
from kb.knowledge.derive import DERIVED
from kb.knowledge.spreads import ends
from kb.rules.clauses import NUMERIC, Value
from kb.rules.roles import kinds_of
from kb.rules.values import basis_of

#: Fields that say what an item is called or rests on; everything else is a value.
_NOT_VALUES = {*Item.model_fields, "kind"} - {"hazards"}


def bases_of_values(entry: Entry) -> Iterator[str]:
    """Give the basis of each of an item's values."""
    own = {name: row["basis"] for row in entry.facts.get("field_basis", ()) for name in row["fields"]}
    for path in entry.facts:
        top = path.partition(".")[0]
        if path in DERIVED or top in _NOT_VALUES:
            continue
        yield own.get(path) or own.get(top) or entry.facts["basis"]


#: What kind of statement a value is: a number was measured, a grade is settled by a test, the rest is judged.
STATEMENTS = ("measured", "rating", "judgement")


def statement_of(path: str, value: Value) -> str:
    """Say what kind of statement a value is.

    >>> statement_of("max_c", 80.0), statement_of("resists.steam", "poor"), statement_of("organic", True)
    ('measured', 'rating', 'judgement')
    """
    if path.startswith("resists.") and path.count(".") == 1:
        return "rating"
    numbers = value if isinstance(value, tuple) else (value,)
    measured = numbers and all(isinstance(n, (int, float)) and not isinstance(n, bool) for n in numbers)
    return "measured" if measured else "judgement"


def statements(knowledge: Knowledge) -> dict[str, Counter[str]]:
    """Count values by kind of statement, each by how it stands: with a source, with a spread, or bare."""
    found = {kind: Counter[str]() for kind in STATEMENTS}
    rows = knowledge.tables["spreads"]
    for entry in knowledge.entries.values():
        for path, value in entry.facts.items():
            if path in DERIVED or path.partition(".")[0] in _NOT_VALUES:
                continue
            basis, _ = basis_of(entry.facts, path)
            sourced = basis in (*CITED_BASES, "by-definition")
            stands = "sourced" if sourced else "spread" if ends(entry.facts, path, rows) else "bare"
            found[statement_of(path, value)][stands] += 1
    return found


def compared_bare(knowledge: Knowledge) -> list[str]:
    """List the measured numbers that a rule compares with a constant and that have neither source nor spread.

    A zero is no measurement: it says that there is nothing to wait for.
    """
    constants = {
        (kind, path.partition(".")[2])
        for rule in knowledge.rules
        for condition in (*rule.when, *rule.needs)
        for clause in condition.clauses
        if isinstance(path := clause.fact, str) and clause.op in NUMERIC and isinstance(clause.value, (int, float))
        for kind in kinds_of(path.partition(".")[0])
    }
    rows = knowledge.tables["spreads"]
    return [
        f"{entry.id}.{name}"
        for entry in knowledge.entries.values()
        for name, value in entry.facts.items()
        if (entry.kind, name) in constants
        and name not in DERIVED
        and statement_of(name, value) == "measured"
        and value != 0
        and basis_of(entry.facts, name)[0] not in CITED_BASES
        and not ends(entry.facts, name, rows)
    ]


def _statement_rows(knowledge: Knowledge) -> list[str]:
    """Give the table of kinds of statement."""
    lines = [
        "",
        "A measured number, a rating (how well something stands an exposure: a test settles it) and a judgement (yes",
        "or no, a word, a list: argued for a class) are three kinds of statement. A value has a source; or it has a",
        "spread (its own range, or generic_catalog/spreads.toml), within which `plan --hangs-on` moves it; or neither.",
        "",
        "| statement | values | with a source | with a spread | with neither |",
        "|---|---|---|---|---|",
    ]
    for kind, counts in statements(knowledge).items():
        cells = " | ".join(str(counts[stands]) for stands in ("sourced", "spread", "bare"))
        lines.append(f"| {kind} | {counts.total()} | {cells} |")
    bare = len(compared_bare(knowledge))
    lines += [
        "",
        f"Of the numbers that a rule compares with a constant {bare} have neither. How many first chains hang on",
        "nothing recalled is worked out by `python -m tests.planning.decided --jobs 1000`.",
    ]
    return lines


def markdown(knowledge: Knowledge) -> str:
    """Give the counts as a document."""
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
    lines += _statement_rows(knowledge)
    lines += ["", "| rules | number | " + " | ".join(BASES) + " |", "|---|---|" + "---|" * len(BASES)]
    every = knowledge.rules_by_id.values()
    of_gauge = {"of the gauge itself": [rule for rule in every if rule.of_gauge]}
    by_verdict = {verdict: [r for r in every if r.verdict == verdict and not r.of_gauge] for verdict in VERDICTS}
    for verdict, rules in (by_verdict | of_gauge).items():
        counts = Counter(rule.basis for rule in rules)
        lines.append(f"| {verdict} | {len(rules)} | " + " | ".join(str(counts[basis]) for basis in BASES) + " |")
    seen = sum(bool(source["seen"]) for source in knowledge.sources.values())
    lines += [
        "",
        f"{len(knowledge.entries)} items, {len(every)} rules, {len(knowledge.sources)} sources, of which the",
        f"author had {seen} in hand.",
    ]
    return "\n".join(lines) + "\n"
