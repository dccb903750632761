"""A choice that a job keeps: read from words, written down from a chain, and held against what is first now."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator
from typing import Any

from kb.base.errors import BadInput
from kb.base.vocabulary import FAMILIES
from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.job import Choose, Job
from kb.knowledge import Knowledge
from kb.materials import resolve

#: How many characters of the knowledge's digest name it.
_DIGITS = 16


def settled(job: Job, knowledge: Knowledge, where: str) -> Job:
    """Give the job with each item that it chooses by its id; BadInput names the field that isn't clear."""
    given = job.choose
    if not given.pins:
        return job
    meant: dict[str, Any] = {
        name: _ids(getattr(given, name), name, knowledge, f"{where}: choose.{name}")
        for name in ("adhesive", "backing", "treatment")
        if getattr(given, name) is not None
    }
    if given.coatings is not None:
        coats = (_ids(coat, "coating", knowledge, f"{where}: choose.coatings") for coat in given.coatings)
        meant["coatings"] = tuple(coats)
    if given.cure is not None:
        _check_cure(given.cure, meant.get("adhesive"), knowledge, f"{where}: choose.cure")
    return job.model_copy(update={"choose": given.model_copy(update=meant)})


def _ids(words: Iterable[str], kind: str, knowledge: Knowledge, where: str) -> tuple[str, ...]:
    """List the items of a kind that each word means: a family's members, or the one of that name."""
    ids: dict[str, None] = {}
    for word in words:
        named = knowledge.entries.get(word)
        if word in FAMILIES[kind] and (named is None or named.kind != kind):
            ids |= dict.fromkeys(entry.id for entry in knowledge.by_kind[kind] if entry.family == word)
        else:
            ids[resolve.item(word, knowledge, where, (kind,)).entry.id] = None
    return tuple(ids)


def _check_cure(cure: str, adhesives: tuple[str, ...] | None, knowledge: Knowledge, where: str) -> None:
    if adhesives is None:
        raise BadInput(where, "is chosen without its adhesive", "name the adhesive as well")
    known = dict.fromkeys(s["id"] for item in adhesives for s in knowledge.entries[item].facts["schedules"])
    if cure not in known:
        raise BadInput(where, f"the adhesive has no cure '{cure}'", f"one of: {', '.join(known)}")


def choice_of(chain: Chain, knowledge: Knowledge, on: datetime.date) -> dict[str, Any]:
    """Give the table [choose] that keeps a chain: its items, its cure, the day, and the knowledge that it came from."""
    picks = {name: chain.pick(name) for name in ("adhesive", "backing", "treatment")}
    table: dict[str, Any] = {name: option.id for name, option in picks.items() if option.entry is not None}
    if chain.cure:
        table["cure"] = chain.cure["id"]
    table["coatings"] = [coat.id for coat in chain.coatings]
    return {**table, "chosen_on": on, "knowledge": knowledge.digest[:_DIGITS]}


def notes_on(choose: Choose, plan: Plan, free: Plan) -> Iterator[str]:
    """Say that a choice is followed, and what the knowledge of today would put first in the `free` plan, without it."""
    knowledge = plan.knowledge
    day = f" on {choose.chosen_on}" if choose.chosen_on else ""
    yield f"This job keeps what was chosen{day}: {', '.join(_named(choose, knowledge))}."
    changed = choose.knowledge is not None and not knowledge.digest.startswith(choose.knowledge)
    if free.chains and (not plan.chains or free.chains[0].key != plan.chains[0].key):
        since = "The knowledge has changed since: without" if changed else "Without"
        yield f"{since} the choice, {_bond(free.chains[0])} would come first."
    elif changed:
        yield "The knowledge has changed since; what was chosen still comes first."


def _named(choose: Choose, knowledge: Knowledge) -> Iterator[str]:
    for ids in (choose.adhesive, choose.backing, choose.treatment, *(choose.coatings or ())):
        if ids:
            yield " or ".join(_names(ids, knowledge))
    if choose.cure is not None:
        yield f"cure {choose.cure}"
    if choose.coatings == ():
        yield "no coat"


def _names(ids: Iterable[str], knowledge: Knowledge) -> Iterator[str]:
    """Name what will do: a family whole by its word, "any butyl mastic", and each item of another by its name."""
    left = dict.fromkeys(ids)
    families = dict.fromkeys((e.kind, e.family) for item in left if (e := knowledge.entries.get(item)) is not None)
    for kind, family in families:
        members = [entry.id for entry in knowledge.by_kind[kind] if entry.family == family]
        if len(members) > 1 and all(member in left for member in members):
            left = {item: None for item in left if item not in members}
            yield f"any {family.replace('-', ' ')}"
    yield from (knowledge.entries[item].name if item in knowledge.entries else item for item in left)


def _bond(chain: Chain) -> str:
    adhesive = chain.pick("adhesive").entry or chain.pick("backing").entry
    coats = " and ".join(coat.name for coat in chain.coatings) or "no coat"
    return f"{adhesive.name if adhesive else 'a chain'} with {coats}"
