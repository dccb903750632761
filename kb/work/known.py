"""The knowledge as a lab has it: the catalog, its own items and rules, and the values that it has confirmed."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from kb import knowledge
from kb.base.places import keeps_ledger
from kb.knowledge import Knowledge

if TYPE_CHECKING:
    from kb.stock.ledger import Ledger


def load(workspace: Path | None, today: str, ledger: Ledger | None = None) -> Knowledge:
    """Load the knowledge with the values in place that the workspace has confirmed and that count today.

    A value that no longer counts, or not yet, is told in the notes of every answer. What was confirmed is read in
    `ledger`, if the workspace's is open. Raises BadInput and StoreError.
    """
    known = knowledge.load(workspace)
    if workspace is None or not keeps_ledger(workspace):
        return known
    from kb.stock.workspace import ledger_of

    ledger = ledger or ledger_of(workspace)
    # The models of what was confirmed are loaded only where something was.
    if not ledger.standing().counts.get("confirmed"):
        return known
    from kb.knowledge.changed import with_values
    from kb.work.confirming import by_two, kept, told

    found = kept(ledger)

    second = by_two(workspace)
    here = [one for one in found if one.body["item"] in known.entries]
    idle = [(one, why) for one in here if (why := one.standing(today, second))]
    notes = [f"{one.fact}: {one.words()} does not count: {why}." for one, why in idle]
    changed = with_values(known, told(here, today, second))
    # Who keeps answers by the knowledge that they rest on has to see that a value ceased to count, and why.
    digest = hashlib.sha256("\n".join((changed.digest, *notes)).encode()).hexdigest() if notes else changed.digest
    return replace(changed, notes=(*changed.notes, *notes), digest=digest)
