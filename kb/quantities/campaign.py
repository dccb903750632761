"""What is to be scheduled: a route of legs, how many installations take it, with how many hands, ovens, clamps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple


class Cup(NamedTuple):
    """What is mixed for a leg: it takes `stir` seconds, keeps `life` seconds from then on, and serves so many."""

    stir: int
    life: int
    serves: int


class Leg(NamedTuple):
    """Seconds of work by one person, then seconds of waiting. `within`: start so soon after what went before.

    `group` installations of neighbouring numbers begin a leg together, once all of them have come so far. A leg that
    works out of a `cup` takes its stir longer where no cup is open that will do. The last `proof` seconds of the work
    only prove what is ready before them.
    """

    work: int
    wait: int = 0
    oven: bool = False
    clamp: bool = False
    within: int | None = None
    group: int = 1
    cup: Cup | None = None
    proof: int = 0

    @property
    def only_proves(self) -> bool:
        """Whether it leaves what comes to it as it is."""
        return not self.wait and 0 < self.work == self.proof

    @property
    def longest(self) -> int:
        """Seconds of work, a stir included."""
        return self.work + (self.cup.stir if self.cup else 0)


@dataclass(frozen=True, slots=True)
class Campaign:
    """What is to be done and with what. `clamps` None: as many as it takes. `load`: installations that share an oven.

    `within`: seconds from the start in which all is to be ready; None without a limit.

    Raises ValueError where a load needs more clamps than there are, or where two legs clamp, or one without work.
    """

    route: tuple[Leg, ...]
    number: int
    people: int = 1
    ovens: int = 1
    clamps: int | None = None
    load: int = 1
    within: int | None = None

    def __post_init__(self) -> None:
        if sum(leg.clamp for leg in self.route) > 1:
            raise ValueError("one leg of a route can hold a clamp")
        if any((leg.clamp or leg.cup or leg.group > 1) and not leg.work for leg in self.route):
            raise ValueError("somebody has to put the clamp on, or mix")
        if self.clamps is not None and self.load > self.clamps and any(leg.clamp and leg.oven for leg in self.route):
            raise ValueError(f"{self.load} share an oven, and there are {self.clamps} clamps")

    @property
    def readying(self) -> int:
        """How many legs make an installation ready: what comes after them only proves it."""
        return max((place for place, leg in enumerate(self.route, start=1) if not leg.only_proves), default=0)

    @property
    def chain_s(self) -> int:
        """The longest chain: one installation that never waits for anybody."""
        return sum(leg.longest + leg.wait for leg in self.route)

    @property
    def serial_s(self) -> int:
        """Everything one after the other, each oven load once."""
        loads = -(-self.number // self.load)
        return sum(leg.longest * self.number + leg.wait * (loads if leg.oven else self.number) for leg in self.route)

    def load_of(self, installation: int) -> range:
        """Give the installations that share an oven with this one."""
        return self._block(installation, self.load)

    def group_of(self, installation: int, leg: int) -> range:
        """Give the installations that begin a leg together with this one."""
        return self._block(installation, self.route[leg].group)

    def _block(self, installation: int, size: int) -> range:
        first = installation - installation % size
        return range(first, min(first + size, self.number))
