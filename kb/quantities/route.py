"""A chain's steps as the route of one installation: sittings of a person, and the waits between them.

Hands-on minutes come from the ranking table, from the items, from the rules' own steps and from workday.toml; waits
from the procedure. A wait as short as thumb pressure keeps its person, so that a surface goes from the first wipe to
the bonded gauge in one sitting.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from itertools import takewhile
from typing import NamedTuple

from kb.base.vocabulary import PROOF_STAGE
from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.planning.procedure import Step, procedure
from kb.quantities.campaign import Cup, Leg
from kb.quantities.workday import defaults
from kb.rules.roles import SLOTS


class Part(NamedTuple):
    """A piece of a leg, as the rows tell it: hands-on or waiting, in one stage."""

    stage: str
    seconds: int
    #: The places in the procedure of the steps that it holds.
    steps: tuple[int, ...] = ()


class _Span(NamedTuple):
    stage: str
    seconds: int
    hands: bool
    #: The heat of an oven [degC]; None on the bench.
    oven_c: float | None = None
    clamp: bool = False
    lasts_s: int | None = None
    #: The item that is mixed at its beginning.
    mixes: str | None = None
    steps: tuple[int, ...] = ()


class Route(NamedTuple):
    """The legs of one installation, and the parts of each: of its work, and of its wait.

    `mixes` names the item of which a cup is mixed when the leg begins; `keeps_s` says how long a prepared surface may
    wait for its bond.
    """

    legs: tuple[Leg, ...]
    work: tuple[tuple[Part, ...], ...]
    wait: tuple[tuple[Part, ...], ...]
    mixes: tuple[str | None, ...]
    keeps_s: int

    def gathered(self, cups: Mapping[str, Cup], groups: Mapping[str, int]) -> Route:
        """Give the same with a cup of each item, before which so many installations gather."""
        legs = tuple(
            leg._replace(cup=cups[item], group=groups.get(item, 1)) if item is not None and item in cups else leg
            for leg, item in zip(self.legs, self.mixes, strict=True)
        )
        return self._replace(legs=legs)


def route(plan: Plan, chain: Chain) -> Route:
    """Tell what one installation goes through: sittings of a person, and the waits between them."""
    legs: list[Leg] = []
    work: list[tuple[Part, ...]] = []
    wait: list[tuple[Part, ...]] = []
    mixes: list[str | None] = []
    lasts: int | None = None
    spans = list(_held(_spans(plan, chain)))
    while spans:
        mixed = spans[0].mixes if spans[0].hands else None
        # A sitting ends where something is mixed: one cup serves several installations.
        first, others = _taken(spans[:1], lambda span: span.hands)
        sitting, spans = _taken([*others, *spans[1:]], lambda span: span.hands and span.mixes is None)
        sitting = [*first, *sitting]
        # One oven stay with its warming and cooling, or a row of waits on the bench; the clamp comes off after the
        # waits that it was put on for.
        pause, spans = _taken(spans, partial(_goes_on, spans[0])) if spans else ([], spans)
        oven, clamp = (pause[0].oven_c is not None, pause[0].clamp) if pause else (False, False)
        legs.append(
            Leg(
                work=sum(span.seconds for span in sitting),
                wait=sum(span.seconds for span in pause),
                oven=oven,
                clamp=clamp and bool(sitting),
                within=lasts,
                proof=sum(span.seconds for span in sitting if span.stage == PROOF_STAGE),
            )
        )
        work.append(_parts(sitting))
        wait.append(_parts(pause))
        mixes.append(mixed)
        lasts = next((span.lasts_s for span in pause if span.lasts_s is not None), None)
        if lasts is None and spans and not pause and spans[0].stage == "mount":
            lasts = _seconds(defaults()["hands"]["prepared_keeps_min"])
    return Route(tuple(legs), tuple(work), tuple(wait), tuple(mixes), _keeps_s(plan, chain))


def _keeps_s(plan: Plan, chain: Chain) -> int:
    """Give the seconds within which a surface is bonded: as long as its treatment lasts, or as any wiped one keeps."""
    # An accelerator is a treatment of the gauge, at the bond: it doesn't keep the part.
    treats = {step.item for step in procedure(plan, chain) if step.stage == "treat"}
    treatment = chain.pick("treatment").entry
    if treatment is not None and treatment.id in treats and "lasts_h" in treatment.facts:
        return _seconds(treatment.facts["lasts_h"] * 60)
    return _seconds(defaults()["hands"]["prepared_keeps_min"])


def _goes_on(first: _Span, span: _Span) -> bool:
    """Tell whether a wait goes on as it began: as hot, and under pressure or not."""
    return not span.hands and (span.oven_c, span.clamp) == (first.oven_c, first.clamp)


def _taken(spans: list[_Span], kind: Callable[[_Span], bool]) -> tuple[list[_Span], list[_Span]]:
    """Give the first spans that are of a kind, and the rest."""
    taken = list(takewhile(kind, spans))
    return taken, spans[len(taken) :]


def _parts(spans: Sequence[_Span]) -> tuple[Part, ...]:
    """Join neighbouring spans of one stage."""
    joined: list[Part] = []
    for span in spans:
        if joined and joined[-1].stage == span.stage:
            seconds, steps = joined[-1].seconds + span.seconds, joined[-1].steps + span.steps
            joined[-1] = Part(span.stage, seconds, steps)
        else:
            joined.append(Part(span.stage, span.seconds, span.steps))
    return tuple(joined)


def _held(found: Iterator[_Span | int]) -> Iterator[_Span]:
    """Give the spans, each with the steps that it holds: those that take no time of their own with the next."""
    waiting: list[int] = []
    last: _Span | None = None
    for one in found:
        if isinstance(one, int):
            waiting.append(one)
            continue
        if last is not None:
            yield last
        last, waiting = one._replace(steps=tuple(waiting)), []
    if last is not None:
        yield last._replace(steps=(*last.steps, *waiting))


def _spans(plan: Plan, chain: Chain) -> Iterator[_Span | int]:
    """Give each step's place, its hands-on time and its wait, in order."""
    hands = defaults()["hands"]
    steps = procedure(plan, chain)
    longest, attended = hands["longest_min"], hands["attended_wait_min"]
    minutes = _hands_on(plan, chain, steps)
    treatment = chain.pick("treatment").entry
    lasts_h = treatment.facts.get("lasts_h") if treatment is not None else None
    adhesive = chain.pick("adhesive").facts("adhesive") or {}
    clamped = adhesive.get("clamping") in hands["clamped"]
    two_part = [o.entry.id for o in chain.picks if o.entry is not None and o.entry.facts.get("parts") == 2]
    cup: str | None = None
    for place, (step, spent) in enumerate(zip(steps, minutes, strict=True)):
        yield place
        if step.rule is None and step.item in two_part:
            two_part.remove(step.item)
            cup = step.item
        if spent:
            yield _Span(step.stage, _seconds(min(spent, longest)), hands=True, mixes=cup)
            cup = None
        if spent > longest:
            yield _Span(step.stage, _seconds(spent - longest), hands=False)
        if step.wait_s:
            oven_c = step.heat_c if step.heat_c is not None and step.heat_c > hands["oven_above_c"] else None
            lasts = _seconds(lasts_h * 60) if lasts_h and step.stage == "treat" else None
            kept = step.wait_s <= attended * 60 and oven_c is None
            clamp = step.pressed and clamped and not kept
            yield _Span(step.stage, round(step.wait_s), hands=kept, oven_c=oven_c, clamp=clamp, lasts_s=lasts)


def _seconds(minutes: float) -> int:
    return round(minutes * 60)


def _hands_on(plan: Plan, chain: Chain, steps: Sequence[Step]) -> list[float]:
    """Give the hands-on minutes of each step: its own, and a slot's at the first step that uses its item."""
    own = plan.knowledge.tables["ranking"]["steps"]["minutes"]
    waiting = [
        (slot, entry.id, own[slot] + entry.facts.get("minutes", 0.0))
        for slot, option in zip(SLOTS, chain.picks, strict=True)
        if (entry := option.entry) is not None
    ]
    found = []
    for step in steps:
        spent = step.hands_min
        for place, (slot, item, its) in enumerate(waiting):
            if step.rule is None and item == step.item and step.stage in _stages(slot):
                spent += its
                del waiting[place]
                break
        found.append(spent)
    return found


def _stages(slot: str) -> tuple[str, ...]:
    """List the stages at which a slot's item may first be used; an accelerator is a treatment used in mounting."""
    return (SLOTS[slot].stage, *(("mount",) if slot == "treatment" else ()))
