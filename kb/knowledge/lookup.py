"""What identify looks words up in, made once with the knowledge: names, and the facts that tell items apart.

What only a likeness needs is packed: a plan for a material that is called by its name doesn't unpack it.
"""

from __future__ import annotations

import marshal
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, cast

from kb.base.lexicon import Lexicon, squeezed
from kb.rules.clauses import Facts, Ref
from kb.rules.job_facts import FROM_SUBSTRATE
from kb.rules.roles import kinds_of
from kb.rules.rule import Rule

if TYPE_CHECKING:
    from kb.knowledge.name_tables import ClassMeant, LikenessTable, NamesTable, ToldApart, WordsTable


def by_name(items: Mapping[str, Facts], words: WordsTable, grades: Iterable[Facts] = ()) -> NamesTable:
    """List the items by `runs` of a name, what is shared (`several`), `classes`, words of `families`, and `packed`.

    `items` holds the facts of every item by id, `words` the spellings, `grades` the designations of standards by item.
    """
    lexicon = Lexicon(words)
    families = {family: lexicon.atoms(family) for family in dict.fromkeys(known["family"] for known in items.values())}
    designations: dict[str, list[str]] = {}
    for row in grades:
        designations.setdefault(row["item"], []).extend(row["names"])
    names: dict[str, tuple[tuple[str, ...], ...]] = {}
    runs: dict[str, dict[str, None]] = {}
    atoms: dict[str, dict[str, None]] = {}
    for item, known in items.items():
        written = (item, known["name"], *known["aliases"], *designations.get(item, ()))
        called = (lexicon.atoms(name) for name in written)
        names[item] = tuple(dict.fromkeys(name for name in called if name))
        for name in names[item]:
            runs.setdefault(squeezed(name), {})[item] = None
        for atom in (*(atom for name in names[item] for atom in name), *families[known["family"]]):
            atoms.setdefault(atom, {})[item] = None
    likeness = {"names": names, "atoms": {atom: tuple(found) for atom, found in atoms.items()}}
    return {
        "runs": {run: tuple(found) for run, found in runs.items()},
        "several": {
            squeezed(lexicon.atoms(w)): tuple(r["may_be"]) for r in words.get("several", ()) for w in r["words"]
        },
        "classes": tuple(_classes(items.values(), words, lexicon)),
        "families": families,
        "packed": marshal.dumps(likeness),
    }


def _classes(items: Iterable[Facts], words: WordsTable, lexicon: Lexicon) -> Iterator[ClassMeant]:
    """List the classes of words.toml, then every family of several items by its name; `atoms` are their names."""
    for row in words.get("classes", ()):
        yield cast("ClassMeant", {"kind": "substrate", **row, "atoms": tuple(map(lexicon.atoms, row["words"]))})
    counted = Counter((known.get("kind", ""), known["family"]) for known in items)
    usual = {row["family"]: row for row in reversed(words.get("classes", ())) if "only" not in row}
    for (kind, family), number in counted.items():
        if number > 1:
            named = {"words": (family,), "family": family, "atoms": (lexicon.atoms(family),)}
            own: Facts = {**usual[family]} if kind == "substrate" and family in usual else {}
            yield cast("ClassMeant", {**own, "kind": kind, **named, "of": "family"})


@lru_cache(maxsize=2)
def unpacked(packed: bytes) -> LikenessTable:
    """Unpack `names` of each item as atoms (see kb.base.lexicon), and the items by word: `atoms`.

    A family's words find its items too.
    """
    found: LikenessTable = marshal.loads(packed)
    return found


def told_apart(rules: Iterable[Rule]) -> ToldApart:
    """List what rules tell items apart by: facts by kind (`read`), and the ids that a rule names (`singled`).

    Two items of a kind that agree in all of it are handled alike.
    """
    read: dict[str, set[str]] = {"substrate": set(FROM_SUBSTRATE)}
    singled: set[str] = set()
    for rule in rules:
        for path in rule.facts():
            role, _, name = path.partition(".")
            for kind in kinds_of(role):
                read.setdefault(kind, set()).add("schedules" if role == "cure" else name)
        for condition in (*rule.when, *rule.needs):
            for clause in condition.clauses:
                if isinstance(clause.fact, str) and clause.fact.endswith(".id") and not isinstance(clause.value, Ref):
                    singled |= {clause.value} if isinstance(clause.value, str) else set(clause.value)
    return {
        "read": {kind: tuple(sorted(names - {"id", "name", "present"})) for kind, names in sorted(read.items())},
        "singled": tuple(sorted(singled)),
    }
