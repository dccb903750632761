"""The room's air over the day: what evaporates, how much of it hangs in the room, and what the lists allow.

One well-mixed room with the air changes given. That is optimistic at the bench: a nose over an open dish
breathes far more than the room's mean. Limits are those listed in the catalog, as of their dates. Where a job says
whose law holds, that list counts; where it doesn't, or that list has none for a substance, the strictest of all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import exp, fsum
from typing import Any

from kb import calc
from kb.calc.vapour import MOLAR_VOLUME_25C, mg_m3, ppm
from kb.knowledge import Entry

_SHIFT_H = 8.0
_ATMOSPHERE_KPA = 101.325
#: Molar mass of the isocyanate group [g/mol].
NCO_G_MOL = 42.017


@dataclass(frozen=True)
class Room:
    """A well-mixed room: volume [m3] and changes of fresh air [1/h]."""

    volume_m3: float
    changes_per_h: float


@dataclass(frozen=True)
class Emission:
    """So many grams that evaporate evenly over `over_h` [h] from `start_h` [h] of the day; at once where that is 0."""

    grams: float
    start_h: float
    over_h: float

    @property
    def end_h(self) -> float:
        return self.start_h + self.over_h


def level_mg_m3(room: Room, emissions: Iterable[Emission], at_h: float) -> float:
    """Give the concentration [mg/m3] at `at_h` [h], in a room that was clean at first.

    >>> round(level_mg_m3(Room(50, 0), [Emission(100, 0, 1)], 1))
    2000
    """
    return fsum(_one(room, emission, at_h)[0] for emission in emissions)


def average_mg_m3(room: Room, emissions: Sequence[Emission], from_h: float, to_h: float) -> float:
    """Give the mean concentration [mg/m3] from one hour to another.

    >>> average_mg_m3(Room(50, 0), [Emission(100, 0, 1)], 0, 8)
    1875.0
    """
    dose = fsum(_one(room, e, to_h)[1] - _one(room, e, from_h)[1] for e in emissions)
    return dose / (to_h - from_h)


def _one(room: Room, emission: Emission, at_h: float) -> tuple[float, float]:
    """Give the level [mg/m3] that one emission leaves at `at_h`, and its integral until then [mg h/m3]."""
    elapsed = at_h - emission.start_h
    if elapsed < 0:
        return 0.0, 0.0
    done = at_h >= emission.end_h
    fed_h = emission.over_h if done else elapsed
    fed_g = emission.grams if done else emission.grams * elapsed / emission.over_h
    since_h = max(0.0, elapsed - fed_h)
    top = calc.function("room-vapour")(
        evaporated_g=fed_g,
        over_h=fed_h,
        room_volume_m3=room.volume_m3,
        air_changes_per_h=room.changes_per_h,
        molar_mass_g_mol=1.0,
    )["peak_mg_m3"]
    level = top * exp(-room.changes_per_h * since_h)
    if room.changes_per_h * elapsed < 1e-6:
        # Too little has left for the balance below to tell: straight lines up and along.
        return level, top * (fed_h / 2 + since_h)
    # What is no longer in the room has left with its air: the changes times the integral.
    return level, (1000 * fed_g / room.volume_m3 - level) / room.changes_per_h


def peak_mg_m3(room: Room, emissions: Sequence[Emission]) -> float:
    """Give the highest concentration [mg/m3]: where an emission begins or ends, since between these it runs one way."""
    times = {t for e in emissions for t in (e.start_h, e.end_h)}
    return max((level_mg_m3(room, emissions, t) for t in times), default=0.0)


def average_8h_mg_m3(room: Room, emissions: Sequence[Emission]) -> float:
    """Find the highest mean [mg/m3] of eight hours, those that begin with the evaporation or end with a later one."""
    if not emissions:
        return 0.0
    first = min(e.start_h for e in emissions) + _SHIFT_H
    ends = {first, *(e.end_h for e in emissions if e.end_h > first)}
    return max(average_mg_m3(room, emissions, end - _SHIFT_H, end) for end in ends)


def additive(shares: Iterable[float]) -> float:
    """Sum the shares that several substances have of their limits: the additive effect; 1 is the limit of the mix.

    Source: 29 CFR 1910.1000(d)(2)(i).

    >>> round(additive([500 / 1000, 45 / 200, 40 / 200]), 3)
    0.925
    """
    return fsum(shares)


@dataclass(frozen=True)
class Law:
    """Whose limits hold, and on what day; None: nobody said."""

    jurisdiction: str | None = None
    on: str | None = None

    def holds(self, row: Mapping[str, Any]) -> bool:
        """Tell whether a row is in force on the day; without a day any row may be."""
        if self.on is None:
            return True
        return str(row.get("valid_from", self.on)) <= self.on <= str(row.get("valid_until", self.on))


#: Nobody said whose law holds, nor when: the strictest row of any list counts.
NO_LAW = Law()


@dataclass(frozen=True)
class Limit:
    """One row of a list of limits, in mg/m3, and the share of it that the room reaches."""

    list: str
    jurisdiction: str
    kind: str
    limit_mg_m3: float
    share: float
    group: str | None
    skin: bool
    source: str
    as_of: str


@dataclass(frozen=True)
class Vapour:
    """One substance in the room. No limits: none is listed here, which is not to say that there is none.

    `binding` are the limits that count; they are `foreign` where the job's own law lists none for the substance.
    """

    entry: Entry
    evaporated_g: float
    peak_mg_m3: float
    average_8h_mg_m3: float
    limits: tuple[Limit, ...]
    binding: tuple[Limit, ...]
    foreign: bool
    share_of_lel: float | None

    @property
    def worst(self) -> Limit | None:
        """The limit that counts and that the room comes nearest to."""
        return max(self.binding, key=lambda limit: limit.share, default=None)


def vapour(entry: Entry, emissions: Sequence[Emission], room: Room, law: Law = NO_LAW) -> Vapour:
    """Tell what `emissions` of one substance make of the air of `room`; no more than the air can hold of it."""
    facts = entry.facts
    molar_mass = facts.get("molar_mass_g_mol")
    peak, average = peak_mg_m3(room, emissions), average_8h_mg_m3(room, emissions)
    if molar_mass is not None and (pressure := facts.get("vapour_pressure_kpa")) is not None:
        saturated = mg_m3(1e6 * pressure / _ATMOSPHERE_KPA, molar_mass)
        peak, average = min(peak, saturated), min(average, saturated)
    share_of_lel = None
    if molar_mass is not None and "lel_pct" in facts:
        share_of_lel = ppm(peak, molar_mass) / (1e4 * facts["lel_pct"])
    limits = tuple(
        Limit(
            list=row["list"],
            jurisdiction=row["jurisdiction"],
            kind=row["kind"],
            limit_mg_m3=limit,
            share=(average if row["kind"] == "twa-8h" else peak) / limit,
            group=row.get("measured_as"),
            skin=row["skin"],
            source=row["source"],
            as_of=row["as_of"],
        )
        for row in facts.get("limits", ())
        if law.holds(row) and (limit := _in_mg_m3(row, facts)) is not None
    )
    own = tuple(limit for limit in limits if limit.jurisdiction == law.jurisdiction)
    foreign = law.jurisdiction is not None and bool(limits) and not own
    return Vapour(entry, fsum(e.grams for e in emissions), peak, average, limits, own or limits, foreign, share_of_lel)


def _in_mg_m3(row: Mapping[str, Any], facts: Mapping[str, Any]) -> float | None:
    """Give a listed limit in mg/m3 of the substance; None where it can't be told.

    One in ppm alone is taken at 25 degC: of the two customs the stricter. One that counts isocyanate groups alone is
    taken for as much of the substance as holds them.
    """
    molar_mass = facts.get("molar_mass_g_mol")
    listed = row.get("mg_m3")
    if row.get("measured_as") is not None:
        groups = facts.get("nco_groups")
        if listed is None or molar_mass is None or groups is None:
            return None
        return float(listed) * float(molar_mass) / (int(groups) * NCO_G_MOL)
    if listed is not None:
        return float(listed)
    if molar_mass is None or row.get("ppm") is None:
        return None
    return mg_m3(row["ppm"], molar_mass, MOLAR_VOLUME_25C)


@dataclass(frozen=True)
class Air:
    """The room over the day: each substance, the sum of their shares, and the air changes that would do.

    `explosive_sum` adds up shares of the lower explosive limits (Le Chatelier). `changes_for` holds, by share of the
    limits, the air changes [1/h] that keep the room within it; None where no room's ventilation would.
    """

    vapours: tuple[Vapour, ...]
    additive_sum: float
    explosive_sum: float
    changes_for: Mapping[float, float | None]

    @property
    def worst(self) -> float:
        """The highest share of any limit, the additive effect and the explosive limit among them."""
        shares = [v.worst.share for v in self.vapours if v.worst]
        return max(*shares, *group_shares(self.vapours).values(), self.additive_sum, self.explosive_sum, 0.0)


def group_shares(vapours: Iterable[Vapour]) -> dict[tuple[str, str], float]:
    """Give the share of each limit that several substances fill together, as isocyanates do, by list and kind."""
    found: dict[tuple[str, str], float] = {}
    for one in vapours:
        for limit in one.binding:
            if limit.group is not None:
                key = (limit.list, limit.kind)
                found[key] = found.get(key, 0.0) + limit.share
    return found


def air(emissions: Mapping[str, Sequence[Emission]], entries: Mapping[str, Entry], room: Room,
        shares: Sequence[float], most_per_h: float, law: Law = NO_LAW) -> Air:  # fmt: skip
    """Reckon the air of `room` with `emissions` by substance, and the air changes that keep `shares` of the limits.

    No more than `most_per_h` changes are asked of any room.
    """

    def at(changes: float) -> Air:
        here = Room(room.volume_m3, changes)
        vapours = tuple(vapour(entries[item], emissions[item], here, law) for item in sorted(emissions))
        mix = additive(max((x.share for x in v.binding if x.kind == "twa-8h"), default=0.0) for v in vapours)
        return Air(vapours, mix, fsum(v.share_of_lel or 0.0 for v in vapours), {})

    now = at(room.changes_per_h)
    needed = {share: _changes(lambda n: at(n).worst, share, room, most_per_h) for share in shares if now.worst > share}
    return Air(now.vapours, now.additive_sum, now.explosive_sum, needed)


def _changes(worst: Callable[[float], float], share: float, room: Room, most_per_h: float) -> float | None:
    """Find the fewest air changes [1/h], to a hundredth part, at which `worst` is within `share`.

    `worst` falls as they rise. None where even `most_per_h` aren't enough.
    """
    low, high = room.changes_per_h, min(most_per_h, max(1.0, 2 * room.changes_per_h))
    while worst(high) > share:
        if high >= most_per_h:
            return None
        low, high = high, min(most_per_h, 2 * high)
    while high - low > 0.01 * high:
        middle = (low + high) / 2
        low, high = (low, middle) if worst(middle) <= share else (middle, high)
    return high
