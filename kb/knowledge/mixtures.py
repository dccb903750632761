"""Classify a mixture from its constituents, by the limits in generic_catalog/mixtures.toml.

Three kinds of limit: one constituent decides alone; shares add up, each as a part of its limit; acute toxicity adds up
as reciprocals. A constituent's own specific limits go before the general ones. What the table can't tell (fire of a
watery blend, a test of the skin) the item states as measured.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import fsum

from kb.rules.clauses import Facts

Table = Facts
#: A liquid that boils below this is a gas in a room [degC].
_ROOM_C = 20.0


#: A share at its limit reaches it, whatever the last digit of a product or a sum.
_HAIR = 1 - 1e-9


@dataclass(frozen=True, slots=True)
class Constituent:
    """One substance of a bottle: its id, what is known of it, and its share by mass [%]."""

    id: str
    facts: Facts
    pct: float

    def says(self, statement: str) -> bool:
        """Tell whether the pure substance carries `statement`."""
        return statement in self.facts.get("hazard_statements", ())

    def reaches(self, limit_pct: float) -> bool:
        """Tell whether its share is at `limit_pct` [%] or above."""
        return self.pct >= limit_pct * _HAIR

    def specific(self, statement: str) -> float | None:
        """Give the least share [%] from which its own limits give `statement`; None where it has none for it."""
        rows = self.facts.get("specific_limits", ())
        return min((row["from_pct"] for row in rows if row["statement"] == statement), default=None)


@dataclass(frozen=True, slots=True)
class Bottle:
    """What stands on the bench: its constituents, and what was measured of it as a whole."""

    holds: tuple[Constituent, ...]
    flash_point_c: float | None = None
    no_flash_point: bool = False
    ph: float | None = None
    runny: bool = True
    volatile_from_kpa: float = 0.0


@dataclass(frozen=True, slots=True)
class Finding:
    """A statement of the mixture and the constituents that it comes from; none where it was measured."""

    statement: str
    of: tuple[str, ...]


def classified(bottle: Bottle, table: Table) -> list[Finding]:
    """List every hazard statement of `bottle`, in order of code.

    >>> table = {"alone": [{"statements": ["H350"], "from_pct": 0.1}]}
    >>> amine = Constituent("an-amine", {"hazard_statements": ["H350"]}, 1.0)
    >>> classified(Bottle((amine,)), table)
    [Finding(statement='H350', of=('an-amine',))]
    """
    found: dict[str, tuple[str, ...]] = {}
    for row in table.get("alone", ()):
        _put(found, row, _alone(bottle, row))
    for statement in _extreme_ph(bottle, table):
        found.setdefault(statement, ())
    for row in table.get("together", ()):
        _put(found, row, _together(bottle, row))
    for statement, of in (*_acute(bottle, table), *_fire(bottle, table), *_carried(bottle, table)):
        found.setdefault(statement, of)
    found |= dict(_elicits(bottle, table, found))
    return [Finding(statement, found[statement]) for statement in sorted(found)]


def _put(found: dict[str, tuple[str, ...]], row: Table, told: Iterable[tuple[str, tuple[str, ...]]]) -> None:
    """Add what `row` tells, unless a worse statement says it already."""
    if not set(row.get("unless", ())) & set(found):
        for statement, of in told:
            if of:
                found[statement] = tuple(dict.fromkeys((*found.get(statement, ()), *of)))


def _alone(bottle: Bottle, row: Table) -> Iterator[tuple[str, tuple[str, ...]]]:
    for statement in row["statements"]:
        gives = row.get("gives", statement)
        for one in bottle.holds:
            category = row.get("category")
            if category is not None and one.facts.get(f"categories.{statement}") != category:
                continue
            own = one.specific(gives)
            applies = one.says(statement) or (own is not None and gives == statement)
            if applies and one.reaches(row["from_pct"] if own is None else own):
                yield gives, (one.id,)


def _together(bottle: Bottle, row: Table) -> Iterator[tuple[str, tuple[str, ...]]]:
    if row.get("runny") and not bottle.runny:
        return
    parts = [(one, max((_part(one, term, row["gives"]) for term in row["terms"]), default=0.0)) for one in bottle.holds]
    if fsum(part for _, part in parts) >= _HAIR:
        yield row["gives"], tuple(one.id for one, part in parts if part)


def _part(one: Constituent, term: Table, gives: str) -> float:
    """Give the share of `one` as a part of its limit for `gives`; 0 where it has no bearing."""
    limit = one.specific(gives)
    if limit is None and one.says(term["statement"]):
        # What is corrosive only from a share of its own does no lasting harm to eyes below that share either.
        limit = one.specific(term["statement"]) or float(term["from_pct"])
    if limit is None:
        return 0.0
    times = one.facts.get(term["times"], 1.0) if "times" in term else 1.0
    return one.pct * float(times) / limit


def _extreme_ph(bottle: Bottle, table: Table) -> Iterator[str]:
    limits = table.get("ph")
    if limits is None or bottle.ph is None or limits["corrosive_to"] < bottle.ph < limits["corrosive_from"]:
        return
    corrosive = [one for one in bottle.holds if one.says("H314")]
    if corrosive and not any(one.specific("H314") for one in corrosive):
        yield "H314"


def _acute(bottle: Bottle, table: Table) -> Iterator[tuple[str, tuple[str, ...]]]:
    acute = table.get("acute", {})
    for route in acute.get("routes", ()):
        form = route.get("of")
        counted = [
            (one, ate)
            for one in bottle.holds
            if one.pct >= acute["from_pct"] and form in (None, form_of(one.facts, bottle.volatile_from_kpa))
            if (ate := estimate_of(one.facts, route)) is not None
        ]
        if not counted:
            continue
        of_mixture = 100 / fsum(one.pct / ate for one, ate in counted)
        band = next((band for band in route["bands"] if of_mixture <= band["up_to"]), None)
        if band is not None:
            yield band["gives"], tuple(one.id for one, _ in counted)


def form_of(facts: Facts, volatile_from_kpa: float) -> str:
    """Tell in what form a substance is breathed: as gas, as vapour, or as mist or dust."""
    boils, pressure = facts.get("boiling_point_c"), facts.get("vapour_pressure_kpa")
    if boils is not None and boils < _ROOM_C:
        return "gas"
    return "vapour" if pressure is not None and pressure >= volatile_from_kpa else "mist"


def estimate_of(facts: Facts, route: Table) -> float | None:
    """Give the acute toxicity estimate of a substance for a route: as given, or the point of its category."""
    given = facts.get(f"acute_toxicity.{route['ate']}")
    if given is not None:
        return float(given)
    for statement, point in route["point"].items():
        code, _, category = statement.partition(" ")
        if code in facts.get("hazard_statements", ()):
            refined = f"{code} {facts.get(f'categories.{code}')}"
            return float(route["point"].get(refined, point)) if not category else float(point)
    return None


def _fire(bottle: Bottle, table: Table) -> Iterator[tuple[str, tuple[str, ...]]]:
    fire = table.get("fire")
    if fire is None or bottle.no_flash_point:
        return
    pure = next((one for one in bottle.holds if one.pct >= fire["pure_from_pct"]), None)
    if bottle.flash_point_c is not None and pure is None:
        statement = flammable(bottle.flash_point_c, _boils(bottle, fire), fire)
        yield from ((s, ()) for s in (statement,) if s)
        return
    weighed = [pure] if pure is not None else [one for one in bottle.holds if one.pct >= fire["from_pct"]]
    for statement in fire["statements"]:
        of = tuple(one.id for one in weighed if one.says(statement))
        if of:
            yield statement, of
            return


def flammable(flash_c: float | None, boils_c: float | None, fire: Table) -> str | None:
    """Give the statement that flash and boiling point [degC] ask for; None where it needs none.

    >>> fire = {"statements": ["H224", "H225", "H226"], "boils_to_c": 35.0, "flash_to_c": 23.0, "warm_to_c": 60.0}
    >>> [flammable(flash, boils, fire) for flash, boils in ((-20, 30), (-20, 56), (23, 100), (60.1, 150))]
    ['H224', 'H225', 'H226', None]
    """
    extremely, highly, plainly = fire["statements"]
    if flash_c is None or flash_c > fire["warm_to_c"]:
        return None
    if flash_c >= fire["flash_to_c"]:
        return str(plainly)
    return str(extremely if boils_c is not None and boils_c <= fire["boils_to_c"] else highly)


def _boils(bottle: Bottle, fire: Table) -> float | None:
    """Find where the mixture begins to boil [degC]: at the lowest of what is in it to a weighty share."""
    known = [one.facts.get("boiling_point_c") for one in bottle.holds if one.pct >= fire["from_pct"]]
    return min((boils for boils in known if boils is not None), default=None)


def _carried(bottle: Bottle, table: Table) -> Iterator[tuple[str, tuple[str, ...]]]:
    for row in table.get("carried", ()):
        for statement in row["statements"]:
            of = tuple(one.id for one in bottle.holds if _carries(one, statement, row["from_pct"]))
            if of:
                yield statement, of
    for row in table.get("named", ()):
        of = tuple(one.id for one in bottle.holds if one.pct >= row["from_pct"] and _is_named(one, row))
        if of:
            yield row["gives"], of


def _carries(one: Constituent, statement: str, from_pct: float) -> bool:
    own = one.specific(statement)
    return one.reaches(from_pct if own is None else own) and (one.says(statement) or own is not None)


def _is_named(one: Constituent, row: Table) -> bool:
    if "word" in row:
        return f"own_hazards.{row['word']}" in one.facts
    return row["group"] in one.facts.get("reactive_groups", ())


def _elicits(bottle: Bottle, table: Table, found: Facts) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Name the sensitisers that are too few to classify the mixture and enough for who is sensitised already."""
    row = table.get("elicitation")
    if row is None:
        return
    of = tuple(
        one.id
        for one in bottle.holds
        if any(
            one.says(statement)
            and one.id not in found.get(statement, ())
            and one.reaches(row["share"] * _least(one, statement, table))
            for statement in row["statements"]
        )
    )
    if of:
        yield row["gives"], of


def _least(one: Constituent, statement: str, table: Table) -> float:
    """Find from what share [%] `one` by itself gives a mixture `statement`."""
    own = one.specific(statement)
    if own is not None:
        return own
    category = one.facts.get(f"categories.{statement}")
    rows = [row for row in table.get("alone", ()) if statement in row["statements"]]
    return min(float(row["from_pct"]) for row in rows if row.get("category") in (None, category))


def words_of(findings: Sequence[Finding], table: Table) -> set[str]:
    """List the words by which a user may refuse what carries these statements."""
    said = {finding.statement for finding in findings}
    return {word for word, statements in table["words"].items() if said & set(statements)}
