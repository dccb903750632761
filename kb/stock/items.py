"""What stands on the shelf, in the catalog's terms: names to item ids, ids to facts, and amounts in an item's own unit.

A house item (what is really there, under the lab's own name) is a catalog item of the workspace that is `like` a
generic one; the limits on its data sheet, which it carries, stand in the place of the class's.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from functools import cached_property
from pathlib import Path
from typing import Any

from kb.base.errors import BadInput, nearest
from kb.base.vocabulary import KINDS
from kb.knowledge import Entry, Knowledge
from kb.knowledge.called import key_of
from kb.materials import identify
from kb.quantities.counted import density_g_ml, unit_of
from kb.stock import amounts

#: Kinds that are kept in stock.
STOCKED = tuple(kind for kind in KINDS if kind not in ("substrate", "substance"))
#: So many items are named where words may mean several.
MOST_OFFERED = 6


class Items:
    """The items that stock may be of, from the shipped catalog and the workspace's own."""

    def __init__(self, known: Knowledge) -> None:
        self._known = known

    @classmethod
    def load(
        cls, workspace: Path | None, tell: Callable[[str], None], load: Callable[[Path | None], Knowledge]
    ) -> Items:
        """Load the items of the catalog and of the workspace, with `load`.

        Where a file of the lab's own is broken the shelf can still be looked at: `tell` hears of the fault, and the
        lab's own items are unknown.
        """
        try:
            return cls(load(workspace))
        except BadInput as fault:
            tell(f"{fault} (until then the lab's own items are not known)")
            return cls(load(None))

    def resolve(self, words: str) -> str:
        """Give the id of the item of that id or name. BadInput with what is near: stock is not put down to a guess."""
        found = self._known.called.get(key_of(words)) or self._by_name.get(identify.folded(words))
        if found is not None:
            return found
        several = self._several(words)
        if len(several) > 1:
            more = f" or one of {len(several) - MOST_OFFERED} more" if len(several) > MOST_OFFERED else ""
            raise BadInput(
                "",
                f"'{words}' may be any of {len(several)} items",
                f"write which the container is: {', '.join(several[:MOST_OFFERED])}{more}; see `tackroom list`",
            )
        near = several or [match.entry.id for match in identify.identify(words, self._known, STOCKED, most=3)]
        mend = f"near: {', '.join(near)}" if near else "see `tackroom list`"
        raise BadInput("", f"'{words}' is no item that is known", mend)

    def _several(self, words: str) -> list[str]:
        """List the items that a word of the bench stands for ("super glue"); none where it stands for nothing kept."""
        from kb.materials.asked import readings

        try:
            found = readings(words, self._known, "")
        except BadInput:
            return []
        return [entry.id for reading in found for entry in reading.members if entry.kind in STOCKED]

    def facts(self, item: str) -> Mapping[str, Any]:
        """Tell what is known of an item; nothing, where the catalog no longer has it."""
        entry = self._known.entries.get(item)
        return entry.facts if entry else {}

    def name(self, item: str) -> str:
        """Tell what an item is called; its id, where the catalog no longer has it."""
        entry = self._known.entries.get(item)
        return entry.name if entry else item

    def amount(self, item: str, quantity: Any, unit: str) -> tuple[str, str]:
        """Give an amount in a unit that converts to the one in which the estimate counts the item.

        Between weight and volume it goes by the item's density, where that is known. BadInput, with what would do,
        where there is no way.
        """
        try:
            number, named = amounts.metric(amounts.amount(quantity), amounts.unit_named(unit))
        except ValueError as fault:
            raise BadInput("quantity", str(fault)) from None
        entry = self._known.entries.get(item)
        own = None if entry is None else unit_of(entry, self._known)
        own = None if own is None else amounts.unit_named(own)
        if amounts.measures(named) and own in (None, named):
            return amounts.text(number), named
        if entry is not None and own is not None:
            if amounts.measures(named) == amounts.measures(own):
                return amounts.text(number), named
            if {amounts.measures(named), amounts.measures(own)} == {"mass", "volume"}:
                return self._by_density(entry, number, named, own), own
        if own is None:
            near = nearest(named, amounts.known_units())
            raise BadInput("unit", f"'{unit}' is no known unit", near or "give it in mL, g, cm, cm2 or pcs")
        if entry is not None and amounts.measures(named) == "area" and entry.facts.get("form") == "film":
            said = f"a film is counted by weight, in {own}, and its label alone says what {entry.id} weighs per area"
            raise BadInput("unit", said, f"weigh it, or give the {named} times the label's g/m2, in {own}")
        units = ", ".join(amounts.of_same_kind(own))
        raise BadInput("unit", f"'{unit}' does not convert to {own}, in which {item} is counted", f"give it in {units}")

    def _by_density(self, entry: Entry, number: Decimal, unit: str, own: str) -> str:
        density = density_g_ml(entry, self._known)
        if density is None:
            said = f"{unit} can't be converted to {own}: the density of {entry.id} is not known"
            raise BadInput("unit", said, f"give it in {own}; or write density_g_ml into the lab's own item")
        exact = Decimal(str(density))
        if own == "g":
            grams = amounts.convert(number, unit, "mL") * exact
            return amounts.text(round(grams, 3))
        return amounts.text(round(amounts.convert(number, unit, "g") / exact, 3))

    @cached_property
    def _by_name(self) -> dict[str, str]:
        entries: list[Entry] = [e for kind in STOCKED for e in self._known.by_kind.get(kind, ())]
        named = {name: entry.id for entry in reversed(entries) for name in identify.names_of(entry)}
        return named | {identify.folded(entry.id): entry.id for entry in entries}
