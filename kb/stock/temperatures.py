"""What a logger saw where lots stood, and what it cost them.

Each reading holds until the next (the last one for nothing); a pause much longer than the log's usual interval is
a gap, which is told and not filled. A lot is charged for the stretches in which it stood at the logger's place. Its
life is stated for the upper end of its class's storage range: at the mean kinetic temperature T of what it went
through, by the class's own sensitivity, it ages k(T) times as fast, and loses (k - 1) days a day where k > 1. Cold
storage gives nothing back. A reading beyond either end of the range, by more than loggers are off, puts the lot
aside until somebody decides.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from operator import itemgetter
from statistics import median
from typing import Any, NamedTuple

from kb.base.errors import BadInput, nearest
from kb.calc import function
from kb.stock import tables
from kb.stock.flags import FactsOf
from kb.stock.fold import HistoryOf, Shelf, effective, fold, in_order
from kb.stock.lots import Event, Lot
from kb.stock.practice import figure
from kb.stock.shelf_life import life
from kb.stock.when import as_datetime, moment

_TIMES = ("time", "timestamp", "datetime", "date_time", "date")
_CELSIUS = ("temperature_c", "temperature", "temp_c", "temp")
_COLUMNS = (*_TIMES, *_CELSIUS, "temperature_f")
_EARLIEST, _LATEST = datetime.min, datetime.max


class Log(NamedTuple):
    """Readings in order of time [degC], the pauses between them that are gaps, and the file that they come from."""

    times: tuple[datetime, ...]
    temperatures_c: tuple[float, ...]
    gaps: tuple[tuple[datetime, datetime], ...]
    name: str


class Stretch(NamedTuple):
    """What a lot went through: each temperature [degC] with the hours that it held, from the first to the last."""

    since: datetime
    until: datetime
    temperatures_c: list[float]
    hours: list[float]
    extremes: tuple[tuple[float, datetime], tuple[float, datetime]]


def read_log(content: bytes, where: str) -> Log:
    """Give the readings in a logger's CSV: a column of times (ISO 8601) and one of temperatures.

    Raises BadInput or Faults where a row can't be read, a temperature is none, or times don't run one way.
    """
    table = tables.read(content, where, _COLUMNS, (), (*_CELSIUS, "temperature_f"), others=True)
    degrees = next((name for name in (*_CELSIUS, "temperature_f") if name in table.columns), None)
    clock = next((name for name in _TIMES if name in table.columns), None)
    if degrees is None or clock is None:
        raise BadInput(f"{where}: row 1", "has no columns time and temperature_c", "name them so")
    apart = "date" in table.columns and clock == "time"
    readings: list[tuple[datetime, float]] = []
    for row in table.rows:
        words = f"{row.cells.get('date', '')} {row.cells[clock]}" if apart else row.cells.get(clock, "")
        try:
            time = as_datetime(moment(words))
        except ValueError as fault:
            table.fault(row, clock, str(fault))
            continue
        number = table.number(row, degrees)
        if number is None:
            if not row.cells.get(degrees):
                table.fault(row, degrees, "is empty", "leave out a row without a reading")
            continue
        celsius = (float(number) - 32) / 1.8 if degrees == "temperature_f" else float(number)
        if not -200 <= celsius <= 200:
            table.fault(row, degrees, f"{number} is no temperature of a store", "a logger may write such for a fault")
        if readings and (time == readings[-1][0] or (len(readings) > 1 and _turns(readings, time))):
            table.fault(row, clock, "times must run one way, without one twice", "sort the rows by time")
        readings.append((time, celsius))
    table.close()
    if len(readings) < 2:
        raise BadInput(where, "has fewer than two readings", "nothing can be said from that")
    readings.sort()
    mark = hashlib.sha256(content).hexdigest()[:12]
    return _log(readings, f"{where} (sha256 {mark})")


def _turns(readings: Sequence[tuple[datetime, float]], time: datetime) -> bool:
    return (readings[1][0] > readings[0][0]) != (time > readings[-1][0])


def _log(readings: Sequence[tuple[datetime, float]], name: str) -> Log:
    times = tuple(time for time, _ in readings)
    usual = median((later - earlier).total_seconds() for earlier, later in pairwise(times))
    longest = timedelta(seconds=usual * figure("logger", "gap_intervals"))
    gaps = tuple((earlier, later) for earlier, later in pairwise(times) if later - earlier > longest)
    return Log(times, tuple(round(celsius, 3) for _, celsius in readings), gaps, name)


def stays(history: Iterable[Event], location: str) -> list[tuple[datetime, datetime]]:
    """Tell when a lot stood at `location`. A day without a time counts whole, at either end."""
    found: list[tuple[datetime, datetime]] = []
    begun: datetime | None = None
    for event in history:
        if event["type"] not in ("received", "moved"):
            continue
        at = as_datetime(event["at"])
        if begun is not None:
            found.append((begun, at if len(event["at"]) > 10 else at + timedelta(days=1)))
        begun = at if event.get("location", "") == location else None
    return found if begun is None else [*found, (begun, _LATEST)]


def stretch(log: Log, lot: Lot, history: Sequence[Event], location: str) -> Stretch | None:
    """Tell what the lot went through of the log, after what is logged already; None where it wasn't there."""
    after = as_datetime(lot.logged[-1].until) if lot.logged else _EARLIEST
    held: list[tuple[float, float]] = []
    seen: list[tuple[float, datetime]] = []
    first, last = _LATEST, _EARLIEST
    gaps = set(log.gaps)
    for begun, ended in stays(history, location):
        begun = max(begun, after)
        for (start, end), celsius in zip(pairwise(log.times), log.temperatures_c, strict=False):
            since, until = max(start, begun), min(end, ended)
            if since < until and (start, end) not in gaps:
                held.append((celsius, (until - since) / timedelta(hours=1)))
                seen.append((celsius, start))
                first, last = min(first, since), max(last, until)
        if held and begun <= log.times[-1] <= ended:
            seen.append((log.temperatures_c[-1], log.times[-1]))
    if not held:
        return None
    return Stretch(
        first,
        last,
        [c for c, _ in held],
        [h for _, h in held],
        (min(seen, key=itemgetter(0)), max(seen, key=itemgetter(0))),
    )


def drafts(
    log: Log, location: str, shelf: Shelf, history_of: HistoryOf, facts_of: FactsOf, at: str, who: str
) -> list[dict[str, Any]]:
    """Tell what to record for every lot that stood at `location` while the log ran, and isn't empty or condemned.

    Raises BadInput where there is none.
    """
    found = []
    for mark, lot in shelf.lots.items():
        if lot.quantity and not lot.condemned:
            passed = stretch(log, lot, in_order(effective(history_of(lot))), location)
            if passed is not None:
                common = {"type": "temperature-logged", "at": at, "who": who, "lot": mark, "location": location}
                found.append({**common, "log": log.name, **cost(passed, facts_of(lot.item))})
    if not found:
        known = {lot.location for lot in shelf.lots.values() if lot.location}
        mend = "or what it saw was taken in before" if location in known else nearest(location, known)
        raise BadInput(f"--location {location}", "no lot stood there while the log ran", mend)
    return found


def cost(passed: Stretch, facts: Mapping[str, Any]) -> dict[str, Any]:
    """Tell what a stretch means for a lot whose item has those `facts`, as fields of the event. Unknown stays out."""
    (low, low_at), (high, high_at) = passed.extremes
    hours = sum(passed.hours)
    found = {
        "since": moment(passed.since.isoformat()),
        "until": moment(passed.until.isoformat()),
        "hours": round(hours, 3),
        "low_c": low,
        "high_c": high,
    }
    span, activation = facts.get("storage_c"), facts.get("life_activation_kj_mol")
    if activation is not None:
        mkt = function("mean-kinetic-temperature")(passed.temperatures_c, passed.hours, activation)["mkt_c"]
        found |= {"activation_kj_mol": activation, "mkt_c": round(mkt, 3)}
        if span is not None:
            factor = function("ageing-factor")(mkt, span[1], activation_kj_mol=activation)["factor"]
            found |= {"reference_c": span[1], "spent_days": round(max(0.0, factor - 1) * hours / 24, 6)}
    if span is not None:
        tolerance = figure("logger", "tolerance_c")
        beyond = []
        if low < span[0] - tolerance:
            beyond.append(f"{low:g} degC at {moment(low_at.isoformat())}, below {span[0]:g}")
        if high > span[1] + tolerance:
            beyond.append(f"{high:g} degC at {moment(high_at.isoformat())}, above {span[1]:g}")
        found["excursion"] = " and ".join(beyond)
    return found


class Effect(NamedTuple):
    """What a log did to a lot: its last day before and after, and what was recorded."""

    lot: str
    item: str
    before: str | None
    after: str | None
    state: str
    event: Mapping[str, Any]


def effects(shelf: Shelf, history_of: HistoryOf, events: Sequence[Event], facts_of: FactsOf, on: str) -> list[Effect]:
    """Tell what the drafts or events of a log do to the lots of `shelf`, as of `on`."""
    then = fold(events, shelf, history_of)
    found = []
    for event in events:
        before, after = shelf.lots[event["lot"]], then.lots[event["lot"]]
        facts = facts_of(before.item)
        now = life(after, facts, on)
        found.append(
            Effect(before.lot, before.item, life(before, facts, on).usable_until, now.usable_until, now.state, event)
        )
    return found


def common_limits(found: Sequence[Effect], facts_of: FactsOf) -> tuple[float | None, float | None]:
    """Give the storage range that suits every lot of a log.

    It runs from the highest lower to the lowest upper end that is known.
    """
    spans = [span for effect in found if (span := facts_of(effect.item).get("storage_c"))]
    return max((low for low, _ in spans), default=None), min((high for _, high in spans), default=None)
