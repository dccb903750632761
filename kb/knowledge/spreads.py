"""How far a value of an item may lie from the truth: its own range, else what its class of fields usually spreads.

>>> lacquer = {"basis": "memory", "max_c": 80.0, "full_cure_min": 360.0, "ranges": {"full_cure_min": (120.0, 360.0)}}
>>> rows = ({"fields": ("max_c", "full_cure_min"), "plus": 10.0},)
>>> ends(lacquer, "max_c", rows), ends(lacquer, "full_cure_min", rows), ends(lacquer, "name", rows)
((70.0, 90.0), (120.0,), ())
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from kb.base.errors import BadInput
from kb.base.files import read_toml
from kb.knowledge.tables import SpreadRow
from kb.rules.clauses import Facts, Value
from kb.rules.values import basis_of, value_of

#: What a value may rest on that nothing from outside has settled.
UNSETTLED = ("memory", "common-practice", "computed")
#: What a row says of how far apart: exactly one of these.
_WAYS = ("plus", "share_pct", "steps")


def load_spreads(path: Path) -> list[dict[str, Any]]:
    """Load the table of spreads; BadInput where a row doesn't say in exactly one way how far."""
    shown = f"{path.parent.name}/{path.name}"
    rows: list[dict[str, Any]] = read_toml(path, shown).get("spreads", [])
    for row in rows:
        if len([way for way in _WAYS if way in row]) != 1 or not row.get("fields"):
            raise BadInput(
                shown, f"{row.get('fields')}: says not in one way how far", f"give one of {', '.join(_WAYS)}"
            )
    return rows


def ends(facts: Facts, field: str, rows: Sequence[SpreadRow]) -> tuple[Value, ...]:
    """Give the ends of a value's spread, apart from the value itself; none where it is certain or not looked at."""
    value = value_of(facts, field)
    if value is None or isinstance(value, bool):
        return ()
    if field in facts.get("ranges", {}):
        return tuple(end for end in facts["ranges"][field] if end != value)
    row = _row(field, rows)
    if row is None or basis_of(facts, field)[0] not in UNSETTLED:
        return ()
    if "steps" in row:
        return _neighbours(value, row["steps"])
    if not isinstance(value, (int, float)):
        return ()
    by = row["plus"] if "plus" in row else abs(value) * row["share_pct"] / 100
    return (round(value - by, 9), round(value + by, 9)) if by else ()


def _row(field: str, rows: Sequence[SpreadRow]) -> SpreadRow | None:
    """Find the row of a field: by its whole name, by its last part, or of a table by the table's name."""
    names = {field, field.rpartition(".")[2], field.partition(".")[0] if field.count(".") == 1 else field}
    return next((row for row in rows if names.intersection(row["fields"])), None)


def _neighbours(value: Value, steps: Sequence[str]) -> tuple[str, ...]:
    if value not in steps:
        return ()
    at = steps.index(value)
    return tuple(steps[place] for place in (at - 1, at + 1) if 0 <= place < len(steps))
