"""One value of an item: where its facts hold it, and what it rests on."""

from __future__ import annotations

from typing import NamedTuple

from kb.rules.clauses import Facts, Value

#: A way to cure an adhesive has facts of its own: `schedules.120c.service_max_c`.
CURES = "schedules"


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
