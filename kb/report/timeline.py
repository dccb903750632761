"""The answer to `timeline`: rows, words, and the picture of who does what when."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from kb.quantities.calendar import DAY
from kb.quantities.timeline import Row, Timeline
from kb.quantities.workday import WEEKDAYS
from kb.report.pages import render
from kb.report.ready import limit_words, ready_json
from kb.report.text import capitalize_first, counted
from kb.rules.words import duration

_COLUMNS = 72
#: So many installations are drawn or written out; the rest is told in a line.
_SHOWN = 60
_SIGN = {"hands": "#", "oven": "=", "wait": "."}


def rows_json(found: Timeline) -> list[dict[str, Any]]:
    """Give the rows as `estimate` and `timeline` give them; `who` null while an installation waits."""
    return [
        {
            "start_min": _number(row.start_min),
            "end_min": _number(row.end_min),
            "stage": row.stage,
            "installation": row.installation,
            "who": row.who,
            "oven": row.oven,
        }
        for row in found.rows()
    ]


def timeline_json(found: Timeline, exact: Timeline | None) -> dict[str, Any]:
    """Give `tackroom.timeline/1`. `exact` is what the solver found, None where it wasn't asked."""
    campaign = found.campaign
    return {
        "schema": "tackroom.timeline/1",
        "installations": campaign.number,
        "resources": {
            "technicians": campaign.people,
            "ovens": campaign.ovens,
            "clamps": campaign.clamps,
            "oven_load": campaign.load,
        },
        "start": at(found, found.first_s),
        "ready": at(found, found.all_ready_s),
        **ready_json(found.hours),
        "tasks": [
            {
                "installation": row.installation,
                "stage": row.stage,
                "who": row.who,
                "start_min": _number(row.start_min),
                "end_min": _number(row.end_min),
            }
            for row in found.rows()
        ],
        "mixes": [
            {
                "item": mix.entry.id,
                "opened_min": _number((cup.opened_s - found.first_s) / 60),
                "used_up_min": _number((cup.done_s - found.first_s) / 60),
                "installations": cup.installations,
                "pot_life_min": mix.pot_life_min,
            }
            for mix in found.mixes
            for cup in mix.cups
        ],
        "longest_chain_min": _number(found.longest_chain_min),
        "serial_min": _number(campaign.serial_s / 60),
        "held_up_by": found.held_up_by,
        "one_more_saves_min": {name: _number(saved) for name, saved in found.savings.items()},
        "solver_ready_after_min": None if exact is None else _number(exact.batch_ready_after_min),
        "remarks": list(found.remarks),
        "timeline": rows_json(found),
    }


def _number(value: float) -> float | int:
    return int(value) if float(value).is_integer() else round(value, 3)


def at(found: Timeline, seconds: int) -> str:
    """Give a moment as a person reads it; without a date, the day by its number."""
    if found.start is not None:
        return found.moment(seconds).isoformat(sep=" ", timespec="minutes")
    day, rest = divmod(seconds, DAY)
    return f"day {day + 1} {rest // 3600:02d}:{rest // 60 % 60:02d}"


def words(found: Timeline, exact: Timeline | None) -> list[str]:
    """Tell what the picture shows, in sentences."""
    campaign = found.campaign
    lines = [
        f"{campaign.number} installations by {counted(campaign.people, 'technician')}"
        + (f", {counted(campaign.ovens, 'oven')} of {campaign.load}" if any(x.oven for x in campaign.route) else "")
        + (f", {counted(campaign.clamps, 'clamp')}" if campaign.clamps is not None else ""),
        f"Start by {at(found, found.first_s)}, ready at {at(found, found.all_ready_s)}: "
        f"{duration(found.batch_ready_after_min)} in all, and one installation that never waits for anybody takes "
        f"{duration(found.longest_chain_min)}",
        *filter(None, [capitalize_first(limit_words(found.hours))]),
    ]
    saved = [f"{duration(m)} by one more {name}" for name, m in found.savings.items() if m > 0]
    idle = [f"one more {name} saves nothing" for name, m in found.savings.items() if m <= 0]
    held = f"It is held up by: {found.held_up_by}. Saved: " if saved else "It is held up by the waits alone: "
    lines.append(held + "; ".join(saved + idle))
    if exact is not None:
        gap = (found.schedule.end - exact.schedule.end) / 60
        shorter = f"a schedule shorter by {duration(gap)}" if gap > 0 else "none that is shorter"
        lines.append(f"A solver found {shorter}")
    return [*lines, *found.remarks]


class _Bar(NamedTuple):
    start: int
    end: int
    kind: str
    row: Row


def _bars(found: Timeline, shown: int) -> list[list[_Bar]]:
    """Give the bars of the first installations, in seconds."""
    lanes: list[list[_Bar]] = [[] for _ in range(shown)]
    for row in found.rows():
        if row.installation <= shown:
            kind = "hands" if row.who else "oven" if row.oven else "wait"
            start, end = (found.first_s + round(m * 60) for m in (row.start_min, row.end_min))
            lanes[row.installation - 1].append(_Bar(start, end, kind, row))
    return lanes


def timeline_text(found: Timeline, exact: Timeline | None) -> str:
    """Sentences, and a bar of signs for each installation."""
    shown = min(found.campaign.number, _SHOWN)
    begun, span = found.first_s, max(1, found.schedule.end - found.first_s)

    def column(seconds: int) -> int:
        return min(_COLUMNS - 1, (seconds - begun) * _COLUMNS // span)

    lines = [f"{line}." for line in words(found, exact)]
    scale = [" "] * (_COLUMNS + 12)
    for seconds, name in _midnights(found):
        place = column(seconds)
        if "".join(scale[place : place + len(name) + 2]).strip() == "":
            scale[place : place + len(name) + 1] = f"|{name}"
    lines += ["", f"     {''.join(scale).rstrip()}"]
    for number, lane in enumerate(_bars(found, shown), start=1):
        signs = [" "] * _COLUMNS
        # Hands last: a short piece of work must not vanish under a long wait.
        for bar in sorted(lane, key=lambda b: b.kind == "hands"):
            first, last = column(bar.start), column(max(bar.start, bar.end - 1))
            signs[first : last + 1] = _SIGN[bar.kind] * (last + 1 - first)
        lines.append(f"{number:>4} {''.join(signs).rstrip()}")
    if shown < found.campaign.number:
        lines.append(f"     and {found.campaign.number - shown} more: --json has them all")
    lines += ["", "# hands at work   = in the oven   . waiting, or curing by itself   blank: waiting for hands or oven"]
    return "".join(f"{line}\n" for line in lines)


def _midnights(found: Timeline) -> Iterator[tuple[int, str]]:
    """Tell where each day begins, with its name."""
    first = found.first_s // DAY
    for day in range(first, found.schedule.end // DAY + 1):
        weekday = WEEKDAYS[(found.calendar.weekday + day) % 7]
        name = f"{weekday} {found.moment(day * DAY):%m-%d}" if found.start is not None else f"day {day + 1}"
        yield max(day * DAY, found.first_s), name


_LEFT, _TOP, _LANE = 50, 76, 16
#: How wide it is drawn [px], and how wide the name of a day is.
WIDE, _DAY = 940, 64


def timeline_svg(found: Timeline, exact: Timeline | None, width: int = WIDE) -> str:
    """Draw it with a title and its equivalent in words; told apart by fill, outline and dashes, not by colour."""
    shown = min(found.campaign.number, _SHOWN)
    begun, span = found.first_s, max(1, found.schedule.end - found.first_s)

    def x(seconds: int) -> float:
        return round(_LEFT + (seconds - begun) / span * (width - _LEFT - 10), 1)

    lanes = [
        {
            "name": number,
            "y": _TOP + (number - 1) * _LANE,
            "bars": [
                {
                    "x": x(bar.start),
                    "width": max(0.8, round(x(bar.end) - x(bar.start), 1)),
                    "kind": bar.kind,
                    "said": f"{bar.row.stage}, installation {number}, "
                    f"{bar.row.who or (f'oven {bar.row.oven}' if bar.row.oven else 'waiting')}: "
                    f"{at(found, bar.start)} to {at(found, bar.end)}",
                }
                for bar in lane
            ],
        }
        for number, lane in enumerate(_bars(found, shown), start=1)
    ]
    midnights = list(_midnights(found))
    every = -(-len(midnights) // ((width - _LEFT) // _DAY))
    more = found.campaign.number - shown
    return render(
        "timeline.svg",
        name=f"timeline-{width}",
        width=width,
        height=_TOP + shown * _LANE + (44 if more else 30),
        bottom=_TOP + shown * _LANE,
        title=f"Timeline of {found.campaign.number} installations",
        words=words(found, exact),
        days=[{"x": x(seconds), "name": name} for seconds, name in midnights[::every]],
        lanes=lanes,
        more=more,
    )
