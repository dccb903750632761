"""Check cures against one another, who bonds whom, grain against its scale, and treatments against their purpose."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations
from math import isclose

from kb import calc
from kb.knowledge.catalog import Abrasive, Adhesive, Backing, Treatment
from kb.lint.tree import Found, Linter, Tree, of_item, of_item_in_tree


@of_item("cure-order", Adhesive, tip="along one class's schedule, hotter is shorter and reaches no less")
def cure_order(item: Adhesive) -> Iterator[str]:
    """Cures that are hotter and longer, or hotter and reach less."""
    for cool, hot in permutations(item.schedules, 2):
        if hot.temperature_c > cool.temperature_c:
            if hot.duration_min > cool.duration_min:
                yield f"{hot.id} is hotter than {cool.id} and takes longer"
            if hot.service_max_c < cool.service_max_c:
                yield f"{hot.id} is hotter than {cool.id} and serves less"


@of_item("cure-limits", Adhesive, tip="times add up, limits rise, a post-cure is hotter than the cure")
def cure_limits(item: Adhesive) -> Iterator[str]:
    """Cures whose own figures contradict one another."""
    if len({s.id for s in item.schedules}) != len(item.schedules):
        yield "two cures have one id"
    for s in item.schedules:
        if s.full_strength_min < s.duration_min + s.then_min:
            yield f"{s.id}: full strength comes before the cure is over"
        if s.service_max_c <= item.min_c or (s.short_max_c is not None and s.short_max_c < s.service_max_c):
            yield f"{s.id}: its limits are out of order"
        if (s.post_cure_c is None) != (s.post_cure_min == 0):
            yield f"{s.id}: a post-cure has a temperature and a time"
        if s.post_cure_c is not None and s.post_cure_c < s.temperature_c:
            yield f"{s.id}: its post-cure is cooler than its cure"
        if (s.pressure_kpa is None) != (item.clamping == "none"):
            yield f"{s.id}: pressure and clamping contradict one another"


@of_item("no-short-limit", Adhesive, tip="give short_max_c to each cure", shipped=True)
def no_short_limit(item: Adhesive) -> Iterator[str]:
    """Cures without a limit for hours."""
    for s in item.schedules:
        if s.short_max_c is None:
            yield f"{s.id}: has no short limit"


@of_item_in_tree("backing-stands-no-cure", Backing, tip="raise cure_max_c, or mend bonds_with")
def backing_stands_no_cure(item: Backing, tree: Tree) -> Iterator[str]:
    """Backings that stand no cure of any adhesive that bonds them, or that nothing holds on."""
    if (item.attached_by == "weld") != (not item.bonds_with):
        yield "is welded on and bonded, or neither"
    cures = (
        max(s.temperature_c, s.post_cure_c or s.temperature_c)
        for glue in tree.items.values()
        if isinstance(glue, Adhesive) and glue.family in item.bonds_with
        for s in glue.schedules
    )
    if item.bonds_with and not any(cure <= item.cure_max_c for cure in cures):
        yield "no adhesive that bonds it cures within its limit"


def _unbonded_family(tree: Tree) -> Found:
    """Adhesive families that bond no backing."""
    bonded = {family for item in tree.items.values() if isinstance(item, Backing) for family in item.bonds_with}
    for family in sorted({item.family for item in tree.items.values() if isinstance(item, Adhesive)} - bonded):
        yield f"adhesive/{family}", "bonds no backing"


@of_item("grain-size", Abrasive, tip="the grade decides: take mean_um from the table of its scale")
def grain_size(item: Abrasive) -> Iterator[str]:
    """Grain that is not of the size that its grade has on its scale."""
    if item.scale == "none" or item.mean_um is None:
        return
    try:
        wanted = calc.function("grit-size")(item.scale, item.grade)["mean_um"]
    except ValueError as fault:
        yield str(fault)
        return
    if not isclose(item.mean_um, wanted):
        yield f"mean_um is {item.mean_um:g}, {item.grade} of {item.scale} is {wanted:g}"


@of_item("treatment-purpose", Treatment, tip="a part's treatment activates, fills or couples; a gauge's serves glues")
def treatment_purpose(item: Treatment) -> Iterator[str]:
    """Treatments that do nothing, or two things, for no one."""
    if item.of == "part":
        if not item.treats:
            yield "treats no material"
        if item.activates + item.fills + item.couples != 1:
            yield "does not do one of three things: activate, fill, couple"
    elif not item.serves:
        yield "serves no adhesive"


unbonded_family = Linter("unbonded-family", "tree", "some backing must bond with it", _unbonded_family)

LINTERS = (
    cure_order, cure_limits, no_short_limit, backing_stands_no_cure, unbonded_family, grain_size, treatment_purpose,
)  # fmt: skip
