"""What a chain costs: each rule that speaks, and each option by itself, in the named levels of levels.toml."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

from kb.calc import function
from kb.engine.domain import EMPTY, Domain, Option
from kb.engine.search.masks import merged
from kb.engine.search.problem import Levels
from kb.knowledge.index import HANDS, HEAT
from kb.rules.clauses import Facts, Missing, Scene, Value, look_up
from kb.rules.roles import SLOTS
from kb.rules.rule import Rule

if TYPE_CHECKING:
    from kb.knowledge.tables import HeadroomRow, RankingTable

CRITERIA = (
    "cautions",
    "unknowns",
    "needs",
    "preferences",
    "time to ready",
    "needless heat",
    "temperature headroom",
    "steps",
    "hazards",
    "basis of the knowledge",
)
#: Those by which rules and their waits are priced.
OF_RULES = frozenset(("cautions", "unknowns", "needs", "preferences", "time to ready"))
#: Times are whole milliseconds inside the search, so that a sum doesn't depend on its order.
MS_PER_MINUTE = 60_000
#: The level that costs nothing.
FREE = "free"


class Price(NamedTuple):
    """What something costs by one criterion: its value in the criterion's unit, and so many times a level."""

    criterion: str
    value: float
    level: str
    times: float
    points: int


class Headroom(NamedTuple):
    """How far a job keeps from an item's limits: which facts these are, and how much is enough."""

    row: HeadroomRow

    @property
    def degree(self) -> str:
        """The level that a missing degree costs."""
        return self.row["degree"]

    def limits(self, service: Facts) -> tuple[str, str, str]:
        """Name the facts that limit a service: hot for life, hot for a short time, and cold for so long."""
        row = self.row
        brief = service["duration_days"] <= row.get("brief_low_days", 0.0)
        return row["high"], row.get("brief_high", row["high"]), row["brief_low"] if brief else row["low"]

    def of(self, limits: Sequence[Value], service: Facts) -> tuple[float, float]:
        """Give the degrees between the job and the nearer limit, and those that are short of enough."""
        high, brief_high, low = limits
        if high is None or brief_high is None or low is None:
            return 0.0, self.row["want_c"]
        days = service["duration_days"]
        if days <= self.row.get("brief_high_days", 0.0):
            high = brief_high
        elif days <= self.row.get("days_high_days", 0.0):
            high = function("limit-for-days")(brief_high, high, days)["limit_c"]
        margin = min(high - service["high_c"], service["low_c"] - low)
        return margin, max(0.0, self.row["want_c"] - margin)


class Ranking:
    """The levels, with the user's preference applied: it multiplies the points of a criterion."""

    def __init__(self, table: RankingTable, prefer: str | None = None) -> None:
        self.table = table
        self.scale: Mapping[str, int] = table["prefer"][prefer] if prefer else {}
        self.levels_of = table["levels"]
        self.headroom = {row["slot"]: Headroom(row) for row in table["headroom"]}
        self._own: dict[tuple[str, str], Levels] = {}
        self._times: dict[str, Levels] = {}

    def price(self, criterion: str, level: str, times: float, value: float) -> Price:
        """Price so many times a level, in whole points; half up, so that it doesn't depend on whether one is even."""
        points = abs(times) * self.levels_of[level] * self.scale.get(criterion, 1)
        return Price(criterion, value, level, times, int(points + 0.5) * (-1 if times < 0 else 1))

    def of_rule(self, rule: Rule, known: bool) -> Price:
        """Price a rule that holds (or, not `known`, may hold); a preference is taken off."""
        verdicts = self.table["verdicts"]
        if rule.verdict == "prefer":
            level = FREE if rule.omits and rule.level is None else rule.level or verdicts["prefer"]
            return self.price("preferences", level, -1.0, 1.0)
        if not known:
            usual = verdicts["unknown-block" if rule.verdict == "block" else "unknown"]
            # What may hold costs no more than what holds.
            level = usual if rule.level is None else min(rule.level, usual, key=self.levels_of.__getitem__)
            return self.price("unknowns", level, 1.0, 1.0)
        criterion, verdict = ("needs", "need") if rule.verdict == "need" else ("cautions", "caution")
        return self.price(criterion, rule.level or verdicts[verdict], 1.0, 1.0)

    def prices_rules_like(self, other: Ranking) -> bool:
        """Tell whether every rule costs the same by another ranking over the same table."""
        scales = (
            {name: times for name, times in one.scale.items() if name in OF_RULES and times != 1}
            for one in (self, other)
        )
        first, second = scales
        return self.table is other.table and first == second

    def of_minutes(self, minutes: float, service: Facts) -> Price:
        """Price so many minutes until it is ready, before so long a service."""
        level, hours = self.waiting(service)
        return self.price("time to ready", level, minutes / 60 / hours, minutes)

    def waiting(self, service: Facts) -> tuple[str, float]:
        """Name the level of a wait before so long a service, and the hours that it stands for."""
        days = service["duration_days"]
        row = next(row for row in self.table["time"] if days <= row.get("up_to_days", days))
        return row["level"], row["hours"]

    def of_hazards(self, hazards: Iterable[str]) -> Iterator[Price]:
        """Price the hazards of an item: those of one level together, since one care meets them."""
        named, usual = self.table["hazards"]["of"], self.table["hazards"]["usual"]
        for level, many in Counter(named.get(hazard, usual) for hazard in hazards).items():
            yield self.price("hazards", level, 1.0, float(many))

    def of_basis(self, basis: str) -> Price:
        """Price what the knowledge of an item rests on."""
        return self.price("basis of the knowledge", self.table["known"].get(basis, FREE), 1.0, 1.0)

    def of_heat(self, cured_c: float | None, service: Facts) -> Price:
        """Price the heat of a cure that the service doesn't ask for [degC]."""
        heat = self.table["heat"]
        asked = max(service["high_c"], service.get("peak_c", service["high_c"])) + heat["beyond_c"]
        over = max(0.0, (cured_c or 0.0) - max(asked, heat["least_c"]))
        return self.price("needless heat", heat["level"], over / heat["per_c"], over)

    def of_option(self, slot: str, option: Option, service: Facts) -> Iterator[Price]:
        """Price an option by itself, criterion by criterion; nothing for an empty slot."""
        if option.entry is None:
            return
        facts = option.entry.facts
        yield self.of_minutes(self.minutes(slot, option), service)
        yield self.price("steps", self.table["steps"]["level"], 1.0, 1.0)
        yield from self.of_hazards(facts.get("hazards", ()))
        yield self.of_basis(facts["basis"])
        kind = SLOTS[slot].kind
        scene = {kind: facts, "cure": option.cure}
        if kind in HEAT:
            yield self.of_heat(_figure(HEAT[kind], scene), service)
        room = self.headroom.get(kind)
        if room is not None:
            margin, short = room.of([_figure(path, scene) for path in room.limits(service)], service)
            yield self.price("temperature headroom", room.degree, short, margin)

    def minutes(self, slot: str, option: Option) -> float:
        """Sum the hands-on minutes of an option: its stage's own and the item's."""
        if option.entry is None:
            return 0.0
        return float(self.table["steps"]["minutes"][slot]) + float(option.entry.facts.get(HANDS, 0.0))

    def levels(self, slot: str, domain: Domain, among: int, service: Facts) -> dict[tuple[int, int], int]:
        """Group options by (points, milliseconds) of their own: as `of_option`, for all `among` a mask at once."""
        key = slot, self.waiting(service)[0]
        if key not in self._own:
            self._own[key] = self._without_job(slot, domain, service)
        levels = {level: here for level, members in self._own[key].items() if (here := members & among)}
        if domain.kind in HEAT:
            levels = _summed(levels, self._by_heat(domain, service))
        room = self.headroom.get(domain.kind)
        if room is None:
            return levels
        headroom = (
            ((self.price("temperature headroom", room.degree, room.of(limits, service)[1], 0.0).points, 0), members)
            for limits, members in domain.groups(tuple(map(_pair, room.limits(service)))).items()
        )
        return _summed(levels, merged([((0, 0), EMPTY), *headroom]))

    def times(self, slot: str, domain: Domain) -> Levels:
        """Group options by the milliseconds of their own, without points: the same for every job."""
        if slot not in self._times:
            spent = self._hands_on(slot, domain).items()
            times = (((0, milliseconds(minutes)), members) for minutes, members in spent)
            self._times[slot] = merged([((0, 0), EMPTY), *times])
        return self._times[slot]

    def _hands_on(self, slot: str, domain: Domain) -> dict[float, int]:
        """Group the options of a slot that fill it by their hands-on minutes, as `minutes` does."""
        stage = float(self.table["steps"]["minutes"][slot])
        hands = domain.values(domain.kind, HANDS).items()
        return merged((stage + (value or 0.0), domain.filled & mask) for value, mask in hands)

    def _by_heat(self, domain: Domain, service: Facts) -> Levels:
        """Group the options of a slot by the heat that the service doesn't ask for."""
        heats = domain.groups((_pair(HEAT[domain.kind]),)).items()
        priced = (((self.of_heat(cured_c, service).points, 0), members) for (cured_c,), members in heats)
        return merged([((0, 0), EMPTY), *priced])

    def _without_job(self, slot: str, domain: Domain, service: Facts) -> dict[tuple[int, int], int]:
        """Group the options of a slot by what no job changes but through its hours: work, hazards and basis."""
        stage = self.price("steps", self.table["steps"]["level"], 1.0, 1.0).points
        levels = merged(
            ((stage + self.of_minutes(minutes, service).points, milliseconds(minutes)), members)
            for minutes, members in self._hands_on(slot, domain).items()
        )
        hazards = domain.values(domain.kind, "hazards").items()
        levels = _summed(
            levels, merged(((sum(p.points for p in self.of_hazards(value or ())), 0), mask) for value, mask in hazards)
        )
        basis = domain.values(domain.kind, "basis").items()
        levels = _summed(levels, merged(((self.of_basis(value).points, 0), mask) for value, mask in basis))
        return merged([((0, 0), EMPTY), *levels.items()])


def _figure(path: str, scene: Scene) -> Value:
    """Look a figure up; None where it isn't known."""
    found = look_up(path, scene)
    return None if isinstance(found, Missing) else found


def _pair(path: str) -> tuple[str, str]:
    """Split a fact path into role and field."""
    role, _, field = path.partition(".")
    return role, field


def _summed(one: Levels, other: Levels) -> dict[tuple[int, int], int]:
    """Add two groupings: the options that both hold, at the sum of what each says."""
    return merged(
        ((cost + more, ms + longer), members & mask)
        for (cost, ms), members in one.items()
        for (more, longer), mask in other.items()
    )


def milliseconds(minutes: float) -> int:
    """Count minutes as the search does.

    >>> milliseconds(0.05)
    3000
    """
    return round(minutes * MS_PER_MINUTE)
