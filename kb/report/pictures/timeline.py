"""When each wait of a chain begins and ends, if nobody loses time: cures, drying, and waits that rules ask for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.planning.procedure import procedure
from kb.report.pictures.drawing import PHONE, Picture, Scale, drawn, noted
from kb.rules.words import duration, shown

_LEFT, _RIGHT, _TOP, _ROW = 8, 310, 56, 32
_NOTE = "Hatched: cure. Solid: other waits. Outline: hands-on work of the whole chain."
#: Minutes of each unit that the axis may have, and up to which length it is used.
_UNITS = ((1.0, "min", 120.0), (60.0, "h", 96.0 * 60), (1440.0, "days", float("inf")))


@dataclass(frozen=True, slots=True)
class Wait:
    """One wait: the step's number, what it is for, and its begin and end in minutes of waiting."""

    label: str
    begin_min: float
    end_min: float
    cure: bool

    def words(self) -> str:
        """Give the wait as a sentence."""
        return f"{self.label}: {duration(self.end_min - self.begin_min)}, from {duration(self.begin_min)} on"


def timeline_picture(plan: Plan, chain: Chain) -> Picture:
    """Give the waits as bars one after the other, cures hatched, and the hands-on minutes of the plan as an outline."""
    found = list(waits(plan, chain))
    waited = found[-1].end_min if found else 0.0
    total = max(waited, chain.critical_path_min)
    size, unit, _ = next(u for u in _UNITS if total <= u[2])
    scale = Scale(0, total / size, _LEFT, _RIGHT)
    rows = [_bar(wait, scale, size, _TOP + _ROW * n) for n, wait in enumerate(found)]
    lines = [wait.words() for wait in found]
    if chain.critical_path_min > waited:
        hands = Wait("hands-on work, in all", waited, chain.critical_path_min, False)
        rows.append({**_bar(hands, scale, size, _TOP + _ROW * len(rows)), "kind": "hands"})
        lines.append(f"{hands.label}: {duration(hands.end_min - hands.begin_min)}")
    lines.append(f"one installation that waits for nobody is ready after {duration(chain.critical_path_min)}")
    bottom = _TOP + _ROW * len(rows)
    note = noted(_NOTE, bottom + 34)
    return drawn(
        "picture_timeline.svg",
        "timeline",
        "Cures and waits, one after the other",
        lines,
        width=PHONE,
        height=note[-1][0] + 8,
        rows=rows,
        ticks=[(scale.at(t), shown(t)) for t in scale.ticks(5)],
        unit=unit,
        ready=(scale.at(chain.critical_path_min / size), f"{duration(chain.critical_path_min)}"),
        left=_LEFT,
        right=_RIGHT,
        top=_TOP,
        bottom=bottom,
        note=note,
    )


def waits(plan: Plan, chain: Chain) -> Iterator[Wait]:
    """Give each step of the procedure that waits, in order."""
    clock = 0.0
    for number, step in enumerate(procedure(plan, chain), start=1):
        if step.wait_s:
            end = clock + step.wait_s / 60
            yield Wait(f"{number}. {step.stage}: {step.wait_for or 'wait'}", clock, end, "cure" in step.wait_for)
            clock = end


def _bar(wait: Wait, scale: Scale, size: float, y: int) -> dict[str, object]:
    x1, x2 = scale.at(wait.begin_min / size), scale.at(wait.end_min / size)
    return {
        "y": y,
        "label": wait.label,
        "x1": x1,
        # A minute beside a day is still to be seen.
        "wide": round(max(x2 - x1, 1.5), 1),
        "said": duration(wait.end_min - wait.begin_min),
        "kind": "cure" if wait.cure else "wait",
    }
