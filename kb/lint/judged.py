"""Checks on judged comparisons: the ranking keeps each, none says what another says, and each level has one."""

from __future__ import annotations

from itertools import combinations

from kb.base.errors import BadInput
from kb.engine.plan import Engine
from kb.engine.rank import FREE
from kb.judged import Comparison, hold
from kb.lint.tree import Found, Linter, Tree
from kb.materials import resolve

#: Services up to so many days are of one kind: an afternoon, a campaign, a season, years.
_SPANS = (2.0, 30.0, 200.0)


def kept(tree: Tree) -> Found:
    """Comparisons that the points don't keep, or that can't be held; and levels that bear on none of them."""
    if not tree.comparisons:
        return
    engine = Engine(tree.knowledge)
    seen = {FREE}
    for comparison, where in tree.comparisons:
        try:
            held = hold(comparison, engine, where)
        except BadInput as fault:
            yield where, f"{fault.what}; {fault.mend}" if fault.mend else fault.what
            continue
        better, worse = held.better.times, held.worse.times
        seen |= {name for name in {*better, *worse} if better.get(name, 0.0) != worse.get(name, 0.0)}
        if not held.kept:
            short = -held.margin if comparison.equal else 1 - held.margin
            yield where, f"the points of the levels don't keep it, by {short}"
    for level in tree.knowledge.tables["ranking"]["levels"]:
        if level not in seen:
            yield level, "no comparison bears on this level"


def twins(tree: Tree) -> Found:
    """Comparisons of the same sides on much the same job."""
    known = [(comparison, where, _job_of(comparison, tree)) for comparison, where in tree.comparisons]
    for (one, where, job), (other, _, its_job) in combinations(known, 2):
        if job == its_job and one.better == other.better and one.worse == other.worse:
            yield where, f"'{other.id}' says the same"


def _job_of(comparison: Comparison, tree: Tree) -> tuple[object, ...]:
    """Tell what makes two jobs much the same: the part's family, surroundings, and how long, how hot and how cold."""
    part, service = comparison.job.get("part", {}), comparison.job.get("service", {})
    try:
        family = resolve.substrate(part.get("substrate", ""), tree.knowledge, comparison.id).entry.family
    except BadInput:
        family = ""  # said where the comparison is held
    days = float(service.get("duration_days", 0.0))
    rest = {name: value for name, value in part.items() if name != "substrate"}
    told = {name: value for name, value in service.items() if name not in ("duration_days", "cycles")}
    others = {name: table for name, table in comparison.job.items() if name not in ("part", "service")}
    return (
        family,
        sum(days > most for most in _SPANS),
        repr(sorted(rest.items())),
        repr(sorted(told.items())),
        repr(others),
    )


LINTERS = (
    Linter(
        "judged", "tree", "run `python -m kb.calibrate`; what no points keep lacks a fact, or contradicts another", kept
    ),
    Linter("judged-twice", "tree", "keep one of them", twins),
)
