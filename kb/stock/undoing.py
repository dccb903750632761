"""What takes an event back, found by the event's number alone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kb.base.errors import BadInput
from kb.stock.fold import present_names
from kb.stock.ledger import Ledger


def undone(ledger: Ledger, number: int, head: Mapping[str, Any]) -> dict[str, Any]:
    """Give the correction by which an event never happened; `head` says when, by whom and why.

    What took an event back is itself taken back: then that happened after all. BadInput where the event can't be.
    """
    with ledger.looking() as look:
        event = next((one for one in look.documents("stock") if one["id"] == number), None)
        if event is None:
            raise BadInput(f"event {number}", "there is no such event", "see `stock history LOT`")
        mark = present_names(look.shelf)(event["lot"], number) or event["lot"]
    draft = {"type": "corrected", **head, "lot": mark, "corrects": number, "void": True}
    if event["type"] == "renamed":
        mend = f"rename it back: `stock rename {event['to']} {event['lot']}`"
        raise BadInput(f"event {number}", "gave a lot another name", mend)
    if event["type"] == "corrected":
        if event.get("void") is None:
            mend = f"say what is right: `stock correct {mark} {event['corrects']} --set FIELD=VALUE`"
            raise BadInput(f"event {number}", f"corrects event {event['corrects']}", mend)
        return draft | {"corrects": event["corrects"], "void": not event["void"]}
    return draft
