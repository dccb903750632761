"""A chemical of which nobody said how strong it is: a grade of resistance holds to a strength, and that is said."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from kb.base.surroundings import exposures
from kb.engine.check.things import Thing
from kb.rules.findings import Finding
from kb.rules.rule import Rule
from kb.rules.words import shown

_OF = "concentration_pct"


def strength(things: Sequence[Thing]) -> Iterator[Finding]:
    """Say of each thing that is graded for a chemical to what strength its grade holds."""
    for around in things:
        if not around.undiluted or _OF not in exposures()[around.id].takes:
            continue
        for thing in things:
            if thing.entry and f"resists.{around.id}" in thing.entry.facts:
                yield _finding(around, thing)


def _finding(around: Thing, thing: Thing) -> Finding:
    assert thing.entry is not None
    facts, kind, name = thing.entry.facts, thing.kind, thing.entry.name
    most = next((m for exposure, by, m in facts["grade_limits"] if (exposure, by) == (around.id, _OF)), None)
    held = "without a limit of its strength" if most is None else f"of at most {shown(most)} %"
    rule = Rule(
        id="strength-of-the-chemical",
        title="How strong a chemical is decides what stands it",
        verdict="caution",
        about=(kind,),
        message=f"{name} is graded for {around.words} {held}: how strong the {around.undiluted} is was not said",
        because="Neat it soaks faster than dilute, and does what dilute never did.",
        instead="hold its strength against the grade, and try a coupon in the very liquid",
        basis="by-definition",
        sources=(),
        when=(),
    )
    names = ((kind, thing.id, name),)
    return Finding(rule, known=True, met=False, names=names, seen=(), unknown=(), calculations=(), wait_min=0.0)
