"""What a comparison's sides come to: the best chain of each, what it costs level by level, and whether that agrees."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from typing import NamedTuple

from kb.base.errors import BadInput, near_or_all
from kb.engine.chain import Chain, times_of
from kb.engine.domain import EMPTY, Domain, Option
from kb.engine.plan import Engine
from kb.engine.screened import Screened
from kb.engine.slots import COATS
from kb.job import job_of
from kb.judged.comparison import NONE, Comparison, Names, Side
from kb.materials import resolve
from kb.rules.roles import SLOTS

#: How many points two chains may be apart that are as good as each other: so much is only a remark.
EQUAL_LEVEL = "remark"


class Best(NamedTuple):
    """The best chain of a side, and how often each level is in its cost."""

    chain: Chain
    times: Mapping[str, float]


class Held(NamedTuple):
    """A comparison held against the engine: the best chain of each side, and by how many points the better leads.

    For equals the margin is what is left of a remark.
    """

    comparison: Comparison
    better: Best
    worse: Best
    margin: int

    @property
    def kept(self) -> bool:
        return self.margin >= (0 if self.comparison.equal else 1)


def hold(comparison: Comparison, engine: Engine, where: str) -> Held:
    """Find the best chain of each side. BadInput where a name is unknown, or a side has no chain for the job."""
    screened = screened_for(comparison, engine, where)
    found = []
    for name in ("better", "worse"):
        side: Side = getattr(comparison, name)
        chain = engine.best(screened, screened.problem.only(masks_of(side, engine, f"{where}: {name}")))
        if chain is None:
            raise BadInput(f"{where}: {name}", "no chain of this side suits the job", "see `tackroom plan` of the job")
        found.append(Best(chain, times_of(screened, chain)))
    better, worse = found
    if better.chain.key == worse.chain.key:
        raise BadInput(where, "both sides have the same best chain", "say what tells them apart")
    lead = worse.chain.cost - better.chain.cost
    allowed = engine.knowledge.tables["ranking"]["levels"][EQUAL_LEVEL]
    return Held(comparison, better, worse, allowed - abs(lead) if comparison.equal else lead)


def screened_for(comparison: Comparison, engine: Engine, where: str) -> Screened:
    """Hold the comparison's job against every rule; BadInput where it is no job."""
    job = job_of({"job": {"name": comparison.id}, **comparison.job}, f"{where}: job")
    part = resolve.of_part(job.part, engine.knowledge, f"{where}: job.part.substrate")
    return engine.screened(resolve.as_said(job, part), part.entry)


def masks_of(side: Side, engine: Engine, where: str) -> list[int]:
    """Mark in each slot what the side lets stand there. BadInput for a name of nothing, or a cure that none has."""
    masks = [domain.all for domain in engine.domains]
    wanted = [(place, names) for place, slot in enumerate(SLOTS) if (names := side.named(slot))]
    if side.coatings is not None:
        bare: Sequence[Names] = [(NONE,)] * (len(COATS) - len(side.coatings))
        wanted += zip(COATS, (*side.coatings, *bare), strict=True)
    for place, names in wanted:
        domain = engine.domains[place]
        _must_be_known([name for name in names if name != NONE], [domain], domain.kind, where)
        masks[place] = _named(names, domain) | (EMPTY if NONE in names else 0)
    _must_be_known(side.without, engine.domains, "item", f"{where}: without")
    for place, domain in enumerate(engine.domains):
        if domain.kind == "adhesive" and (side.cure or side.cure_c):
            masks[place] &= _cured(side, domain, where)
        masks[place] &= ~_named(side.without, domain)
    return masks


def _named(names: Container[str], domain: Domain) -> int:
    """Mark the options that are called by one of `names`, their own or their family's."""
    return domain.places({entry.id for entry in domain.entries if entry.id in names or entry.family in names})


def _must_be_known(names: Iterable[str], domains: Sequence[Domain], kind: str, where: str) -> None:
    known = {word for domain in domains for entry in domain.entries for word in (entry.id, entry.family)}
    for name in names:
        if name not in known:
            raise BadInput(where, f"'{name}' is no {kind} and no family of one", near_or_all(name, sorted(known)))


def _cured(side: Side, domain: Domain, where: str) -> int:
    """Mark the cures that the side allows."""
    coolest, hottest = side.cure_c or (-273.15, 10_000.0)

    def allowed(option: Option) -> bool:
        cure = option.cure or {}
        return side.cure in (None, cure.get("id")) and coolest <= cure.get("hottest_c", 0.0) <= hottest

    places = [place for place, option in enumerate(domain.options) if option.entry is not None and allowed(option)]
    if not places:
        raise BadInput(where, "no adhesive cures so", "mend `cure` or `cure_c`")
    return sum(1 << place for place in places)
