"""Two pictures of the shelf: the last days of the lots along a time line, and a logger's temperatures.

States are told by words and by the stroke of a line: neither needs colour.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from datetime import date, timedelta
from typing import NamedTuple

from kb.report.pictures.drawing import Picture, Scale, drawn
from kb.stock.flags import Judged
from kb.stock.shelf_life import last_moment
from kb.stock.temperatures import Log
from kb.stock.when import as_date, moment

_TEMPLATE = "picture_shelf.svg"
#: Where things lie [px]: under the title, a line of names, then what is drawn.
_WIDTH, _RIGHT, _NAMES, _TOP, _ROW = 760, 740, 42, 50, 24
_LEFT_OF_LOTS, _LEFT_OF_LOG, _LOG_HEIGHT = 250, 70, 240
#: Lots that are beyond the right edge are cut there, and say so.
_AHEAD_DAYS = 730
#: How a bar is drawn: a pattern of dashes for each state that isn't plain.
_DASHES = {"expires-soon": "9 4", "expired": "2 3", "opened-life-ended": "2 3", "storage-excursion": "1 5"}


class _Stroke(NamedTuple):
    x1: float
    y1: float
    x2: float
    y2: float
    width: str
    dashes: str = ""


class _Word(NamedTuple):
    x: float
    y: float
    said: str
    anchor: str


def expiry_picture(lots: Sequence[Judged], on: str, name_of: Callable[[str], str] = str) -> Picture:
    """Draw the lots that aren't empty, the first to expire on top: a bar from `on` to the last day of each.

    `name_of` names an item that is known by its id.
    """
    shown = sorted(
        (one for one in lots if one.life.state != "empty"),
        key=lambda one: (last_moment(one.life.usable_until), one.lot.lot),
    )
    today = as_date(on)
    ends = [as_date(one.life.usable_until) for one in shown if one.life.usable_until]
    first = min([today, *ends]) - timedelta(days=7)
    last = min(max([today + timedelta(days=60), *ends]), today + timedelta(days=_AHEAD_DAYS))
    scale = Scale(first.toordinal(), last.toordinal(), _LEFT_OF_LOTS, _RIGHT)

    def x(day: date) -> float:
        return scale.at(day.toordinal())

    bottom = _TOP + 20 + _ROW * len(shown)
    months = _months(first, last)
    strokes = [_Stroke(x(day), _TOP, x(day), bottom, "0.5") for day in months]
    words = [_Word(x(day), _NAMES, f"{day.year}-{day.month:02d}", "middle") for day in months]
    strokes.append(_Stroke(x(today), _NAMES + 4, x(today), bottom, "2"))
    words.append(_Word(x(today), bottom + 14, on[:10], "middle"))
    for number, (lot, life) in enumerate(shown):
        y = _TOP + 18 + _ROW * number
        words.append(_Word(_LEFT_OF_LOTS - 8, y + 4, _short(f"{lot.lot}: {name_of(lot.item)}"), "end"))
        if life.usable_until is None:
            words.append(_Word(x(today) + 6, y + 4, "last day not known", "start"))
            continue
        end = as_date(life.usable_until)
        strokes.append(_Stroke(x(today), y, x(end), y, "7", _DASHES.get(life.state, "")))
        said = life.usable_until + (" →" if end > last else "") + ("" if life.state == "in-date" else f" {life.state}")
        # Beside the bar, which of a lot that is past its day ends at the day asked about.
        tip = max(x(end), x(today))
        right = tip > _WIDTH - 190
        words.append(_Word(tip + (-6 if right else 6), y - 6 if right else y + 4, said, "end" if right else "start"))
    lines = [
        f"{one.lot.lot}, {name_of(one.lot.item)}: {one.life.usable_until or 'last day not known'}, {one.life.state}"
        for one in shown
    ]
    title = f"Last days of {len(shown)} lots, on {on}"
    return _drawn("expiry", title, lines or ["No lots."], bottom + 20, strokes, words)


def log_picture(log: Log, low_c: float | None, high_c: float | None, costs: Iterable[str] = ()) -> Picture:
    """Draw a log as a line over time, storage limits dashed; `costs` says what it cost each lot, in words."""
    readings = _thinned(log)
    coldest = min(c for _, c in readings)
    hottest = max(c for _, c in readings)
    low = math.floor(min([coldest, *([low_c] if low_c is not None else [])]) - 1)
    high = math.ceil(max([hottest, *([high_c] if high_c is not None else [])]) + 1)
    along, up = Scale(0, 1, _LEFT_OF_LOG, _RIGHT), Scale(low, high, _TOP + _LOG_HEIGHT, _TOP)
    strokes, words = [], []
    for celsius in range(low, high + 1, max(1, round((high - low) / 8))):
        strokes.append(_Stroke(_LEFT_OF_LOG, up.at(celsius), _RIGHT, up.at(celsius), "0.5"))
        words.append(_Word(_LEFT_OF_LOG - 8, up.at(celsius) + 4, f"{celsius} °C", "end"))
    for limit, what in ((low_c, "lower limit"), (high_c, "upper limit")):
        if limit is not None:
            strokes.append(_Stroke(_LEFT_OF_LOG, up.at(limit), _RIGHT, up.at(limit), "1.5", "8 5"))
            words.append(_Word(_RIGHT, up.at(limit) - 5, f"{what} {limit:g} °C", "end"))
    steps = [(along.at(share), up.at(celsius)) for share, celsius in readings]
    path = f"M{steps[0][0]} {steps[0][1]}" + "".join(f"H{px}V{py}" for px, py in steps[1:])
    begun, ended = (moment(time.isoformat()) for time in (log.times[0], log.times[-1]))
    under = _TOP + _LOG_HEIGHT + 22
    words += [_Word(_LEFT_OF_LOG, under, begun, "start"), _Word(_RIGHT, under, ended, "end")]
    lines = [f"{len(log.times)} readings from {coldest:g} to {hottest:g} °C", *costs]
    lines += [f"no readings from {moment(a.isoformat())} to {moment(b.isoformat())}" for a, b in log.gaps]
    title = f"Storage temperature from {begun} to {ended}"
    return _drawn("temperature", title, lines, under + 10, strokes, words, path)


def _drawn(
    name: str,
    title: str,
    lines: Sequence[str],
    height: int,
    strokes: Sequence[_Stroke],
    words: Sequence[_Word],
    path: str = "",
) -> Picture:
    return drawn(_TEMPLATE, name, title, lines, width=_WIDTH, height=height, strokes=strokes, words=words, path=path)


def _thinned(log: Log) -> list[tuple[float, float]]:
    """Keep some three thousand readings at most, the lowest and highest of each piece among them."""
    span = log.times[-1] - log.times[0]
    all_of_them = [
        ((time - log.times[0]) / span, celsius) for time, celsius in zip(log.times, log.temperatures_c, strict=True)
    ]
    size = max(1, len(all_of_them) // 1000)
    kept: list[tuple[float, float]] = [all_of_them[0]]
    for start in range(0, len(all_of_them), size):
        piece = all_of_them[start : start + size]
        kept += sorted({min(piece, key=lambda r: r[1]), max(piece, key=lambda r: r[1])})
    return [*kept, all_of_them[-1]]


def _months(first: date, last: date) -> list[date]:
    """Give the first days of months, so few that their names don't touch."""
    step = max(1, round((last - first).days / 30 / 8))
    months = range(first.year * 12 + first.month, last.year * 12 + last.month)
    return [date(month // 12, month % 12 + 1, 1) for month in months][::step]


def _short(words: str) -> str:
    return words if len(words) <= 36 else f"{words[:35]}…"
