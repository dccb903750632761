"""The rows of generic_catalog/usage/ that a chain makes use of, with their amounts filled in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import ceil, fsum
from typing import Any, NamedTuple

from kb.base.vocabulary import STAGES
from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.engine.slots import COATS, INDEX, bindings
from kb.knowledge import Entry
from kb.knowledge.packing import Conditions
from kb.rules.clauses import Facts, Missing, Scene, all_of, look_up
from kb.rules.roles import OWN_ROLES, SLOT_ROLES

#: The fact that says how much a pack holds, by unit.
_PACK = {"mL": "pack_ml", "g": "pack_g", "cm2": "pack_cm2", "piece": "pack_count", "cm": "pack_count"}
CM_PER_M = 100.0


class Counts(NamedTuple):
    """How many times things are done: `mixes` by the stage that they are for."""

    attempts: int
    boards: int
    technicians: int
    mixes: Mapping[str, int]

    def of(self, per: str, stage: str) -> int:
        """Tell how often what is used `per` something is used, at a stage."""
        if per == "mix":
            return self.mixes.get(stage, 0)
        return {"attempt": self.attempts, "board": self.boards, "technician": self.technicians}[per]


class Loss(NamedTuple):
    """What is lost beside the use: a share of it, and an amount each time."""

    why: str
    share: float
    amount: float
    per: str


class Use(NamedTuple):
    """One thing that one stage takes: `each` time so much of `unit`, in `spread` about it."""

    entry: Entry
    stage: str
    unit: str
    each: float
    per: str
    most: float | None
    reused: bool
    spread: tuple[float, float]
    losses: tuple[Loss, ...]
    pack_size: float | None
    why: str
    basis: str
    #: Whether the job could tell the amount, and does not.
    untold: bool

    def net(self, counts: Counts) -> float:
        """Tell what is used, without losses."""
        used = self.each * counts.of(self.per, self.stage)
        return used if self.most is None else min(used, self.most)

    def lost(self, counts: Counts) -> float:
        """Tell what is lost beside it."""
        net = self.net(counts)
        return fsum(net * loss.share + loss.amount * counts.of(loss.per, self.stage) for loss in self.losses)


def counts_of(plan: Plan, attempts: int, mixes: Mapping[str, int]) -> Counts:
    """Give the counts for so many attempts: parts are begun as far as they are needed."""
    batch = plan.job.batch
    return Counts(attempts, ceil(attempts / batch.gauges_per_board), batch.technicians, mixes)


def uses(plan: Plan, chain: Chain) -> list[Use]:
    """List everything that the chain takes, stage by stage."""
    rows = zip(plan.knowledge.tables["usage"]["rows"], plan.knowledge.conditions_of_usage, strict=True)
    base = scene_of(plan, chain)
    found = [use for row, conditions in rows for use in _of_row(row, conditions, plan, chain, base)]
    return sorted(found, key=lambda use: STAGES.index(use.stage))


def _of_row(row: Mapping[str, Any], conditions: Conditions, plan: Plan, chain: Chain, base: Scene) -> Iterator[Use]:
    by_slot = dict(enumerate(chain.picks))
    several = conditions.roles | {row["role"]}
    # A row about coats stands once for each of them, as a step does.
    for binding in bindings(frozenset({"coating"} if "coating" in several else ())):
        scene = {**base, **{role: by_slot[slot].facts(role) for role, slot in binding.slots.items()}}
        # As with steps: what may be needed is brought.
        if all_of(c.truth(scene) for c in conditions.all) is False:
            continue
        entry = plan.knowledge.entries[row["aid"]] if row["aid"] else _item(row["role"], chain, binding.slots)
        if entry is not None:
            below = max((COATS.index(slot) for slot in binding.slots.values()), default=0)
            yield _use(row, entry, scene, plan, below)


def scene_of(plan: Plan, chain: Chain) -> dict[str, Facts | None]:
    """Give the job's facts and those of what stands in the chain, by role; coats are left out."""
    adhesive = chain.pick("adhesive")
    return {
        **plan.screened.scene,
        **{role: chain.pick(role).facts(role) for role in OWN_ROLES},
        "cure": adhesive.facts("cure"),
    }


def _item(role: str, chain: Chain, bound: Mapping[str, int]) -> Entry | None:
    slot = bound.get(role, INDEX[SLOT_ROLES[role][0]])
    return chain.picks[slot].entry


def _use(row: Mapping[str, Any], entry: Entry, scene: Mapping[str, Facts | None], plan: Plan, below: int) -> Use:
    figures = plan.knowledge.tables["usage"]
    unit = row["unit"]
    drop = figures["drop"].get(unit, 0.0)
    pack = entry.facts.get(_PACK[unit])
    told_m = getattr(plan.job.gauge, row["told"]) if row["told"] else None
    amount = row["amount"] if told_m is None else told_m * CM_PER_M
    return Use(
        entry=entry,
        stage=row["stage"],
        unit=unit,
        each=amount + row["drops"] * drop + _of_area(row, entry, scene, plan, below),
        per=row["per"],
        most=row["most"],
        reused=row["reused"],
        spread=row["spread"],
        losses=tuple(Loss(w["why"], w["pct"] / 100, w["amount"] + w["drops"] * drop, w["per"]) for w in row["waste"]),
        pack_size=None if pack is None else pack * row["holds"],
        why=row["why"],
        basis=row["basis"],
        untold=bool(row["told"]) and told_m is None,
    )


def _of_area(row: Mapping[str, Any], entry: Entry, scene: Mapping[str, Facts | None], plan: Plan, below: int) -> float:
    """Tell what the gauge's place takes: so much for each cm2, and the film's weight, its solvent included.

    Each coat reaches past those `below` it.
    """
    margin_mm = row["margin_mm"] + row["step_mm"] * below
    length, width = (side + 2 * margin_mm for side in plan.job.gauge.matrix_mm)
    area_cm2 = length * width / 100
    wanted: float = row["per_cm2"] * area_cm2
    if row["film"]:
        thickness_um = look_up(row["film"], scene)
        if not isinstance(thickness_um, Missing):
            film = plan.knowledge.tables["usage"]["film"]
            density = entry.facts.get("density_g_cm3", film["density_g_ml"])
            solid = solids(entry.facts.get("vapours", ()), film["least_solids_pct"])
            wanted += area_cm2 * thickness_um * 1e-4 * density / solid
    return wanted


def solids(given_off: Sequence[Mapping[str, Any]], least_pct: float) -> float:
    """Give the share of a coat that stays when what it gives off has gone: `least_pct` [%] or more.

    >>> solids([{"substance": "xylene", "share_pct": 60.0}], 5)
    0.4
    """
    return max(least_pct, 100 - fsum(part["share_pct"] for part in given_off)) / 100
