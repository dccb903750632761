"""A lab's shelf as plainly as it can be said: what a ledger must say, worked out in another way.

Every fact of a lot is kept as it was said. Whatever is asked is worked out from all of them anew, in whole thousandths,
with nothing kept from before.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

#: What a correction can change here.
Change = dict[str, Any]


class No(Exception):
    """The model refuses."""


@dataclass
class Fact:
    """Something that was said to have happened to a lot: `amount` in thousandths."""

    number: int
    kind: str
    at: str
    said_on: str
    amount: int = 0
    void: bool = False
    edits: list[tuple[str, Change]] = field(default_factory=list)

    def known(self, by: str) -> tuple[str, int, bool] | None:
        """Its day, amount and voidness by what had been said up to a day; None where it wasn't said yet."""
        if self.said_on > by:
            return None
        at, amount, void = self.at, self.amount, self.void
        for said_on, change in self.edits:
            if said_on <= by:
                at, amount, void = change.get("at", at), change.get("amount", amount), change.get("void", void)
        return at, amount, void


@dataclass
class Container:
    """A lot: the number of its receipt, what it is called now, what it was called, and all that was said of it."""

    number: int
    name: str
    item: str
    facts: list[Fact]
    former: list[str] = field(default_factory=list)

    def state(self, on: str = "9999", by: str = "9999") -> dict[str, Any] | None:
        """What it comes to on a day; None where it isn't there. Raises No where it doesn't add up."""
        told = [(fact, known) for fact in self.facts if (known := fact.known(by)) and not known[2]]
        reached: dict[str, str] = {}
        order = []
        for place, (fact, (at, amount, _)) in enumerate(told):
            day, time = at[:10], at[11:]
            time = time or reached.get(day, "")
            reached[day] = max(reached.get(day, ""), time)
            order.append((day, time, place, fact.kind, at, amount))
        found: dict[str, Any] | None = None
        for day, time, _, kind, at, amount in sorted(order):
            if _after(day, at[11:] and time, on):
                break
            found = _next(found, kind, at, amount)
        return found


def _after(day: str, time: str, on: str) -> bool:
    if len(on) <= 10 or not time:
        return day > on[:10]
    return (day, time) > (on[:10], on[11:])


def _next(now: dict[str, Any] | None, kind: str, at: str, amount: int) -> dict[str, Any]:
    if now is None:
        if kind != "received":
            raise No("not there")
        return {"left": amount, "opened": "", "condemned": False, "held": False, "used": {}}
    if kind == "received":
        raise No("there already")
    now = {**now, "used": dict(now["used"])}
    if kind == "opened":
        if now["condemned"] or not now["left"] or now["opened"]:
            raise No("can't be opened")
        now["opened"] = at
    elif kind == "used":
        if now["condemned"] or amount > now["left"]:
            raise No("can't be used")
        now["left"] -= amount
        now["used"][at[:10]] = now["used"].get(at[:10], 0) + amount
    elif kind == "counted":
        now["left"] = amount
    elif kind == "disposed":
        if not now["left"]:
            raise No("empty")
        now["left"] = 0
    elif kind == "condemned":
        if now["condemned"]:
            raise No("twice")
        now["condemned"] = True
    else:
        wanted = kind == "held"
        if now["held"] == wanted:
            raise No("held or not")
        now["held"] = wanted
    return now


@dataclass
class Lab:
    """All containers, what was made, and what is kept for jobs; everything by plain lists."""

    containers: list[Container] = field(default_factory=list)
    made: dict[tuple[str, str], tuple[str, tuple[Container, ...]]] = field(default_factory=dict)
    kept: dict[str, dict[int, int]] = field(default_factory=dict)
    last: int = 0
    records: int = 0

    def there(self) -> dict[str, Container]:
        """The containers that are on the shelf, by their present names."""
        return {one.name: one for one in self.containers if one.state() is not None}

    def of(self, name: str) -> Container:
        found = self.there().get(name)
        if found is None:
            raise No("no such lot")
        return found

    def happens(self, name: str, kind: str, at: str, today: str, amount: int = 0, item: str = "") -> Fact:
        """Something happens to a lot. Raises No, and nothing has changed, where it can't have."""
        fact = Fact(self.last + 1, kind, at, today, amount)
        if kind == "received":
            if name in self.there():
                raise No("there already")
            self.containers.append(Container(fact.number, name, item, [fact]))
        else:
            self._add(self.of(name), fact)
        self.last += 1
        return fact

    def _add(self, container: Container, fact: Fact) -> None:
        container.facts.append(fact)
        try:
            container.state()
        except No:
            container.facts.pop()
            raise

    def corrected(self, name: str, number: int, today: str, change: Change) -> None:
        """An earlier fact of a lot was otherwise."""
        container = self.of(name)
        fact = next((one for one in container.facts if one.number == number and one.kind != "renamed"), None)
        if fact is None:
            raise No("no such fact")
        fact.edits.append((today, change))
        try:
            container.state()
        except No:
            fact.edits.pop()
            raise
        self.last += 1

    def renamed(self, name: str, new: str) -> None:
        container = self.of(name)
        if new in self.there():
            raise No("taken")
        container.former.append(name)
        container.name = new
        self.last += 1

    def recorded(self, job: str, installations: dict[str, str], draws: dict[str, int], at: str, today: str) -> None:
        """Installations are recorded with what they took: all of it, or nothing."""
        if any((job, one) in self.made for one in installations):
            raise No("recorded already")
        done: list[tuple[Container, Fact]] = []
        begun = self.last
        try:
            for name, amount in draws.items():
                done.append((self.of(name), self.happens(name, "used", at, today, amount)))
        except No:
            for container, fact in done:
                container.facts.remove(fact)
            self.last = begun
            raise
        for one, outcome in installations.items():
            self.made[job, one] = (outcome, tuple(container for container, _ in done))
        held = self.kept.get(job, {})
        for container, fact in done:
            if container.number in held:
                held[container.number] = max(0, held[container.number] - fact.amount)
        self.records += 1

    def reserved(self, job: str, draws: dict[str, int]) -> None:
        self.kept[job] = {self.of(name).number: amount for name, amount in draws.items()}
        self.records += 1

    def reservations(self) -> dict[str, int]:
        """What is kept of each lot that is there for any job."""
        found: dict[str, int] = {}
        for name, one in self.there().items():
            found[name] = sum(held.get(one.number, 0) for held in self.kept.values())
        return {name: amount for name, amount in found.items() if amount}
