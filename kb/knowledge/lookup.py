"""What identify looks words up in, made once with the knowledge: names, and the facts that tell items apart.

What only a likeness needs is packed: a plan for a material that is called by its name doesn't unpack it.
"""

from __future__ import annotations

import marshal
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING

from kb.base.lexicon import Lexicon, squeezed
from kb.rules.clauses import Facts, Ref
from kb.rules.roles import kinds_of
from kb.rules.rule import Rule

if TYPE_CHECKING:
    from kb.knowledge.tables import LikenessTable, NamesTable, ToldApart


def by_name(items: Mapping[str, Facts], words: Facts) -> NamesTable:
    """List the items of each name in one run (`runs`), and, packed, what `unpacked` gives.

    `items` holds the facts of every item by id, `words` the spellings.
    """
    lexicon = Lexicon(words)
    families = {family: lexicon.atoms(family) for family in dict.fromkeys(known["family"] for known in items.values())}
    names: dict[str, tuple[tuple[str, ...], ...]] = {}
    runs: dict[str, dict[str, None]] = {}
    atoms: dict[str, dict[str, None]] = {}
    for item, known in items.items():
        called = (lexicon.atoms(name) for name in (item, known["name"], *known["aliases"]))
        names[item] = tuple(dict.fromkeys(name for name in called if name))
        for name in names[item]:
            runs.setdefault(squeezed(name), {})[item] = None
        for atom in (*(atom for name in names[item] for atom in name), *families[known["family"]]):
            atoms.setdefault(atom, {})[item] = None
    likeness = {"names": names, "families": families, "atoms": {atom: tuple(found) for atom, found in atoms.items()}}
    return {"runs": {run: tuple(found) for run, found in runs.items()}, "packed": marshal.dumps(likeness)}


@lru_cache(maxsize=2)
def unpacked(packed: bytes) -> LikenessTable:
    """Unpack `names` of each item and of the `families` as atoms (see kb.base.lexicon), and items by word: `atoms`.

    A family's words find its items too.
    """
    found: LikenessTable = marshal.loads(packed)
    return found


def told_apart(rules: Iterable[Rule]) -> ToldApart:
    """List what rules tell items apart by: facts by kind (`read`), and the ids that a rule names (`singled`).

    Two items of a kind that agree in all of it are handled alike.
    """
    from kb.job import FROM_SUBSTRATE  # with its models: not for those who only look a word up

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
