"""How strong, hot or long nobody said: a grade of resistance holds so far only, and that is said."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from kb.base.surroundings import exposures
from kb.calc.limits import Figure, limits_in
from kb.engine.check.things import Thing
from kb.rules.findings import Finding
from kb.rules.rule import Rule
from kb.rules.words import shown

_OF = "concentration_pct"
#: Limits of heat: they are judged where it was said how hot it is.
_HEAT = ("high_c", "three_days_c")


def strength(things: Sequence[Thing]) -> Iterator[Finding]:
    """Say of each thing that is graded for a chemical to what strength its grade holds."""
    for around in things:
        if not around.undiluted or _OF not in exposures()[around.id].takes:
            continue
        for thing in things:
            if thing.entry and f"resists.{around.id}" in thing.entry.facts:
                yield _of_chemical(around, thing)


def held_to(things: Sequence[Thing]) -> Iterator[Finding]:
    """Say of each thing that is graded for what is around it how far that holds, where no job says how far it goes."""
    for around in things:
        for thing in things:
            facts = thing.entry.facts if thing.entry and around.entry is None else {}
            limits: list[Figure] = [
                (word, by, most)
                for word, by, most in facts.get("grade_limits", ())
                if word == around.id and not (by == _OF and around.undiluted)
                if around.at_c is None or by not in _HEAT
            ]
            if limits:
                yield _so_far(thing, limits)


def _of_chemical(around: Thing, thing: Thing) -> Finding:
    assert thing.entry is not None
    facts, name = thing.entry.facts, thing.entry.name
    most = next((m for exposure, by, m in facts["grade_limits"] if (exposure, by) == (around.id, _OF)), None)
    held = "without a limit of its strength" if most is None else f"of at most {shown(most)} %"
    return _caution(
        thing,
        name="strength-of-the-chemical",
        title="How strong a chemical is decides what stands it",
        message=f"{name} is graded for {around.words} {held}: of how many % the {around.undiluted} is was not said",
        because="Neat it soaks faster than dilute, and does what dilute never did.",
        instead="hold its strength against the grade, and try a coupon in the very liquid",
    )


def _so_far(thing: Thing, limits: Sequence[Figure]) -> Finding:
    """Give a finding of its own for each limit: members of a class differ in it."""
    assert thing.entry is not None
    said = limits_in(limits, [limits[0][0]])["said"]
    most = "-".join(f"{by}-{most:g}" for _, by, most in limits)
    return _caution(
        thing,
        name=f"grade-holds-for-{most.replace('_', '-')}",
        title="What a grade of resistance holds for",
        message=f"{thing.entry.name} is graded for {said}, and for no more",
        because="What stands water for days may let go in weeks, and hot sooner than cold.",
        instead="check for a job (--job), which says how hot it gets and how long it lasts",
    )


def _caution(thing: Thing, *, name: str, title: str, message: str, because: str, instead: str) -> Finding:
    """Make the finding of a rule that no file holds, since it follows from what a grade is."""
    assert thing.entry is not None
    rule = Rule(
        id=name,
        title=title,
        verdict="caution",
        about=(thing.kind,),
        message=message,
        because=because,
        instead=instead,
        basis="by-definition",
        sources=(),
        when=(),
    )
    names = ((thing.kind, thing.id, thing.entry.name),)
    return Finding(rule, known=True, met=False, names=names, seen=(), unknown=(), calculations=(), wait_min=0.0)
