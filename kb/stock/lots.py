"""A lot as it stands, and what each type of event does to it.

An amount never goes below zero; what is condemned is not used; nothing is opened twice. Each rule takes a lot and an
event and gives the lot after it, or says what stands against it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any, NamedTuple

from kb.base.errors import BadInput
from kb.stock.amounts import convert, text

Event = Mapping[str, Any]


class Refused(BadInput):
    """An event that the lot's history doesn't allow."""

    event: Event | None = None


class Logged(NamedTuple):
    """A stretch of logged storage: its first and last moment, the days of life it cost (None: unknown)."""

    since: str
    until: str
    spent_days: float | None


class Lot(NamedTuple):
    """One container or delivery as it stands. Dates are canonical text; None where unknown or not happened.

    `batch`: the maker's lot, where the container has a name of its own. `accepted`: somebody decided, by a release or
    a test, that its storage as it is now will do. `used`: what was used of it on each day, in its unit, as the text of
    a decimal number: most commands don't reckon with it. `begun`, `events` and `names`: the number of its receipt, how
    many events it has, and the names that it bore before, each with the number of the event that took it away.
    """

    lot: str
    item: str
    quantity: Decimal
    unit: str
    since: str
    received: str | None = None
    made: str | None = None
    expires: str | None = None
    storage_c: float | None = None
    location: str = ""
    gtin: str | None = None
    batch: str = ""
    opened: str | None = None
    thawed: str | None = None
    mixed: str | None = None
    logged: tuple[Logged, ...] = ()
    excursion: str = ""
    accepted: bool = False
    requalified: str | None = None
    requalified_until: str | None = None
    condemned: str = ""
    held: str = ""
    disposed: str | None = None
    used: tuple[tuple[str, str], ...] = ()
    last_at: str = ""
    begun: int = 0
    events: int = 0
    names: tuple[tuple[str, int], ...] = ()


def received(event: Event) -> Lot:
    """Give the lot that a receipt makes."""
    get = event.get
    return Lot(
        lot=event["lot"],
        item=event["item"],
        quantity=Decimal(event["quantity"]),
        unit=event["unit"],
        since=event["at"],
        received=get("received"),
        made=get("made"),
        expires=get("expires"),
        storage_c=get("storage_c"),
        location=get("location", ""),
        gtin=get("gtin"),
        batch=get("batch", ""),
        last_at=event["at"],
        begun=get("id", 0),
    )


def after(lot: Lot, event: Event) -> Lot:
    """Give the lot after an event that happened to it last. Raises Refused."""
    try:
        found = _RULES[event["type"]](lot, event)
    except Refused as fault:
        fault.event = event
        raise
    return found._replace(last_at=max(lot.last_at, event["at"]))


def _again(lot: Lot, event: Event) -> Lot:  # noqa: ARG001
    mend = (
        f"name this one otherwise, such as '{lot.lot}-2'; of the same maker's lot, with --batch {lot.batch or lot.lot}"
    )
    raise Refused(lot.lot, "there is a lot of that name already", mend)


def _whole(lot: Lot, what: str, before: str | None) -> None:
    if lot.condemned:
        raise Refused(lot.lot, f"is condemned ({lot.condemned})")
    if lot.quantity == 0:
        raise Refused(lot.lot, "is empty", "count it if it isn't")
    if before is not None:
        raise Refused(lot.lot, f"was {what} already, {before}", "correct that event if it is wrong")


def _opened(lot: Lot, event: Event) -> Lot:
    _whole(lot, "opened", lot.opened)
    return lot._replace(opened=event["at"])


def _thawed(lot: Lot, event: Event) -> Lot:
    _whole(lot, "thawed", lot.thawed)
    return lot._replace(thawed=event["at"])


def _mixed(lot: Lot, event: Event) -> Lot:
    _whole(lot, "mixed", lot.mixed)
    return lot._replace(mixed=event["at"])


def _in_its_unit(lot: Lot, event: Event) -> Decimal:
    try:
        return convert(Decimal(event["quantity"]), event["unit"], lot.unit)
    except ValueError as error:
        raise Refused(lot.lot, str(error), f"give the amount in {lot.unit}") from None


def _used(lot: Lot, event: Event) -> Lot:
    if lot.condemned:
        raise Refused(lot.lot, f"is condemned ({lot.condemned})", "what is thrown away is disposed of")
    amount, day = _in_its_unit(lot, event), event["at"][:10]
    if amount > lot.quantity:
        asked, there = f"{event['quantity']} {event['unit']}", f"{text(lot.quantity)} {lot.unit}"
        raise Refused(lot.lot, f"{asked} asked for, and {there} are left", "use what is left, or count the lot")
    *earlier, (last, before) = lot.used or (("", "0"),)
    used = (*earlier, (day, text(Decimal(before) + amount))) if last == day else (*lot.used, (day, text(amount)))
    return lot._replace(quantity=lot.quantity - amount, used=used)


def _counted(lot: Lot, event: Event) -> Lot:
    return lot._replace(quantity=_in_its_unit(lot, event), disposed=None)


def _disposed(lot: Lot, event: Event) -> Lot:
    if lot.quantity == 0:
        raise Refused(lot.lot, "is empty already")
    return lot._replace(quantity=Decimal(0), disposed=event["at"])


def _moved(lot: Lot, event: Event) -> Lot:
    return lot._replace(location=event["location"], storage_c=event.get("storage_c"), accepted=False)


def _temperature_logged(lot: Lot, event: Event) -> Lot:
    if lot.logged and event["since"] < lot.logged[-1].until:
        raise Refused(lot.lot, f"its storage is logged up to {lot.logged[-1].until} already")
    logged = (*lot.logged, Logged(event["since"], event["until"], event.get("spent_days")))
    found = event.get("excursion", "")
    return lot._replace(logged=logged, excursion=found or lot.excursion, accepted=lot.accepted and not found)


def _requalified(lot: Lot, event: Event) -> Lot:
    if lot.condemned:
        raise Refused(lot.lot, f"is condemned ({lot.condemned})", "condemned stock is not requalified")
    if event["until"] < event["at"][:10]:
        raise Refused(lot.lot, f"a new last day of {event['until']} is before the test ({event['at'][:10]})")
    return lot._replace(requalified=event["at"], requalified_until=event["until"], excursion="", accepted=True)


def _released(lot: Lot, event: Event) -> Lot:  # noqa: ARG001
    if lot.condemned:
        raise Refused(lot.lot, f"is condemned ({lot.condemned})", "condemned stock is not released")
    return lot._replace(excursion="", accepted=True)


def _held(lot: Lot, event: Event) -> Lot:
    if lot.held:
        raise Refused(lot.lot, f"is on hold already ({lot.held})")
    return lot._replace(held=event["reason"])


def _freed(lot: Lot, event: Event) -> Lot:  # noqa: ARG001
    if not lot.held:
        raise Refused(lot.lot, "is not on hold")
    return lot._replace(held="")


def _condemned(lot: Lot, event: Event) -> Lot:
    if lot.condemned:
        raise Refused(lot.lot, f"is condemned already ({lot.condemned})")
    return lot._replace(condemned=event["reason"])


_RULES: dict[str, Callable[[Lot, Event], Lot]] = {
    "received": _again,
    "opened": _opened,
    "thawed": _thawed,
    "mixed": _mixed,
    "used": _used,
    "counted": _counted,
    "disposed": _disposed,
    "moved": _moved,
    "temperature-logged": _temperature_logged,
    "requalified": _requalified,
    "released": _released,
    "held": _held,
    "freed": _freed,
    "condemned": _condemned,
}
