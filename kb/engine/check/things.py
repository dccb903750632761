"""What is held side by side, and for what: a job, or what is taken of a job that says nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import product
from typing import Any, NamedTuple

from kb.base.errors import BadInput
from kb.base.surroundings import exposures as exposures_known
from kb.base.surroundings import implied
from kb.base.vocabulary import EXPOSURES
from kb.engine.scene import scene_of
from kb.job import Job, job_of
from kb.knowledge import Entry, Knowledge
from kb.knowledge.derive import ROOM_C
from kb.rules.clauses import UNKNOWN, Facts
from kb.rules.job_facts import job_facts
from kb.rules.relations import EXPOSURE
from kb.rules.roles import AROUND, BESIDE_ROLES, CHAIN_ROLE, JOB_ROLES, SLOTS
from kb.rules.words import shown

#: The facts of a service that its hot end sets, and its cold one.
HOT, COLD = ("high_c", "stated_high_c", "peak_c"), ("low_c", "stated_low_c")
#: So cold a service says nothing of what a part endures.
_NO_HEAT_C = -200.0
#: Of these several may be named at once; of every other kind a chain holds one.
SEVERAL = (EXPOSURE, "coating", "abrasive")


@dataclass(frozen=True, slots=True)
class Thing:
    """One thing that is named: an item, or an exposure, which has no entry."""

    id: str
    entry: Entry | None = field(default=None, compare=False)
    #: Of an exposure the kinds that are meant; empty where no kind is named.
    of: tuple[str, ...] = ()
    #: Of an exposure how hot or cold it is [degC]; None where nobody said.
    at_c: float | None = None
    #: Of an adhesive how hot it is cured [degC]; None where nobody said.
    cured_c: float | None = None
    #: The chemical that was named for it, of whose strength nothing was said.
    undiluted: str = ""
    #: Whether it was said to surround what is finished: it came after that had bonded.
    around: bool = False

    @property
    def kind(self) -> str:
        """The kind of the item."""
        return self.entry.kind if self.entry else EXPOSURE

    @property
    def words(self) -> str:
        """What it is called, an exposure with its kinds and how hot it is.

        >>> Thing("solvent-splash", of=("ketone",)).words, Thing("mineral-oil", at_c=120.0).words
        ('solvent-splash (ketone)', 'mineral-oil (120 degC)')
        """
        more = [*self.of, *([f"{shown(self.at_c)} degC"] if self.at_c is not None else [])]
        return f"{self.id} ({', '.join(more)})" if more else self.id


class Setting(NamedTuple):
    """A job to judge things for, and what its part is made of."""

    job: Job
    part: Entry


class Situation(NamedTuple):
    """Things of which each has a place of its own, and what is known of the job that they are judged for."""

    things: tuple[Thing, ...]
    setting: Setting | None
    scene: dict[str, Facts | None]

    def of_kind(self, kind: str) -> tuple[Thing, ...]:
        """Give the things of a kind, in the order in which they were named."""
        return tuple(thing for thing in self.things if thing.kind == kind)

    @property
    def part(self) -> Thing | None:
        """What the part is made of, where it is named."""
        return next(iter(self.of_kind("substrate")), None)

    @property
    def exposures(self) -> tuple[str, ...]:
        """The exposures that are named."""
        return tuple(thing.id for thing in self.of_kind(EXPOSURE))

    def exposed_to(self, exposure: str) -> Situation:
        """Give the same in one of its exposures."""
        meant = [thing for thing in self.of_kind(EXPOSURE) if thing.id == exposure]
        service = {**(self.scene["service"] or {}), **_surroundings(meant)}
        return self._replace(scene={**self.scene, "service": service})


def situations(things: Sequence[Thing], setting: Setting | None, knowledge: Knowledge) -> Iterator[Situation]:
    """Give every choice of one thing of each kind of which a chain holds one, with all coats, abrasives and exposures.

    BadInput where more coats or abrasives are named than a chain holds.
    """
    for kind in SEVERAL[1:]:
        if room_for(kind, things) < 0:
            raise BadInput("check", f"so many things of the kind {kind} are in no chain", "name fewer")
    single: dict[str, list[Thing]] = {}
    for thing in things:
        single.setdefault(thing.kind if thing.kind not in SEVERAL else "", []).append(thing)
    several = single.pop("", [])
    for chosen in product(*single.values()):
        here = tuple(thing for thing in things if thing in several or any(thing is one for one in chosen))
        yield Situation(here, setting, _scene(here, setting, knowledge))


def room_for(kind: str, things: Sequence[Thing]) -> int:
    """Tell how many more things of a kind a chain holds beside these."""
    return sum(slot.kind == kind for slot in SLOTS.values()) - sum(thing.kind == kind for thing in things)


def _scene(things: Sequence[Thing], setting: Setting | None, knowledge: Knowledge) -> dict[str, Facts | None]:
    """Give the facts by role of all that stands in no slot. Of what isn't in it nothing is known.

    With a job the part is as it is once the job has taken its layer off; by itself it is what was named.
    """
    part = next((thing.entry for thing in things if thing.kind == "substrate"), setting.part if setting else None)
    scene: dict[str, Facts | None] = {role: {} for role in (*JOB_ROLES, CHAIN_ROLE)}
    if setting is not None:
        scene |= scene_of(knowledge, setting.job, (part or setting.part).facts)
    else:
        scene |= usual_tables(part)
        scene |= {"substrate": part.facts} if part else {}
    scene |= {
        thing.kind: {**thing.entry.facts, AROUND: thing.around}
        for thing in things
        if thing.entry and thing.kind in BESIDE_ROLES
    }
    exposures = [thing for thing in things if thing.kind == EXPOSURE]
    if exposures:
        service = scene["service"] or {}
        joined = {name: (*service.get(name, ()), *words) for name, words in _surroundings(exposures).items()}
        scene["service"] = {**service, **joined, **_heat(exposures, service)}
    return scene


def _surroundings(exposures: Sequence[Thing]) -> dict[str, tuple[str, ...]]:
    """Give the facts of a service in which something is exposed to these, and nothing more is said."""
    words = tuple(thing.id for thing in exposures)
    return {"exposures": words, **implied(words, {thing.id: thing.of for thing in exposures})}


def _heat(exposures: Sequence[Thing], service: Facts) -> dict[str, Any]:
    """Give what is said of how hot or cold these are, beside what the `service` of a job says."""
    said = [(thing.id, at_c) for thing in exposures if (at_c := _degrees(thing)) is not None]
    found: dict[str, Any] = {}
    for names, worst in ((HOT, max), (COLD, min)):
        if ends := [c for _, c in said if (c >= ROOM_C) == (worst is max)]:
            found |= {name: worst([*ends, *([service[name]] if name in service else [])]) for name in names}
    if said:
        # It comes from a room, where it was bonded.
        found = {name: ROOM_C for name in (*HOT, *COLD) if name not in service} | found
        found["met"] = (*service.get("met", ()), *((word, "high_c", c) for word, c in said))
    return found


def _degrees(exposure: Thing) -> float | None:
    """Tell how hot or cold an exposure is: as it was said, or as it is at least by itself."""
    alone = exposures_known()[exposure.id]
    return next((c for c in (exposure.at_c, alone.at_least_c, alone.at_most_c) if c is not None), None)


def usual_tables(part: Entry | None) -> dict[str, Facts]:
    """Give what is taken of a job that says nothing.

    It is of its room and batch, and of a part of which the material is named.

    Of what the gauge is to stand nothing is taken; nor whether parts are on a laminate that is as often bare.
    """
    tables = job_facts(_plain_job(), part.facts if part else {})
    taken: dict[str, Any] = dict(tables["part"]) if part else {}
    if part and part.facts.get("often_bare"):
        taken["populated"] = UNKNOWN
    return {**tables, "service": {}, "part": taken}


@cache
def _plain_job() -> Job:
    said: dict[str, Any] = {"part": {"substrate": "any"}, "service": {"temperature_c": [_NO_HEAT_C, _NO_HEAT_C]}}
    return job_of(said, "check")


def exposure_things() -> tuple[Thing, ...]:
    """Give every exposure."""
    return tuple(Thing(word) for word in EXPOSURES)
