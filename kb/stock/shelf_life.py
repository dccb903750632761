"""How long a lot may be used, what limits it, and the state that it is in on a day.

Sealed, opened, thawed and mixed life run beside each other, and the earliest end counts. The date on the
container stands for its sealed life; where none was recorded, the class's shelf life from the day of making
does. A lot may be used through its last day. A test gives the lot as it stands a new last day, in place of every
limit that began before it. Life that warm storage has spent (see `temperatures`) comes off, rounded up to days.

What a class doesn't say is unknown, and is said.

>>> from decimal import Decimal
>>> lot = Lot("A-17", "x", Decimal(20), "g", "2027-01-10", made="2027-01-01", opened="2027-02-01")
>>> found = life(lot, {"shelf_life_months": 12, "opened_life_days": 60}, on="2027-03-20")
>>> found.usable_until, found.limited_by, found.state
('2027-04-02', 'opened life', 'expires-soon')
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from datetime import timedelta
from typing import Any, Final, NamedTuple

from kb.calc import function
from kb.stock.lots import Lot
from kb.stock.practice import figure
from kb.stock.when import as_date, as_datetime, moment, precedes

Facts = Mapping[str, Any]

#: States of a lot, as the contract names them.
STATES: Final = (
    "in-date", "expires-soon", "expired", "opened-life-ended", "storage-excursion", "empty", "condemned", "on-hold",
)  # fmt: skip
#: A lot in one of these must not be used.
BARRED: Final = frozenset({"expired", "opened-life-ended", "storage-excursion", "condemned", "on-hold"})


class Limit(NamedTuple):
    """One end of a lot's life: the last day, or for lives in hours the last minute, and what sets it."""

    until: str
    what: str
    state: str


class Life(NamedTuple):
    """What may be said of a lot on a day. `usable_until` is None where no limit is known."""

    usable_until: str | None
    limited_by: str
    state: str
    reason: str
    notes: tuple[str, ...]

    @property
    def barred(self) -> bool:
        """Whether it must not be used although something is left."""
        return self.state in BARRED

    @property
    def usable(self) -> bool:
        return not self.barred and self.state != "empty"


def life(lot: Lot, facts: Facts, on: str, within_days: int | None = None) -> Life:
    """Give the life of `lot`, an item with those `facts`, as it stands on `on` (a canonical date, or date and time)."""
    first = min(limits(lot, facts), default=None, key=lambda limit: last_moment(limit.until))
    notes = tuple(_notes(lot, facts))
    until, by = (first.until, first.what) if first else (None, "")
    state, reason = _state(lot, facts, first, on, within_days)
    return Life(until, by, state, reason, notes)


def limits(lot: Lot, facts: Facts) -> Iterator[Limit]:
    """Give every limit of the lot's life that is known."""
    if lot.requalified is not None and lot.requalified_until is not None:
        yield Limit(_less(lot, lot.requalified_until, lot.requalified), f"test of {lot.requalified[:10]}", "expired")
    elif (sealed := _sealed(lot, facts)) is not None:
        yield Limit(_less(lot, sealed.until, None), sealed.what, sealed.state)
    days = facts.get("opened_life_days")
    if days is not None and (opened := _since(lot, lot.opened)):
        end = function("expiry")(opened=as_date(opened), days=int(days))["date"]
        yield Limit(_less(lot, end, opened), "opened life", "opened-life-ended")
    hours = facts.get("thawed_life_h")
    if hours is not None and (thawed := _since(lot, lot.thawed)):
        yield Limit(_later(thawed, hours * 60), "thawed life", "opened-life-ended")
    minutes = _mixed_life(facts)
    if minutes is not None and (mixed := _since(lot, lot.mixed)):
        yield Limit(_later(mixed, minutes), "mixed life", "opened-life-ended")


def ended(until: str, on: str) -> bool:
    """Tell whether a limit has passed on a day, or at a time of a day: the last day, and the last minute, still count.

    >>> ended("2026-12-31", "2026-12-31"), ended("2026-12-31", "2027-01-01T00:00")
    (False, True)
    >>> ended("2026-12-31T08:30", "2026-12-31"), ended("2026-12-31T08:30", "2026-12-31T08:31")
    (False, True)
    """
    if len(until) > 10 and len(on) == 10:
        return until <= f"{on}T00:00"
    return until < on[: len(until)]


def last_moment(until: str | None) -> str:
    """Tell by what to sort ends: a day ends after each of its hours, and what has no known end comes last."""
    if until is None:
        return "~"
    return until if len(until) > 10 else f"{until}T24:00"


def _sealed(lot: Lot, facts: Facts) -> Limit | None:
    if lot.expires is not None:
        return Limit(lot.expires, "date on the container", "expired")
    months, start = facts.get("shelf_life_months"), lot.made or lot.received
    if months is None or start is None:
        return None
    return Limit(_class_end(start, months), f"shelf life, from {'making' if lot.made else 'receipt'}", "expired")


def _class_end(start: str, months: float) -> str:
    end: str = function("expiry")(made=as_date(start), months=int(months))["date"]
    return end


def _mixed_life(facts: Facts) -> float | None:
    minutes: float | None = facts.get("mixed_life_min", facts.get("pot_life_min"))
    return minutes


def _since(lot: Lot, start: str | None) -> str | None:
    """Give `start`, unless a later test has taken its place."""
    overtaken = start is not None and lot.requalified is not None and precedes(start, lot.requalified)
    return None if overtaken else start


def _less(lot: Lot, until: str, since: str | None) -> str:
    """Give `until`, less the days that warm storage has cost after `since`."""
    spent = sum(log.spent_days or 0.0 for log in lot.logged if since is None or precedes(since, log.until))
    # Nine decimals: what a sum of fractions leaves over isn't a day.
    return (as_date(until) - timedelta(days=math.ceil(round(spent, 9)))).isoformat()


def _later(start: str, minutes: float) -> str:
    return moment((as_datetime(start) + timedelta(minutes=int(minutes))).isoformat())


def _state(lot: Lot, facts: Facts, first: Limit | None, on: str, within_days: int | None) -> tuple[str, str]:
    if lot.quantity == 0:
        return "empty", f"disposed of, {lot.disposed}" if lot.disposed else "nothing is left"
    if lot.condemned:
        return "condemned", lot.condemned
    if lot.held:
        return "on-hold", f"{lot.held}: free it with a reason, or condemn it"
    if lot.excursion:
        over = f"; and {first.what} ended on {first.until}" if first is not None and ended(first.until, on) else ""
        return "storage-excursion", f"{lot.excursion}: release it with a reason, requalify it or condemn it{over}"
    kept = _kept_outside(lot, facts)
    if kept and lot.opened is None and lot.thawed is None:
        return "storage-excursion", f"{kept}: release it with a reason, requalify it or condemn it"
    if first is None:
        return "in-date", "no last day is known: read the container"
    if ended(first.until, on):
        return first.state, f"{first.what} ended on {first.until}"
    within = figure("expires_soon", "within_days") if within_days is None else within_days
    soon = as_date(first.until) - as_date(on) <= timedelta(days=within)
    return "expires-soon" if soon else "in-date", f"usable through {first.until} ({first.what})"


def kept_outside(storage_c: float | None, facts: Facts) -> str:
    """Tell how a place so warm is outside the storage limits of an item; "" where it isn't, or nobody knows."""
    span = facts.get("storage_c")
    if storage_c is None or span is None or span[0] <= storage_c <= span[1]:
        return ""
    return f"kept at {storage_c:g} degC, outside {span[0]:g} to {span[1]:g} degC"


def _kept_outside(lot: Lot, facts: Facts) -> str:
    """Give the same of the place where a lot is said to stand; "" where somebody answers for it."""
    return "" if lot.accepted else kept_outside(lot.storage_c, facts)


def _notes(lot: Lot, facts: Facts) -> Iterator[str]:
    """Tell what isn't known of the lot's life, and what doesn't fit together."""
    missing = [
        what
        for what, begun, known in (
            ("opened", _since(lot, lot.opened), facts.get("opened_life_days")),
            ("thawed", _since(lot, lot.thawed), facts.get("thawed_life_h")),
            ("mixed", _since(lot, lot.mixed), _mixed_life(facts)),
        )
        if begun and known is None
    ]
    for what in missing:
        yield f"how long it keeps once {what} is not known"
    months = facts.get("shelf_life_months")
    if lot.requalified is None and lot.expires is None:
        if months is None or not (lot.made or lot.received):
            yield "how long it keeps sealed is not known"
        elif lot.made is None:
            yield "its making is not known: its life was counted from its receipt, which is late"
    if lot.requalified is None and lot.expires and lot.made and months and lot.expires > _class_end(lot.made, months):
        yield f"the date on the container is beyond the class's {months:g} months from its making: check it"
    used = [day for day, _ in lot.used if _since(lot, day)]
    if used and lot.opened is None and lot.mixed is None and facts.get("opened_life_days") is not None:
        yield f"it was used on {used[0]}, and no opening of it is recorded: its opened life may run since then"
    if any(log.spent_days is None for log in lot.logged):
        yield "what its logged storage cost is not known: the class's sensitivity to temperature isn't"
    if (lot.opened or lot.thawed) and (kept := _kept_outside(lot, facts)):
        yield kept
