"""One value of an item: where its facts hold it, and what it rests on."""

from __future__ import annotations

from typing import NamedTuple

from kb.rules.clauses import Facts, Scene, Value

#: A way to cure an adhesive has facts of its own: `schedules.120c.service_max_c`.
CURES = "schedules"
#: A figure in one unit follows from the one that is stated in another.
_FOLLOWS = (("_mm", "_um"), ("_ue", "_pct"))


class Told(NamedTuple):
    """A value in place of the catalog's: of which fact, what it rests on, and where that is to be found."""

    field: str
    value: Value
    basis: str
    locator: str = ""


def value_of(facts: Facts, field: str) -> Value:
    """Give the value that an item's facts hold under a field, of one of its cures too; None where there is none.

    >>> value_of({"max_c": 80, "schedules": ({"id": "120c", "service_max_c": 120},)}, "schedules.120c.service_max_c")
    120
    """
    if not field.startswith(f"{CURES}."):
        return facts.get(field)
    cure, _, name = field.removeprefix(f"{CURES}.").rpartition(".")
    return next((row.get(name) for row in facts.get(CURES, ()) if row["id"] == cure), None)


def basis_of(facts: Facts, field: str) -> tuple[str, str]:
    """Say what a value rests on, and where that is to be found: as the item says of it, else as the item as a whole.

    >>> rows = ({"fields": ("max_c",), "basis": "dataset", "source": "s"},)
    >>> basis_of({"basis": "memory", "field_basis": rows}, "max_c"), basis_of({"basis": "memory"}, "min_c")
    (('dataset', 's'), ('memory', ''))
    """
    found = (facts.get("basis", "memory"), "")
    for row in facts.get("field_basis", ()):
        if field in row["fields"] or field.partition(".")[0] in row["fields"]:
            found = row["basis"], ", ".join(word for word in (row.get("source"), row.get("locator")) if word)
    return found


def recalled(path: str, scene: Scene) -> bool:
    """Tell whether a number that a rule reads of an item is only recalled, and so is what it follows from.

    >>> recalled("coating.max_c", {"coating": {"basis": "memory", "max_c": 80.0}})
    True
    >>> rows = ({"fields": ("schedules.warm.service_max_c",), "basis": "confirmed", "locator": "own test"},)
    >>> scene = {"adhesive": {"basis": "memory", "field_basis": rows}, "cure": {"id": "warm", "service_max_c": 75.0}}
    >>> recalled("cure.service_max_c", scene)
    False
    """
    role, _, name = path.partition(".")
    facts = scene.get(role) or {}
    value = facts.get(name)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return False
    if role == "cure":
        facts, name = scene.get("adhesive") or {}, f"{CURES}.{facts.get('id')}.{name}"
    names = (name, *(name.removesuffix(here) + there for here, there in _FOLLOWS if name.endswith(here)))
    return "basis" in facts and all(basis_of(facts, each)[0] == "memory" for each in names)
