"""A plan laid out for reading: chains with their steps and reasons, what was refused, or what would have to change."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from kb.engine.chain import Chain
from kb.knowledge import Entry
from kb.planning.ask import Asked
from kb.planning.procedure import Step, procedure
from kb.quantities.layout import hours_of
from kb.report.first import how_sure, why_first
from kb.report.pictures import Picture
from kb.report.pictures.temperatures import temperature_picture
from kb.report.ready import ready_words
from kb.report.trouble import conflict_words, relaxation_words
from kb.rules.findings import Finding, distinct
from kb.rules.roles import OMITS_OF_SLOT, SLOTS
from kb.rules.words import message
from kb.web.forms import query_of

LABELS = {name: slot.lead for name, slot in SLOTS.items()}


@dataclass(frozen=True, slots=True)
class Said:
    """What a rule says, as a reader wants it: the sentence, why, and on what it stands."""

    verdict: str
    words: str
    because: str
    rule: str
    basis: str
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """One slot of a chain: what stands there, or why nothing does."""

    label: str
    item: Entry | None
    why_empty: str = ""


@dataclass(frozen=True, slots=True)
class ShownChain:
    """A chain for the page."""

    chain: Chain
    places: list[Place]
    #: Those in which it differs from the first chain.
    differs: list[Place]
    steps: list[Step]
    cautions: list[Said]
    prefers: list[Said]
    query: str
    #: When it is ready, in words.
    ready: str


@dataclass(frozen=True, slots=True)
class ShownPlan:
    """A plan for the page. `ways` are what would help, each with the address of the changed job."""

    chains: list[ShownChain]
    why_first: str
    how_sure: str
    picture: Picture | None
    refused: list[tuple[str, list[tuple[Entry, list[Said]]]]]
    notes: Sequence[str]
    conflict: str = ""
    ways: list[tuple[str, str]] = field(default_factory=list)
    complete: bool = True


def answered(asked: Asked) -> ShownPlan:
    """The plan of a job, laid out."""
    first = asked.plan.chains[0] if asked.plan.chains else None
    chains = [_chain(asked, chain, first) for chain in asked.plan.chains]
    refused, notes = _refused(asked.plan.excluded), asked.plan.notes
    trouble = asked.trouble
    if trouble is None:
        picture = temperature_picture(asked.plan, asked.plan.chains[0])
        return ShownPlan(chains, why_first(asked.plan), how_sure(asked.plan), picture, refused, notes)
    ways = [(relaxation_words(r), query_of(r.job, prefer=asked.prefer)) for r in trouble.relaxations]
    return ShownPlan([], "", "", None, refused, notes, conflict_words(trouble), ways, trouble.complete)


def said(finding: Finding) -> Said:
    """One finding in words."""
    rule = finding.rule
    return Said(finding.verdict, message(finding), rule.because, rule.id, rule.basis, tuple(rule.sources))


def _chain(asked: Asked, chain: Chain, first: Chain | None) -> ShownChain:
    findings = distinct(chain.findings)
    omitted = {f.rule.omits: message(f) for f in findings if f.rule.omits}
    places: list[Place] = []
    differs: list[Place] = []
    for slot in SLOTS:
        pick, stage = chain.pick(slot), OMITS_OF_SLOT.get(slot, "")
        place = Place(LABELS[slot], pick.entry, omitted.get(stage, ""))
        if pick.entry is not None or stage in omitted:
            places.append(place)
        if first is not None and first.pick(slot) != pick:
            differs.append(place)
    return ShownChain(
        chain,
        places,
        differs,
        procedure(asked.plan, chain),
        [said(f) for f in findings if f.verdict in ("caution", "need")],
        [said(f) for f in findings if f.verdict == "prefer"],
        query_of(asked.job, prefer=asked.prefer, chain=chain.rank),
        ready_words(hours_of(asked.plan, chain)),
    )


def _refused(
    excluded: Iterable[tuple[Entry, Sequence[Finding]]],
) -> list[tuple[str, list[tuple[Entry, list[Said]]]]]:
    """What was refused, by kind in the order of the catalog."""
    kinds: dict[str, list[tuple[Entry, list[Said]]]] = {}
    for entry, findings in excluded:
        kinds.setdefault(entry.kind, []).append((entry, [said(f) for f in findings]))
    return list(kinds.items())
