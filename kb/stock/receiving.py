"""What is asked before something is written down: what a receipt lacks, whether a lot may be used, what was typed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from kb.base.errors import ACT, BadInput, TackroomError
from kb.base.units import to_unit
from kb.stock.admission import must_be_dated_sanely
from kb.stock.amounts import measures, unit_named
from kb.stock.flags import FactsOf
from kb.stock.items import Items
from kb.stock.ledger import Ledger
from kb.stock.lots import Lot
from kb.stock.products import Product, Products, padded
from kb.stock.scan import Code
from kb.stock.shelf_life import life


class Barred(TackroomError):
    """A lot that must not be used. The user must act: take another, or use it with a reason that is kept."""

    exit_status = ACT


def may_use(
    ledger: Ledger, draft: Mapping[str, Any], facts_of: FactsOf, anyway: bool, today: str, ahead: bool = False
) -> None:
    """Raise Barred where the lot of a use may not be used when the draft says; with `anyway`, ask for a reason only."""
    must_be_dated_sanely(draft, "", today, ahead)
    if anyway:
        if not draft["reason"]:
            raise BadInput("--reason", "is missing", "say why a lot is used that must not be")
        return
    mark = draft["lot"]
    lot = ledger.lot(mark, draft["at"])
    found = life(lot, facts_of(lot.item), draft["at"])
    if found.barred:
        mend = "take another lot; or, if you must, --anyway with a --reason"
        raise Barred(mark, f"{found.state}: {found.reason}; nothing was recorded", mend)


def receipt(given: Mapping[str, Any], code: Code | None, products: Products, items: Items) -> dict[str, Any]:
    """Give a receipt from what was typed and what was scanned; what was typed counts before the table of products.

    The item and the amount come from the table where the code's product number is in it. BadInput where something
    is still missing, where typed and scanned dates differ, or where the unit isn't one for the item.
    """
    draft = {name: value for name, value in given.items() if value is not None and value != ""}
    if code is not None:
        pack = _pack(code, products, draft)
        for name in ("made", "expires"):
            scanned = getattr(code, name)
            if scanned and draft.setdefault(name, scanned) != scanned:
                raise BadInput(f"--{name}", f"{draft[name]} is not what the code says ({scanned})", "leave one out")
        draft |= {"lot": draft.get("lot") or code.lot, "gtin": code.gtin}
        if code.lot and draft["lot"] != code.lot:
            # The container has a name of its own; the maker's lot is what it shares with others.
            draft.setdefault("batch", code.lot)
        if pack is not None:
            amount = (
                {} if "quantity" in draft or pack.quantity is None else {"quantity": pack.quantity, "unit": pack.unit}
            )
            draft = {"item": pack.item} | draft | amount
    for name in ("item", "lot", "quantity", "unit"):
        if not draft.get(name):
            raise BadInput(name, "is missing", "give it, or scan a code that holds it")
    item = items.resolve(draft["item"])
    quantity, unit = items.amount(item, draft["quantity"], draft["unit"])
    return draft | {"item": item, "quantity": quantity, "unit": unit}


def _pack(code: Code, products: Products, draft: Mapping[str, Any]) -> Product | None:
    pack = products.by_gtin.get(padded(code.gtin)) if code.gtin else None
    if pack is None and not draft.get("item"):
        said = f"product {code.gtin} is not in the table of products" if code.gtin else "the code names no product"
        raise BadInput("scan", said, "give the item, or link the number with `stock link`")
    return pack


def in_its_unit(lot: Lot, draft: dict[str, Any], items: Items) -> dict[str, Any]:
    """Give a use or a count in a unit that converts to the lot's: by density, where weight and volume meet."""
    try:
        unit = unit_named(draft["unit"])
    except ValueError:
        return draft  # the ledger says what is wrong with it
    if {measures(unit), measures(lot.unit)} != {"mass", "volume"}:
        return draft
    quantity, unit = items.amount(lot.item, draft["quantity"], unit)
    return draft | {"quantity": quantity, "unit": unit}


def degrees(words: str | float | None, where: str) -> float | None:
    """Read a temperature [degC], which may have its unit with it ("41 degF"). BadInput names it by `where`."""
    if words is None or words == "":
        return None
    try:
        return to_unit(words, "degC")
    except ValueError as fault:
        raise BadInput(where, str(fault)) from None


def changes(assignments: Iterable[str]) -> dict[str, str | None]:
    """Read fields and their right values from "field=value"; an empty value means unknown.

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
