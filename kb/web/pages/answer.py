"""A plan laid out for reading: chains with their steps and reasons, what was refused, or what would have to change."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from kb.engine.chain import Chain
from kb.job import Choose
from kb.knowledge import Entry
from kb.planning.alternatives import EASED
from kb.planning.ask import Asked
from kb.planning.choice import choice_of
from kb.planning.gauge import wanted_of_gauge
from kb.planning.procedure import Step, procedure
from kb.quantities.layout import hours_of
from kb.report.first import bond_words, equals, why_words
from kb.report.hazards import hazards_of
from kb.report.others import head as head_of
from kb.report.others import none_near, says
from kb.report.pictures import Picture
from kb.report.pictures.pictograms import Pictogram, pictograms
from kb.report.pictures.stack import stack_picture
from kb.report.pictures.temperatures import temperature_picture
from kb.report.plan_short import chain_rows, hangs_on
from kb.report.reading import must_know, must_read
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
    title: str
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
class Harm:
    """What one material can do: its pictograms, its hazards in a word each, and its statements in full."""

    item: str
    name: str
    signs: list[Pictogram]
    words: tuple[str, ...]
    statements: list[str]


@dataclass(frozen=True, slots=True)
class Card:
    """The first chain on a screen of a phone: the same parts, in the same order, as the short answer in text."""

    bond: str
    ready: str
    rows: list[tuple[str, list[Entry], str]]
    why: str
    alike: str
    hangs_on: str
    #: What must be read, the most serious first.
    reads: list[Said]
    #: What of it can harm people, material by material.
    hazards: list[Harm]
    #: What to ask of the gauge itself, by topic.
    wanted: list[tuple[str, Said]]


@dataclass(frozen=True, slots=True)
class Other:
    """A chain that differs in what matters: what it is, what it gains and costs, and the job that keeps it.

    Where none comes near the first, that is said, and there is nothing to keep.
    """

    head: str
    says: str
    bond: str
    query: str


@dataclass(frozen=True, slots=True)
class ShownPlan:
    """A plan for the page. `ways` are what would help, each with the address of the changed job."""

    card: Card | None
    others: list[Other]
    chains: list[ShownChain]
    picture: Picture | None
    stack: Picture | None
    #: How many items were refused; the page /refused names them.
    refused: int
    notes: Sequence[str]
    conflict: str = ""
    ways: list[tuple[str, str]] = field(default_factory=list)
    complete: bool = True


def answered(asked: Asked, today: datetime.date) -> ShownPlan:
    """Give the plan of a job, laid out; a chain that is taken is kept as chosen today."""
    plan, trouble = asked.plan, asked.trouble
    refused = sum(1 for _ in plan.excluded)
    if trouble is None:
        first = plan.chains[0]
        chains = [_chain(asked, chain, first) for chain in plan.chains]
        picture, stack = temperature_picture(plan, first), stack_picture(plan, first)
        return ShownPlan(_card(asked, chains[0]), _others(asked, today), chains, picture, stack, refused, plan.notes)
    ways = [(relaxation_words(r), query_of(r.job, prefer=asked.prefer)) for r in trouble.relaxations]
    return ShownPlan(None, [], [], None, None, refused, plan.notes, conflict_words(trouble), ways, trouble.complete)


def _card(asked: Asked, shown: ShownChain) -> Card:
    plan, first = asked.plan, shown.chain
    alike = "; or ".join(equals(plan, asked.others))
    return Card(
        bond_words(first),
        shown.ready,
        list(chain_rows(first)),
        why_words(plan, asked.others),
        f"Nothing tells it apart from one with {alike}." if alike else "",
        hangs_on(plan, asked.resolved, first),
        [said(finding) for finding in must_read(plan, first)],
        list(harms_of(asked, first)),
        [(one.rule.title, said(one)) for one in wanted_of_gauge(plan)],
    )


def harms_of(asked: Asked, chain: Chain) -> Iterator[Harm]:
    """Tell what each material of a chain can do to people, of those of which something is known."""
    for one in hazards_of(chain, asked.engine.knowledge):
        if one.words or one.statements:
            told = [f"{s.code} {s.words}".strip() for s in one.statements]
            signs = pictograms(s.code for s in one.statements)
            yield Harm(one.item, one.name, signs, tuple(word.replace("-", " ") for word in one.words), told)


def _others(asked: Asked, today: datetime.date) -> list[Other]:
    """Give the alternatives in the order of the short answer."""
    found = []
    for other in asked.others:
        if other.far:
            found.append(Other(head_of(asked.plan, other), none_near(asked.plan, other), "", ""))
            continue
        kept = (
            query_of(other.plan.job, prefer=asked.prefer)
            if other.by in EASED
            else kept_query(asked, other.chain, today)
        )
        found.append(Other(head_of(asked.plan, other), says(asked.plan, other), bond_words(other.chain), kept))
    return found


def kept_query(asked: Asked, chain: Chain, today: datetime.date) -> str:
    """Give the query of an address that asks about the job with a chain of it kept."""
    table = asked.job.choose.model_dump(include={"prefer", "stock"}) | choice_of(chain, asked.engine.knowledge, today)
    job = asked.job.model_copy(update={"choose": Choose.model_validate(table)})
    return query_of(job, prefer=asked.prefer)


def free_query(asked: Asked) -> str:
    """Give the query of an address that asks about the job without a chain that was kept for it; "" where none is."""
    if not asked.job.choose.pins:
        return ""
    free = Choose(prefer=asked.job.choose.prefer, stock=asked.job.choose.stock)
    return query_of(asked.job.model_copy(update={"choose": free}), prefer=asked.prefer)


def said(finding: Finding) -> Said:
    """Put one finding in words."""
    rule = finding.rule
    return Said(finding.verdict, message(finding), rule.because, rule.id, rule.title, rule.basis, tuple(rule.sources))


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
        [said(f) for f in must_know(asked.plan, chain)],
        [said(f) for f in findings if f.verdict == "prefer"],
        query_of(asked.job, prefer=asked.prefer, chain=chain.rank),
        ready_words(hours_of(asked.plan, chain)),
    )


def refused_by_kind(
    excluded: Iterable[tuple[Entry, Sequence[Finding]]],
) -> list[tuple[str, list[tuple[Entry, list[Said]]]]]:
    """Tell what was refused, by kind in the order of the catalog."""
    kinds: dict[str, list[tuple[Entry, list[Said]]]] = {}
    for entry, findings in excluded:
        kinds.setdefault(entry.kind, []).append((entry, [said(f) for f in findings]))
    return list(kinds.items())
