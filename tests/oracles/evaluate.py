"""What a whole chain is worth, from the rules themselves: `judge` on every rule in every way it can stand.

Nothing here comes from kb.engine. Slots and roles are as kb.rules.rule names them, points as ranking.toml gives them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import product
from typing import Any, NamedTuple

from kb.calc.endurance import limit_for_days
from kb.knowledge import Entry, Knowledge
from kb.knowledge.packing import unpack
from kb.rules.clauses import Condition
from kb.rules.findings import judge
from kb.rules.roles import ALWAYS_FILLED, OMITS_OF_SLOT, SLOT_ROLES
from kb.rules.rule import Rule

SLOTS = tuple(dict.fromkeys(slot for slots in SLOT_ROLES.values() for slot in slots))
COATS = ("coating_1", "coating_2", "coating_3")
#: The slot that a stage leaves empty when it is not done.
EMPTIED = {stage: slot for slot, stage in OMITS_OF_SLOT.items()}
Facts = Mapping[str, Any]
Scene = Mapping[str, Facts | None]
#: (role, slot) for each slot role that a rule stands on.
Placement = tuple[tuple[str, str], ...]


class Choice(NamedTuple):
    """An item in a slot, an adhesive with its cure. Neither: the slot is empty."""

    entry: Entry | None = None
    cure: Facts | None = None

    @property
    def name(self) -> str:
        """Item and cure, for messages and for comparing with the engine's picks."""
        return "" if self.entry is None else f"{self.entry.id}/{self.cure['id']}" if self.cure else self.entry.id


class Outcome(NamedTuple):
    """What a rule comes to where it speaks: the combination is closed, or costs points and milliseconds.

    `omits` is set where the rule lets its stage's slot stay empty.
    """

    closes: bool
    points: int = 0
    ms: int = 0
    omits: bool = False


_TIMED: dict[int, tuple[Any, tuple[Rule, ...]]] = {}


def timed(knowledge: Knowledge) -> tuple[Rule, ...]:
    """The steps that take time before a gauge may be measured, each as a rule that only adds its minutes."""
    steps = knowledge.tables.get("steps", ())
    if id(steps) not in _TIMED:
        _TIMED[id(steps)] = steps, _as_rules(steps)
    return _TIMED[id(steps)][1]


def _as_rules(steps: Any) -> tuple[Rule, ...]:
    found = []
    for number, step in enumerate(steps):
        if step["stage"] != "verify":
            wait = step["wait_s"] / 60 if step["wait_s"] is not None else step["wait_min"]
            about = {step["item"], wait.split(".")[0] if isinstance(wait, str) else None} - {None}
            when = tuple(unpack(condition) for condition in step["when"])
            words = (f"step {number}", "", "timed", tuple(sorted(about)), "", "", "", "memory", ())
            found.append(Rule(*words, when, wait_min=wait or 0.0, step_min=step["hands_min"]))
    return tuple(found)


def choices(knowledge: Knowledge, slot: str) -> list[Choice]:
    """Everything that can stand in `slot`: nothing, then items in catalog order, cures in the adhesive's."""
    found = [Choice()]
    for entry in knowledge.by_kind.get(slot.split("_")[0], ()):
        cures = entry.facts["schedules"] if slot == "adhesive" else (None,)
        found += [Choice(entry, cure) for cure in cures]
    return found


def slot_roles(conditions: Sequence[Condition]) -> set[str]:
    """The slot roles that `conditions` read."""
    return {role for condition in conditions for role in condition.roles() if role in SLOT_ROLES}


def placements(roles: set[str]) -> list[Placement]:
    """Every way in which `roles` stand on slots; where coats touch, both of them take part."""
    roles = roles | ({"under", "over"} if roles & {"under", "over"} else set())
    names = sorted(roles)
    found = []
    for slots in product(*(SLOT_ROLES[name] for name in names)):
        placed = dict(zip(names, slots, strict=True))
        touching = "under" not in placed or COATS.index(placed["over"]) == COATS.index(placed["under"]) + 1
        if touching and above(placed) not in placed.values():
            found.append(tuple(placed.items()))
    return found


def above(placed: Mapping[str, str]) -> str | None:
    """The slot that must be empty because a role stands for the last coat."""
    outer = placed.get("outer")
    return COATS[COATS.index(outer) + 1] if outer in COATS[:-1] else None


def placements_of(rule: Rule) -> list[Placement]:
    """Every way in which the rule's conditions, and what it is about, stand on slots."""
    return placements({role for role in rule.about if role in SLOT_ROLES} | slot_roles(rule.when))


def outcome(
    rule: Rule, placement: Placement, scene: Scene, chain: Mapping[str, Choice], points: Points
) -> Outcome | None:
    """What `rule`, placed so, says of a chain of which at least the slots that it reads are given."""
    placed = dict(placement)
    last = above(placed)
    if last is not None and chain[last].entry is not None:
        return None
    emptied = EMPTIED[rule.omits] if rule.omits else None
    if emptied is not None and chain[emptied].entry is not None:
        return None
    asked = {path.split(".")[0] for c in rule.when for path in c.facts() if path.endswith(".present")}
    for role, slot in placement:
        if chain[slot].entry is None and role not in asked and slot != emptied:
            return None
    here = {**scene, **_standing(placement, chain)}
    service = scene["service"] or {}
    supplies = [{**here, **_standing(way, chain)} for way in placements(slot_roles(rule.needs))]
    finding = judge(rule, here, supplies if rule.needs else ())
    if finding is None:
        return None
    if rule.verdict == "timed":
        minutes = rule.step_min + finding.wait_min
        return Outcome(False, points.of_time(minutes, service), milliseconds(minutes))
    if rule.verdict == "prefer":
        worth = 0 if rule.omits and rule.level is None else points.of(rule, "prefer")
        return Outcome(False, -points.scaled("preferences", worth), 0, rule.omits is not None)
    if not finding.known:
        usual = points.level(points.table["verdicts"]["unknown-block" if rule.verdict == "block" else "unknown"])
        own = usual if rule.level is None else points.level(rule.level)
        return Outcome(False, points.scaled("unknowns", min(own, usual)))
    if rule.verdict == "need" and not rule.needs:
        minutes = finding.wait_min + (0.0 if rule.step_stage == "verify" else rule.step_min)
        cost = points.scaled("needs", points.of(rule, "need")) + points.of_time(minutes, service)
        return Outcome(False, cost, milliseconds(minutes))
    if rule.verdict == "block" or (not finding.met and rule.needs):
        return Outcome(True)
    return Outcome(False, 0 if rule.needs else points.scaled("cautions", points.of(rule, "caution")))


def _standing(placement: Placement, chain: Mapping[str, Choice]) -> dict[str, Facts | None]:
    return {
        role: None if (choice := chain[slot]).entry is None else choice.cure if role == "cure" else choice.entry.facts
        for role, slot in placement
    }


def milliseconds(minutes: float) -> int:
    return round(minutes * 60_000)


class Points:
    """ranking.toml, with a preference of the user's."""

    def __init__(self, table: Mapping[str, Any], prefer: str | None = None) -> None:
        self.table = table
        self.factor = table["prefer"][prefer] if prefer else {}

    def scaled(self, criterion: str, points: float) -> int:
        """Points of a criterion as whole numbers, half up."""
        return int(points * self.factor.get(criterion, 1) + 0.5)

    def level(self, name: str) -> int:
        """Points of a level, before any preference."""
        return int(self.table["levels"][name])

    def of(self, rule: Rule, verdict: str) -> int:
        return self.level(rule.level or self.table["verdicts"][verdict])

    def of_time(self, minutes: float, service: Facts) -> int:
        """Points of minutes: a wait's level is that of the first row that the service isn't longer than."""
        for row in self.table["time"]:
            if "up_to_days" not in row or service["duration_days"] <= row["up_to_days"]:
                return self.scaled("time to ready", minutes / 60 / row["hours"] * self.level(row["level"]))
        raise AssertionError("the last row holds for any service")

    def minutes(self, slot: str, choice: Choice) -> float:
        """Hands-on minutes that a choice takes by itself."""
        if choice.entry is None:
            return 0.0
        return float(self.table["steps"]["minutes"][slot] + choice.entry.facts.get("minutes", 0.0))

    def of_choice(self, slot: str, choice: Choice, service: Facts) -> int:
        """Points that a choice costs by itself."""
        if choice.entry is None:
            return 0
        facts = choice.entry.facts
        hazards = self.table["hazards"]
        each = map(self.level, {hazards["of"].get(h, hazards["usual"]) for h in facts.get("hazards", ())})
        cost = self.of_time(self.minutes(slot, choice), service)
        cost += self.scaled("steps", self.level(self.table["steps"]["level"]))
        cost += self.scaled("hazards", sum(each))
        cost += self.scaled("basis of the knowledge", self.level(self.table["known"].get(facts["basis"], "free")))
        if choice.cure is not None:
            cost += self.of_heat(choice.cure, service)
        if slot.startswith("coating"):
            cost += self.of_heat({"temperature_c": facts.get("cure_temperature_c")}, service)
        for row in self.table["headroom"]:
            if row["slot"] == slot.split("_")[0]:
                cost += self.scaled("temperature headroom", _short(row, choice, service) * self.level(row["degree"]))
        return cost

    def of_heat(self, cure: Facts, service: Facts) -> int:
        """Points of a cure that is hotter than the service asks for."""
        heat = self.table["heat"]
        hot = [cure[name] for name in ("temperature_c", "post_cure_c") if cure.get(name) is not None]
        wanted = max(service["high_c"], service.get("peak_c", -math.inf)) + heat["beyond_c"]
        over = max([0.0, *(c - max(wanted, heat["least_c"]) for c in hot)])
        return self.scaled("needless heat", over / heat["per_c"] * self.level(heat["level"]))


def _short(row: Facts, choice: Choice, service: Facts) -> float:
    """The degrees that are missing to what ranking.toml wants between a job and an item's limits."""
    assert choice.entry is not None
    days = service["duration_days"]
    paths = row["high"], row.get("brief_high", row["high"]), row["low"]
    if days <= row.get("brief_low_days", 0):
        paths = (*paths[:2], row["brief_low"])
    ends: list[Any] = []
    for path in paths:
        role, _, field = path.partition(".")
        ends.append(((choice.cure or {}) if role == "cure" else choice.entry.facts).get(field))
    if None in ends:
        return float(row["want_c"])
    high, brief, low = ends
    if days <= row.get("brief_high_days", 0):
        high = brief
    elif days <= row.get("days_high_days", 0):
        high = limit_for_days(brief, high, days)["limit_c"]
    margin = min(high - service["high_c"], service["low_c"] - low)
    return float(max(0.0, row["want_c"] - margin))


class Worth(NamedTuple):
    """A chain's cost and time; `allowed` is False where a rule, or the time limit, speaks against it."""

    allowed: bool
    cost: int
    ms: int


def worth(knowledge: Knowledge, scene: Scene, chain: Mapping[str, Choice], points: Points) -> Worth:
    """What the rules make of a whole chain."""
    service = scene["service"] or {}
    cost = sum(points.of_choice(slot, choice, service) for slot, choice in chain.items())
    ms = sum(milliseconds(points.minutes(slot, choice)) for slot, choice in chain.items())
    allowed = well_formed(chain)
    omitted: set[str] = set()
    for rule in (*knowledge.rules, *timed(knowledge)):
        for found in _outcomes(rule, scene, chain, points):
            allowed = allowed and not found.closes
            cost += found.points
            ms += found.ms
            if found.omits and rule.omits:
                omitted.add(EMPTIED[rule.omits])
    unexplained = {slot for slot in OMITS_OF_SLOT if chain[slot].entry is None} - omitted
    limit = milliseconds((scene["limits"] or {})["ready_within_min"])
    return Worth(allowed and not unexplained and ms <= limit, cost, ms)


def _outcomes(rule: Rule, scene: Scene, chain: Mapping[str, Choice], points: Points) -> Iterator[Outcome]:
    if "chain" in rule.roles():
        return
    for placement in placements_of(rule):
        found = outcome(rule, placement, scene, chain, points)
        if found is not None:
            yield found


def well_formed(chain: Mapping[str, Choice]) -> bool:
    """What every chain has, and no coat over a gap."""
    filled = [chain[slot].entry is not None for slot in COATS]
    return all(chain[slot].entry is not None for slot in ALWAYS_FILLED) and filled == sorted(filled)[::-1]
