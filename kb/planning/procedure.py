"""A chain as numbered steps in bench language: what to do, waits, what must be and what must never be.

The sentences are data (generic_catalog/steps/); rules add steps and waits of their own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from kb.base.vocabulary import STAGES
from kb.engine.chain import Chain, scene_with
from kb.engine.plan import Plan
from kb.engine.slots import COATS, INDEX, NAMES, Binding, bindings
from kb.knowledge.packing import Conditions
from kb.rules.clauses import Missing, Scene, all_of, look_up
from kb.rules.findings import Finding
from kb.rules.roles import OWN_ROLES, SLOT_ROLES
from kb.rules.words import fill, message

#: Roles that stand in one slot alone, the same in every step.
_IN_ONE_SLOT = frozenset((*OWN_ROLES, "cure"))


class Step(NamedTuple):
    """One thing to do. `item` is the id of what is used; `rule` that of the rule that asks for the step.

    `first`: before the stage's own steps.
    """

    stage: str
    do: str
    item: str | None = None
    hands_min: float = 0.0
    wait_s: float = 0.0
    wait_for: str = ""
    must: tuple[str, ...] = ()
    never: tuple[str, ...] = ()
    because: str = ""
    rule: str | None = None
    limit: Mapping[str, Any] | None = None
    first: bool = False
    #: The coat that it belongs to, by slot; empty for a step of no coat.
    coat: str = ""
    #: Measures what was done: after all else of its coat.
    proves: bool = False
    #: How hot the part is while it waits [degC]; None where the wait is none of heat.
    heat_c: float | None = None
    #: What presses on the gauge stays on while it waits.
    pressed: bool = False
    #: It follows at once on the step before it, on the same gauge.
    at_once: bool = False


def procedure(plan: Plan, chain: Chain) -> list[Step]:
    """Give the steps of `chain` in the order in which they are done."""
    key = ("steps", chain.key)
    if key not in plan.worked_out:
        plan.worked_out[key] = _in_order(plan, chain)
    return list(plan.worked_out[key])


def _in_order(plan: Plan, chain: Chain) -> list[Step]:
    written = list(_written(plan, chain))
    asked = list(_asked(chain))
    ordered: list[Step] = []
    for stage in STAGES:
        before = [s for s in asked if s.stage == stage and s.first]
        after = [s for s in asked if s.stage == stage and not s.first]
        here = [*before, *(s for s in written if s.stage == stage), *after]
        ordered += _coat_by_coat(here) if any(step.coat for step in here) else here
    return ordered


def _coat_by_coat(steps: Sequence[Step]) -> Iterator[Step]:
    """Tell what comes before any coat, then each coat with all that belongs to it and its proof, then what is left."""
    yield from (step for step in steps if not step.coat and step.first)
    for slot in SLOT_ROLES["coating"]:
        yield from sorted((step for step in steps if step.coat == slot), key=lambda step: step.proves)
    yield from (step for step in steps if not step.coat and not step.first)


class _Row(NamedTuple):
    """A step of the table as it may stand in chains, and the slots on which it hangs however it stands."""

    number: int
    step: Mapping[str, Any]
    conditions: Conditions
    standings: Sequence[Binding]
    slots: Sequence[int]


def _rows(plan: Plan) -> list[_Row]:
    """Lay out the table of steps, once for a plan."""
    key = ("step rows",)
    if key not in plan.worked_out:
        known = plan.knowledge
        rows = zip(known.tables["steps"], known.conditions_of_steps, known.roles_of_steps, strict=True)
        plan.worked_out[key] = [_row(number, *row) for number, row in enumerate(rows)]
    found: list[_Row] = plan.worked_out[key]
    return found


def _row(number: int, step: Mapping[str, Any], conditions: Conditions, reads: frozenset[str]) -> _Row:
    """Tell how a step may stand on slots: on that of its item, and of what else stands in one slot alone."""
    item = step["item"]
    beside = (role for role in conditions.roles if len(SLOT_ROLES.get(role, ())) == 1)
    standings = bindings(frozenset({item, *beside})) if item else (Binding({}),)
    return _Row(number, step, conditions, standings, [INDEX[SLOT_ROLES[role][0]] for role in reads & _IN_ONE_SLOT])


def _written(plan: Plan, chain: Chain) -> Iterator[Step]:
    """Give the steps of the table: each is written once for what stands in the slots on which it hangs."""
    by_slot = dict(enumerate(chain.picks))
    everything = {role: chain.pick(role).facts(role) for role in OWN_ROLES}
    base = {**plan.screened.scene, **everything, "cure": chain.pick("adhesive").facts("cure")}
    names = chain.key
    for row in _rows(plan):
        for binding in row.standings:
            slots = sorted({*row.slots, *binding.slots.values()})
            key = ("step", row.number, *((slot, names[slot]) for slot in slots))
            if key not in plan.worked_out:
                plan.worked_out[key] = _step(row, binding, scene_with(base, binding, by_slot))
            if plan.worked_out[key] is not None:
                yield plan.worked_out[key]


def _step(row: _Row, binding: Binding, scene: Scene) -> Step | None:
    """Write a step of the table as it stands in a chain; None where it is no step of that."""
    step, role = row.step, row.step["item"]
    facts = scene.get(role) if role else {}
    if facts is None or all_of(c.truth(scene) for c in row.conditions.all) is False:
        return None
    return Step(
        stage=step["stage"],
        do=fill(step["do"], scene),
        item=facts.get("id") if role else None,
        hands_min=step["hands_min"],
        wait_s=_seconds(step, scene),
        wait_for=fill(step["wait_for"], scene),
        must=tuple(fill(line, scene) for line in step["must"]),
        never=tuple(fill(line, scene) for line in step["never"]),
        because=fill(step["because"], scene),
        limit=step["limit"],
        coat=NAMES[binding.slots[role]] if role and binding.slots[role] in COATS else "",
        proves=step["proves"],
        heat_c=_figure(step["heat"], scene),
        pressed=step["pressed"],
        at_once=step["at_once"],
    )


def _seconds(step: Mapping[str, Any], scene: Mapping[str, Any]) -> float:
    if step["wait_s"] is not None:
        return float(step["wait_s"])
    minutes = step["wait_min"]
    return float((_figure(minutes, scene) if isinstance(minutes, str) else minutes) or 0.0) * 60


def _figure(path: str | None, scene: Scene) -> float | None:
    """Look a figure up; None where there is none to look up, or it isn't known."""
    value = None if path is None else look_up(path, scene)
    return None if isinstance(value, Missing) else value


def _asked(chain: Chain) -> Iterator[Step]:
    """Give the waits and steps that rules of the chain ask for."""
    spoken: Counter[tuple[str, str]] = Counter()
    for finding in chain.findings:
        rule = finding.rule
        if not finding.known or rule.verdict != "need" or rule.needs:
            continue
        item = finding.about[0] if finding.about else None
        coat = _coat(chain, finding, spoken)
        if rule.step_do:
            must = (message(finding),)
            yield Step(
                rule.step_stage,
                rule.step_do,
                item,
                rule.step_min,
                must=must,
                because=rule.because,
                rule=rule.id,
                first=rule.step_first,
                coat=coat,
            )
        elif finding.wait_min:
            yield Step(
                rule.wait_before,
                f"Wait {finding.wait_min:g} min before you go on.",
                item,
                wait_s=finding.wait_min * 60,
                wait_for="by the clock",
                must=(message(finding),),
                because=rule.because,
                rule=rule.id,
                first=True,
                coat=coat,
            )


def _coat(chain: Chain, finding: Finding, spoken: Counter[tuple[str, str]]) -> str:
    """Give the slot of the coat that a finding is about; of coats that are alike the next one each time it speaks."""
    role, item, _ = finding.names[0]
    slots = [slot for slot in SLOT_ROLES.get(role, ()) if slot in SLOT_ROLES["coating"] and chain.pick(slot).id == item]
    if not slots:
        return ""
    spoken[finding.rule.id, item] += 1
    return slots[-1] if role == "outer" else slots[min(spoken[finding.rule.id, item], len(slots)) - 1]
