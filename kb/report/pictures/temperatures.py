"""The temperature windows of backings, adhesives and coats beside what the job asks: a row for each family."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from kb.base.units import degrees
from kb.base.vocabulary import FAMILIES
from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.knowledge import Entry
from kb.report.pictures.drawing import PHONE, Picture, Scale, drawn, noted
from kb.rules.clauses import Facts
from kb.rules.findings import Finding
from kb.rules.words import shown, value_words

KINDS = ("backing", "adhesive", "coating")
_LEFT, _RIGHT, _TOP, _ROW = 164, 240, 70, 18
_NOTE = (
    "Solid: in the chain. Hatched: can be used. Dashed: refused. Thin line: for short. Arrow: goes on beyond the scale."
)
#: How far beyond the job the scale goes, as a share of the job's span and in degrees at least; bars are cut there.
_BEYOND_SHARE, _BEYOND_K = 0.6, 80.0


@dataclass(frozen=True, slots=True)
class Window:
    """One family's row. `entry` stands for it: the chain's own, else the widest that can be used, else the widest."""

    family: str
    entry: Entry
    low: float
    high: float
    short_high: float | None
    state: str
    reason: str = ""

    def words(self) -> str:
        """Give the row as a sentence."""
        short = f", {degrees(self.short_high)} degC for short" if self.short_high is not None else ""
        because = f": {self.reason}" if self.reason else ""
        span = f"{degrees(self.low)} to {degrees(self.high)} degC{short}"
        return f"{value_words(self.family)} ({self.entry.name}): {span}; {self.state}{because}"


def temperature_picture(plan: Plan, chain: Chain) -> Picture:
    """Windows of every family, the chain's own solid, those that can be used hatched, the refused in dashed outline."""
    low, high = plan.job.service.temperature_c
    peak = plan.job.service.peak.temperature_c if plan.job.service.peak else None
    top = high if peak is None else max(high, peak)
    beyond = max(_BEYOND_K, _BEYOND_SHARE * (top - low))
    scale = Scale(low - beyond, top + beyond, _LEFT, _RIGHT)
    groups = [(kind, list(windows(plan, chain, kind))) for kind in KINDS]
    y = _TOP
    drawn_groups = []
    for kind, found in groups:
        drawn_groups.append((kind, y, [_bar(w, scale, y + _ROW * (n + 1)) for n, w in enumerate(found)]))
        y += _ROW * (len(found) + 1) + 8
    above = "" if peak is None else f", peak {degrees(peak)} degC"
    asked = f"The job asks {degrees(low)} to {degrees(high)} degC{above}"
    note = noted(_NOTE, y + 34)
    return drawn(
        "picture_temperatures.svg",
        "temperatures",
        "Temperature windows beside the job",
        [asked, *(w.words() for _, found in groups for w in found)],
        width=PHONE,
        height=note[-1][0] + 8,
        groups=drawn_groups,
        asked=[(scale.at(low), shown(low)), (scale.at(high), shown(high))],
        peak=None if peak is None or peak <= high else (scale.at(peak), shown(peak)),
        ticks=[(scale.at(t), shown(t)) for t in scale.ticks(2)],
        left=_LEFT,
        right=_RIGHT,
        top=_TOP,
        bottom=y,
        note=note,
    )


def windows(plan: Plan, chain: Chain, kind: str) -> Iterator[Window]:
    """Give a window for each family of `kind` that has items, in the order of the vocabulary."""
    refused = {item.id: findings for item, findings in plan.excluded}
    own = {option.entry.id: option.cure for option in chain.picks if option.entry is not None}
    for family in FAMILIES[kind]:
        found = [
            _window(entry, own.get(entry.id), entry.id in own, refused.get(entry.id, ()))
            for entry in plan.knowledge.by_kind.get(kind, ())
            if entry.family == family
        ]
        if found:
            yield min(found, key=lambda w: (_ORDER.index(w.state), w.low - w.high, w.entry.id))


_ORDER = ("in the chain", "can be used", "refused")


def _window(entry: Entry, cure: Facts | None, in_chain: bool, findings: Iterable[Finding]) -> Window:
    facts = entry.facts
    # An adhesive serves as hot as its cure lets it; every other kind has a limit of its own.
    limits, name = facts, "max_c"
    if entry.kind == "adhesive":
        limits, name = cure or max(facts["schedules"], key=lambda s: float(s["service_max_c"])), "service_max_c"
    first = next((f.rule.title for f in findings), "")
    state = "in the chain" if in_chain else "refused" if first else "can be used"
    return Window(entry.family, entry, facts["min_c"], limits[name], limits.get("short_max_c"), state, first)


def _bar(window: Window, scale: Scale, y: int) -> dict[str, object]:
    short = window.short_high
    return {
        "y": y,
        "family": value_words(window.family),
        "numbers": f"{shown(window.low)} to {shown(window.high)}",
        "x1": scale.at(window.low),
        "x2": scale.at(window.high),
        "short": None if short is None or short <= window.high else scale.at(short),
        "cut_low": window.low < scale.low,
        "cut_high": window.high > scale.high,
        "kind": {"in the chain": "own", "can be used": "free", "refused": "refused"}[window.state],
    }
