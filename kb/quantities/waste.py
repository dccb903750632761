"""What is thrown away, sorted by the kinds that must be kept apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum
from typing import Any

from kb.quantities.usage import Use

_WET = ("mL", "g")


@dataclass(frozen=True)
class Stream:
    """One bin: the kinds that its contents are of, what goes in, how much by unit, and how it is kept."""

    kinds: tuple[str, ...]
    items: tuple[str, ...]
    amounts: Mapping[str, float]
    keep: tuple[str, ...]


def streams(
    thrown: Sequence[tuple[Use, float, float]],
    table: Sequence[Mapping[str, Any]],
    by_kind: Mapping[str, Any],
    dusty: bool,
) -> list[Stream]:
    """Give the bins for what is used up: each use with its net amount and what is lost beside it, in its unit.

    `table` holds the kinds of waste, `by_kind` which kinds of thing stay, soak or are none; `dusty`: the part has
    hazardous dust. Wipes, swabs and papers are of the kinds of the liquids that they are used with. What is used
    again, and what stays on the part, is no waste.
    """
    wet: dict[str, set[str]] = {}
    for use, _, _ in thrown:
        if use.unit in _WET:
            wet.setdefault(use.stage, set()).update(_own(use, table))
    bins: dict[tuple[str, ...], dict[str, list[tuple[str, float]]]] = {}
    for use, net, lost in thrown:
        amount = lost if use.entry.kind in by_kind["stays"] else net + lost
        if use.reused or use.entry.kind in by_kind["apart"] or amount <= 0:
            continue
        kinds = _own(use, table)
        if use.entry.kind in by_kind["soaks"]:
            kinds |= wet.get(use.stage, set())
            if dusty:
                kinds |= {row["kind"] for row in table if use.stage in row["dust_stages"]}
        bins.setdefault(tuple(sorted(kinds)), {}).setdefault(use.unit, []).append((use.entry.id, amount))
    keep = {row["kind"]: row["do"] for row in table}
    return [
        Stream(
            kinds or ("ordinary",),
            tuple(sorted({item for rows in units.values() for item, _ in rows})),
            {unit: fsum(amount for _, amount in units[unit]) for unit in sorted(units)},
            tuple(keep[kind] for kind in kinds),
        )
        for kinds, units in sorted(bins.items())
    ]


def _own(use: Use, table: Sequence[Mapping[str, Any]]) -> set[str]:
    """Give the kinds that the item itself is of."""
    hazards = set(use.entry.facts.get("hazards", ()))
    return {row["kind"] for row in table if hazards & set(row["hazards"]) or use.entry.id in row["aids"]}
