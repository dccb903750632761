"""Give catalog values the source that a table of published values names for them: `python -m tests.outside.adopt`.

`adopted.csv` holds item, field, published value, source and locator. Where the catalog's value agrees within the
tolerance and cites nothing, the item's file gets the citation, and the value stays. Where it disagrees, that is
printed, and nothing is written: which of the two is right is for a person to say.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import NamedTuple

from kb import knowledge
from kb.base.places import shipped
from kb.base.vocabulary import CITED_BASES
from kb.knowledge import Knowledge
from kb.rules.values import basis_of, value_of

TABLE = Path(__file__).with_name("adopted.csv")
#: Two figures of one quantity that differ by no more than this share agree.
TOLERANCE = 0.02


class Published(NamedTuple):
    """One published value of a field of an item, and where it stands."""

    item: str
    field: str
    value: float
    source: str
    locator: str


def published() -> list[Published]:
    """Read the table."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        return [
            Published(r["item"], r["field"], float(r["value"]), r["source"], r["locator"]) for r in csv.DictReader(file)
        ]


def agrees(row: Published, known: Knowledge) -> bool:
    """Tell whether the catalog's value is the published one, within the tolerance."""
    ours = value_of(known.entry(row.item).facts, row.field)
    return abs(float(ours) - row.value) <= TOLERANCE * max(abs(row.value), 1e-9)


def citation(row: Published, basis: str) -> str:
    """Write the lines that cite a value in its item's file."""
    return (
        f'\n[[field_basis]]\nfields = ["{row.field}"]\nbasis = "{basis}"\n'
        f'source = "{row.source}"\nlocator = "{row.locator}"\n'
    )


def main() -> None:
    """Cite what agrees and cites nothing; print what disagrees."""
    known = knowledge.load()
    _, catalog = shipped()
    for row in published():
        entry = known.entry(row.item)
        if not agrees(row, known):
            print(f"{row.item}.{row.field}: {value_of(entry.facts, row.field)} here, {row.value} in {row.source}")
        elif basis_of(entry.facts, row.field)[0] not in CITED_BASES:
            path = catalog / entry.kind / f"{row.item}.toml"
            text = path.read_text(encoding="utf-8").rstrip("\n") + "\n"
            path.write_text(text + citation(row, known.sources[row.source]["kind"]), encoding="utf-8")
            print(f"{row.item}.{row.field}: cites {row.source} now")


if __name__ == "__main__":
    main()
