"""What is asked at the stores' desk before something is written down."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from kb.base.errors import ACT, BadInput, TackroomError
from kb.stock.flags import FactsOf
from kb.stock.log.store import Store
from kb.stock.products import Product, Products, padded
from kb.stock.scan import Code
from kb.stock.shelf import lot_of
from kb.stock.shelf_life import life


class Barred(TackroomError):
    """A lot that must not be used. The user must act: take another, or use it with a reason that is kept."""

    exit_status = ACT


def may_use(store: Store, draft: Mapping[str, Any], facts_of: FactsOf, anyway: bool) -> None:
    """Raise Barred where the lot of a use may not be used when the draft says; with `anyway`, ask for a reason only."""
    if anyway:
        if not draft["reason"]:
            raise BadInput("--reason", "is missing", "say why a lot is used that must not be")
        return
    mark = draft["lot"]
    lot, _ = lot_of(store, mark)
    found = life(lot, facts_of(lot.item), draft["at"])
    if not found.usable and found.state != "empty":
        mend = "take another lot; or, if you must, --anyway with a --reason"
        raise Barred(mark, f"{found.state}: {found.reason}; nothing was recorded", mend)


def receipt(
    given: Mapping[str, Any], code: Code | None, products: Products, resolve: Callable[[str], str]
) -> dict[str, Any]:
    """A receipt from what was typed and what was scanned; what was typed counts before the table of products.

    The item and the amount come from the table where the code's product number is in it. BadInput where something
    is still missing, or where typed and scanned dates differ.
    """
    draft = {name: value for name, value in given.items() if value is not None and value != ""}
    if code is not None:
        pack = _pack(code, products, draft)
        for name in ("made", "expires"):
            scanned = getattr(code, name)
            if scanned and draft.setdefault(name, scanned) != scanned:
                raise BadInput(f"--{name}", f"{draft[name]} is not what the code says ({scanned})", "leave one out")
        draft |= {"lot": draft.get("lot") or code.lot, "gtin": code.gtin}
        if pack is not None:
            amount = (
                {} if "quantity" in draft or pack.quantity is None else {"quantity": pack.quantity, "unit": pack.unit}
            )
            draft = {"item": pack.item} | draft | amount
    for name in ("item", "lot", "quantity", "unit"):
        if not draft.get(name):
            raise BadInput(name, "is missing", "give it, or scan a code that holds it")
    return draft | {"item": resolve(draft["item"])}


def _pack(code: Code, products: Products, draft: Mapping[str, Any]) -> Product | None:
    pack = products.by_gtin.get(padded(code.gtin)) if code.gtin else None
    if pack is None and not draft.get("item"):
        said = f"product {code.gtin} is not in the table of products" if code.gtin else "the code names no product"
        raise BadInput("scan", said, "give the item, or link the number with `stock link`")
    return pack


def changes(assignments: Iterable[str]) -> dict[str, str | None]:
    """Fields and their right values from "field=value"; an empty value means unknown.

    >>> changes(["expires=2027-12-31", "location="])
    {'expires': '2027-12-31', 'location': None}
    """
    found: dict[str, str | None] = {}
    for assignment in assignments:
        name, sign, value = assignment.partition("=")
        if not sign or not name.strip():
            raise BadInput("--set", f"'{assignment}' is not FIELD=VALUE", "such as expires=2027-12-31")
        found[name.strip()] = value.strip() or None
    return found
