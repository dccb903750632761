"""Conflict and relaxations, in JSON and in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from kb.engine.plan import Chain
from kb.engine.slots import SLOTS
from kb.words import shown

if TYPE_CHECKING:
    # Only where there is no chain: a plan that has one doesn't load the search for conflicts.
    from kb.engine.conflict import Relaxation, Trouble

ITEM_SLOTS = tuple(slot for slot in SLOTS if not slot.startswith("coating"))


def items_of(chain: Chain) -> dict[str, Any]:
    """Item id by slot; None for an empty slot; coatings innermost first."""
    items: dict[str, Any] = {slot: chain.pick(slot).id or None for slot in ITEM_SLOTS}
    return {**items, "coatings": [coat.id for coat in chain.coatings]}


def conflict_json(trouble: Trouble) -> list[dict[str, Any]]:
    """The requirements of the conflict; the substrate itself where letting go of everything else would not help."""
    found = [{"field": r.field, "value": r.asked} for r in trouble.conflict]
    return found or [{"field": "part.substrate", "value": trouble.substrate}]


def relaxation_json(relaxation: Relaxation) -> dict[str, Any]:
    """The changes, the chain that they give, and both in a sentence."""
    return {
        "change": [{"field": field, "from": old, "to": new} for field, old, new in relaxation.changes],
        "gives": items_of(relaxation.gives),
        "message": relaxation_words(relaxation),
    }


def relaxation_words(relaxation: Relaxation) -> str:
    """The changes in one sentence."""
    said = " and ".join(_said(*change) for change in relaxation.changes)
    adhesive = relaxation.gives.pick("adhesive").entry
    return f"{said[0].upper()}{said[1:]}: then {adhesive.name if adhesive else 'a chain'} serves."


def _said(field: str, old: Any, new: Any) -> str:
    name, _, word = field.partition(": ")
    if word:
        return f"do without {word} ({name})"
    if new is None:
        return f"do without {name} (asked: {shown(old)})"
    return f"change {name} from {shown(old)} to {shown(new)}"


def conflict_words(trouble: Trouble) -> str:
    """What can't all be met, in one sentence."""
    if not trouble.conflict:
        return f"No chain is known for {trouble.substrate}, whatever else is let go."
    asked = [f"{r.field} = {shown(r.asked)}" if ": " not in r.field else r.field for r in trouble.conflict]
    if len(asked) == 1:
        return f"This can't be met on {trouble.substrate}: {asked[0]}."
    return f"These can't all be met on {trouble.substrate}: {', '.join(asked[:-1])} and {asked[-1]}."
