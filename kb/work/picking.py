"""What to take from the shelf for a job: first expired, first out, of lots that may be used at the hour of their use.

A lot gives no more than is used up by its last hour, on the schedule; one that the work opens or thaws has no more than
the life that begins then. What other jobs have reserved is left for them. A lot that doesn't reach is finished and the
next is begun; what no lot covers is short, and is to be ordered.

>>> lots = [Lot("A", "x", Decimal(40), "g", "2027-01-10", expires="2027-06-01"),
...         Lot("B", "x", Decimal(40), "g", "2027-01-10", expires="2027-04-01")]
>>> shelf = Shelf({lot.lot: lot for lot in lots})
>>> found = pick([Need("x", "g", Decimal(50))], shelf, lambda item: {}, "2027-03-01")
>>> [(take.lot, str(take.quantity)) for take in found.lines[0].takes], str(found.lines[0].short)
([('B', '40'), ('A', '10')], '0')
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_FLOOR, Decimal
from math import ceil
from typing import Any, NamedTuple

from kb.quantities.estimate import Estimate, Line
from kb.quantities.layout import timeline
from kb.quantities.timeline import Timeline
from kb.stock.amounts import convert, unit_named
from kb.stock.flags import FactsOf, Judged, first_out, judged
from kb.stock.fold import Shelf
from kb.stock.lots import Lot
from kb.stock.shelf_life import last_moment, life
from kb.work.costing import whole_packs

NOTHING = Decimal(0)

#: No finer than this are amounts told.
_LEAST = Decimal("0.000001")


class Need(NamedTuple):
    """So much of an item; `pack_size` in the same unit, None where it isn't known.

    `used`: the hours by whose end it is used, each with the share that is used by then; nothing: all on the first day.
    `bring`: what covers the job's confidence; None where that isn't known.
    """

    item: str
    unit: str
    amount: Decimal
    pack_size: Decimal | None = None
    used: tuple[tuple[str, Decimal], ...] = ()
    bring: Decimal | None = None

    def by(self, until: str) -> Decimal:
        """Tell how much of it is used by the end of a day, or by an hour of it."""
        if not self.used:
            return self.amount
        end = last_moment(until)
        share = max((share for on, share in self.used if on <= end), default=NOTHING)
        return (self.amount * share).quantize(_LEAST, ROUND_FLOOR) if share < 1 else self.amount

    def first_day_after(self, taken: Decimal) -> str | None:
        """Give the day on which more than `taken` of it is used for the first time; None where no day is known."""
        return next((on[:10] for on, share in self.used if self.amount * share > taken), None)

    @property
    def last_used(self) -> str | None:
        """The day on which the last of it is used; None where that isn't known."""
        return self.used[-1][0][:10] if self.used else None


class Take(NamedTuple):
    """So much from one lot, in the unit of the need. `ends`: its life ends before the last of the item is used.

    `usable_until` is the lot's own; where the work opens it, and its opened life ends before the work, the end of that.
    """

    lot: str
    quantity: Decimal
    usable_until: str | None
    location: str
    ends: bool


class PassedOver(NamedTuple):
    """A lot of the item that isn't taken, and why."""

    lot: str
    reason: str


@dataclass(frozen=True)
class PickLine:
    """One item: where it comes from, what is short, the packs that would cover that, and the lots passed over."""

    need: Need
    takes: tuple[Take, ...]
    short: Decimal
    reorder_packs: int | None
    passed_over: tuple[PassedOver, ...]


@dataclass(frozen=True)
class Picked:
    """The answer of `pick`, for the day `on`."""

    on: str
    lines: tuple[PickLine, ...]

    @property
    def short(self) -> bool:
        return any(line.short for line in self.lines)

    @property
    def draws(self) -> list[tuple[str, Decimal, str]]:
        """Lot, amount and unit of everything that is taken."""
        return [(take.lot, take.quantity, line.need.unit) for line in self.lines for take in line.takes]


def needs_of(estimate: Estimate, hours: Timeline | None = None) -> list[Need]:
    """Tell what an estimate asks for, in the units of the shelf; when, by the schedule `hours`."""
    spans = _hours(hours) if hours is not None and hours.start is not None else {}
    return [
        Need(
            item=line.entry.id,
            unit=unit_named(line.unit),
            amount=_exact(line.gross),
            pack_size=None if line.pack_size is None else _exact(line.pack_size),
            used=_used(line, spans),
            bring=_exact(line.bring),
        )
        for line in estimate.lines
    ]


def pick_for(
    work: Estimate,
    shelf: Shelf,
    facts_of: FactsOf,
    on: str,
    reserved: Mapping[str, tuple[Decimal, str]] | None = None,
) -> Picked:
    """Tell what to take for the work of an estimate that begins on the day `on` and lasts as its schedule says."""
    return pick(needs_on(work, on), shelf, facts_of, on, reserved)


def needs_on(work: Estimate, on: str) -> list[Need]:
    """Tell what an estimate asks for if its work begins on the day `on`, with the days of each use."""
    start = datetime.fromisoformat(on)
    hours = (
        work.hours
        if work.hours.start == start
        else timeline(work.plan, work.chain, work.installations.attempts, start=start)
    )
    return needs_of(work, hours)


def _hours(hours: Timeline) -> dict[str, dict[str, int]]:
    """Tell how many installations hands are done with, by stage and by the end of the hour in which they are."""
    found: dict[str, dict[str, int]] = {}
    for row in hours.rows():
        if row.who is not None:
            begun = hours.moment(hours.first_s + round(row.start_min * 60))
            minutes = begun.hour * 60 + begun.minute + row.end_min - row.start_min
            # Midnight is the end of the day on which the work was begun.
            end = f"{begun.date().isoformat()}T{min(24, ceil(minutes / 60)):02d}:00"
            done = found.setdefault(row.stage, {})
            done[end] = done.get(end, 0) + 1
    return found


def _used(line: Line, spans: Mapping[str, Mapping[str, int]]) -> tuple[tuple[str, Decimal], ...]:
    """Give the hours by which an item is used, each with the share of it that is used by then: as its stages go on."""
    weights: dict[str, float] = {}
    for use in line.uses:
        done = spans.get(use.stage, {})
        for end, count in done.items():
            weights[end] = weights.get(end, 0.0) + use.each * count / sum(done.values())
    total, so_far = sum(weights.values()), 0.0
    found = []
    for end in sorted(weights):
        so_far += weights[end]
        found.append((end, Decimal(so_far / total) if total else Decimal(1)))
    return (*found[:-1], (found[-1][0], Decimal(1))) if found else ()


def _exact(number: float) -> Decimal:
    return Decimal(str(round(number, 6)))


def pick(
    needs: Iterable[Need],
    shelf: Shelf,
    facts_of: FactsOf,
    on: str,
    reserved: Mapping[str, tuple[Decimal, str]] | None = None,
) -> Picked:
    """Tell what to take for `needs` if the work begins on the day `on`.

    `reserved` says how much of a lot, in which unit, is kept for other work.
    """
    by_item: dict[str, list[Judged]] = {}
    for one in judged(shelf, facts_of, on):
        by_item.setdefault(one.lot.item, []).append(one)
    lines = (_line(need, by_item.get(need.item, ()), facts_of(need.item), reserved or {}) for need in needs)
    return Picked(on, tuple(lines))


def _line(
    need: Need, lots: Sequence[Judged], facts: Mapping[str, Any], reserved: Mapping[str, tuple[Decimal, str]]
) -> PickLine:
    takes: list[Take] = []
    passed = [PassedOver(lot.lot, f"{its.state}: {its.reason}") for lot, its in lots if its.barred]
    left = need.amount
    for lot, its in first_out(lots):
        try:
            kept, unit = reserved.get(lot.lot, (NOTHING, lot.unit))
            free = max(NOTHING, convert(lot.quantity, lot.unit, need.unit) - convert(kept, unit, need.unit))
        except ValueError as fault:
            passed.append(PassedOver(lot.lot, f"{fault}: it is not known how much that is"))
            continue
        if kept and free < left:
            passed.append(PassedOver(lot.lot, f"{kept.normalize():f} {unit} of it are reserved for other work"))
        day = need.first_day_after(need.amount - left)
        until = _once_begun(lot, facts, day) if day else its.usable_until
        in_time = left if until is None else need.by(until) - (need.amount - left)
        if in_time < min(left, free):
            begun = day if until != its.usable_until else None
            passed.append(PassedOver(lot.lot, _too_late(need, until, max(in_time, NOTHING), begun)))
        quantity = min(left, free, in_time)
        if quantity > 0:
            ends = until is not None and bool(need.used) and last_moment(until) < need.used[-1][0]
            takes.append(Take(lot.lot, quantity, until if ends else its.usable_until, lot.location, ends))
            left -= quantity
    packs = whole_packs(left, need.pack_size) if need.pack_size else None
    return PickLine(need, tuple(takes), left, packs if left else None, tuple(passed))


def _once_begun(lot: Lot, facts: Mapping[str, Any], day: str) -> str | None:
    """Until when a lot may be used that the work opens, and thaws, on a day; what was begun before stays begun."""
    begun = lot._replace(opened=lot.opened or day, thawed=lot.thawed or f"{day}T00:00")
    return life(begun, facts, day).usable_until


def _too_late(need: Need, until: str | None, in_time: Decimal, begun: str | None) -> str:
    """Tell why a lot gives less than it has.

    `begun` is the day on which the work opens it, where its life hangs on that.
    """
    end = last_moment(until)
    first = next((hour for hour, _ in need.used if hour > end), "")
    if until is None or len(until) == 10:
        first = first[:10]
    if begun:
        return f"opened on {begun} it keeps until {until}: no more of it is used in time"
    if not in_time:
        return f"its last day, {until}, is before it is used, {first}"
    return f"from {first} on it is past its last day, {until}: no more of it is used in time"
