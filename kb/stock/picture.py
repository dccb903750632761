"""Two pictures as inline SVG: the last days of the lots along a time line, and a logger's temperatures.

Each has a title and a description that says in words what it shows, and can be read without colour: states are told
by words and by the stroke of a line.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from datetime import date, timedelta
from html import escape

from kb.stock.flags import Judged
from kb.stock.shelf_life import last_moment
from kb.stock.temperatures import Log
from kb.stock.when import as_date, moment

_WIDTH, _LEFT, _RIGHT, _ROW = 760, 250, 20, 24
#: Lots that are beyond the right edge are cut there, and say so.
_AHEAD_DAYS = 730
#: How a bar is drawn: a pattern of dashes for each state that isn't plain.
_DASHES = {"expires-soon": "9 4", "expired": "2 3", "opened-life-ended": "2 3", "storage-excursion": "1 5"}


def expiry_picture(lots: Sequence[Judged], on: str, name_of: Callable[[str], str] = str) -> str:
    """Give the lots that aren't empty, the first to expire on top: a bar from `on` to the last day of each.

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

    def x(day: date) -> float:
        share = (min(max(day, first), last) - first) / (last - first)
        return round(_LEFT + share * (_WIDTH - _LEFT - _RIGHT), 1)

    height = 60 + _ROW * len(shown)
    parts = [
        _line(x(day), 30, x(day), height - 20, "0.5") + _text(x(day), 22, _month(day), "middle")
        for day in _ticks(first, last)
    ]
    parts.append(_line(x(today), 26, x(today), height - 20, "2") + _text(x(today), height - 6, f"{on[:10]}", "middle"))
    for number, (lot, life) in enumerate(shown):
        y = 48 + _ROW * number
        parts.append(_text(_LEFT - 8, y + 4, _short(f"{lot.lot}: {name_of(lot.item)}"), "end"))
        if life.usable_until is None:
            parts.append(_text(x(today) + 6, y + 4, "last day not known", "start"))
            continue
        end = as_date(life.usable_until)
        parts.append(_line(x(today), y, x(end), y, "7", _DASHES.get(life.state, "")))
        said = life.usable_until + (" →" if end > last else "") + ("" if life.state == "in-date" else f" {life.state}")
        # Beside the bar, which of a lot that is past its day ends at the day asked about.
        tip = max(x(end), x(today))
        right = tip > _WIDTH - 190
        parts.append(_text(tip + (-6 if right else 6), y - 6 if right else y + 4, said, "end" if right else "start"))
    words = [
        f"{one.lot.lot}, {name_of(one.lot.item)}: {one.life.usable_until or 'last day not known'}, {one.life.state}"
        for one in shown
    ]
    return _svg("expiry", f"Last days of {len(shown)} lots, on {on}", words or ["No lots."], height, parts)


def temperature_picture(log: Log, low_c: float | None, high_c: float | None, costs: Iterable[str] = ()) -> str:
    """Give a log as a line over time, storage limits dashed; `costs` says what it cost each lot, in words."""
    readings = _thinned(log)
    coldest = min(c for _, c in readings)
    hottest = max(c for _, c in readings)
    bottom = math.floor(min([coldest, *([low_c] if low_c is not None else [])]) - 1)
    top = math.ceil(max([hottest, *([high_c] if high_c is not None else [])]) + 1)
    begun, ended = log.times[0], log.times[-1]
    height, left = 320, 70

    def point(share: float, celsius: float) -> tuple[float, float]:
        return round(left + share * (_WIDTH - left - _RIGHT), 1), round(30 + (top - celsius) / (top - bottom) * 240, 1)

    parts = []
    for celsius in range(bottom, top + 1, max(1, round((top - bottom) / 8))):
        _, y = point(0, celsius)
        parts.append(_line(left, y, _WIDTH - _RIGHT, y, "0.5") + _text(left - 8, y + 4, f"{celsius} °C", "end"))
    for limit, what in ((low_c, "lower limit"), (high_c, "upper limit")):
        if limit is not None:
            _, y = point(0, limit)
            parts.append(_line(left, y, _WIDTH - _RIGHT, y, "1.5", "8 5"))
            parts.append(_text(_WIDTH - _RIGHT, y - 5, f"{what} {limit:g} °C", "end"))
    steps = [point(share, celsius) for share, celsius in readings]
    path = f"M{steps[0][0]} {steps[0][1]}" + "".join(f"H{px}V{py}" for px, py in steps[1:])
    parts.append(f'<path d="{path}" fill="none" stroke="currentColor" stroke-width="1.8"/>')
    parts.append(_text(left, 292, moment(begun.isoformat()), "start"))
    parts.append(_text(_WIDTH - _RIGHT, 292, moment(ended.isoformat()), "end"))
    words = [f"{len(log.times)} readings from {coldest:g} to {hottest:g} °C", *costs]
    words += [f"no readings from {moment(a.isoformat())} to {moment(b.isoformat())}" for a, b in log.gaps]
    title = f"Storage temperature from {moment(begun.isoformat())} to {moment(ended.isoformat())}"
    return _svg("temperature", title, words, height, parts)


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


def _ticks(first: date, last: date) -> list[date]:
    """Give the first days of months, so few that their names don't touch."""
    step = max(1, round((last - first).days / 30 / 8))
    months = range(first.year * 12 + first.month, last.year * 12 + last.month)
    return [date(month // 12, month % 12 + 1, 1) for month in months][::step]


def _month(day: date) -> str:
    return f"{day.year}-{day.month:02d}"


def _short(words: str) -> str:
    return words if len(words) <= 36 else f"{words[:35]}…"


def _line(x1: float, y1: float, x2: float, y2: float, width: str, dashes: str = "") -> str:
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}" stroke="currentColor" stroke-width="{width}"{dashed}/>'


def _text(x: float, y: float, words: str, anchor: str) -> str:
    return f'<text x="{x}" y="{y}" text-anchor="{anchor}">{escape(words)}</text>'


def _svg(name: str, title: str, words: Sequence[str], height: int, parts: Sequence[str]) -> str:
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height}" role="img" '
        f'aria-labelledby="{name}-title {name}-desc" font-family="sans-serif" font-size="12" fill="currentColor">'
    )
    told = f'<title id="{name}-title">{escape(title)}</title><desc id="{name}-desc">{escape("; ".join(words))}</desc>'
    return "\n".join((head, told, *parts, "</svg>")) + "\n"
