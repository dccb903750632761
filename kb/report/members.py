"""How the members of a class fare, of which the question named no one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from kb.engine.check import NOT_KNOWN, VERDICTS, Member, Thing
from kb.report.text import listed
from kb.rules.findings import Finding
from kb.rules.words import value_words

#: So many members of whom a rule speaks are named; more are counted.
MOST_NAMED = 5
#: What is said of so many members of a class.
_COUNTED = {
    "compatible": "go together",
    NOT_KNOWN: "are not known",
    "caution": "go with a caution",
    "needs": "go only as said below",
    "blocked": "never go together",
}
#: What the members that stand at the other places are, for each verdict.
_Fares = tuple[tuple[str, tuple[tuple[Thing, ...], ...]], ...]


def differ(members: Sequence[Member]) -> bool:
    """Tell whether some members fare other than the rest."""
    return len({member.checked.verdict for member in members}) > 1


def count_words(members: Sequence[Member], counts_as: str) -> str:
    """Tell how many members fare how, and as what the class counts until it is known which is meant."""
    counts = Counter(member.checked.verdict for member in members)
    told = listed([f"{counts[verdict]} {_COUNTED[verdict]}" for verdict in VERDICTS if counts[verdict]])
    return f"of the {len(members)} that it may be {told}; until it is known which it is, it counts as {counts_as}"


def member_words(members: Sequence[Member]) -> Iterator[str]:
    """Tell which members fare how, the best first; nothing where all fare alike.

    Of several classes the members of one are told, each with those of the others: of that one of which most are alike
    with all.
    """
    if not differ(members):
        return
    columns = [list(dict.fromkeys(column)) for column in zip(*(member.things for member in members), strict=True)]
    varied = [place for place, column in enumerate(columns) if len(column) > 1]
    alike = {place: _alike(members, place, [other for other in varied if other != place]) for place in varied}
    place = min(varied, key=lambda one: (sum(len(fare) > 1 for fare in alike[one]), len(alike[one])))
    others = [columns[other] for other in varied if other != place]
    ranked = sorted(alike[place].items(), key=lambda row: [VERDICTS.index(verdict) for verdict, _ in row[0]])
    for fare, things in ranked:
        named = listed(_named(things, columns[place]))
        if all(len(each) == 1 for each in alike[place]):
            yield f"{value_words(fare[0][0])}: {named}."
        elif len(fare) == 1:
            yield f"{named}: {value_words(fare[0][0])} with each."
        else:
            yield f"{named}: {'; '.join(_with(verdict, beside, others) for verdict, beside in fare)}."


def whose_words(finding: Finding, members: Sequence[Member]) -> str:
    """Say of which members a rule speaks; "" where they are all, or where there is but one thing that is meant.

    A rule is told once, in the words of the first member: what holds of only some must not be read of all.
    """
    rule = finding.rule.id, finding.known
    spoken = [member for member in members if rule in _rules(member)]
    columns = list(zip(*(member.things for member in members), strict=True))
    named = {item for _, item, _ in finding.names}
    told = []
    for place, column in enumerate(columns):
        among, here = list(dict.fromkeys(column)), list(dict.fromkeys(member.things[place] for member in spoken))
        # Of one alone its own words say it.
        if len(here) < len(among) and (len(here) > 1 or here[0].id not in named):
            names = _named(here, among)
            told.append(listed(names) if len(names) <= MOST_NAMED else f"{len(here)} of {len(among)}")
    return listed(told, "with")


def _rules(member: Member) -> set[tuple[str, bool]]:
    checked = member.checked
    return {(said.rule.id, said.known) for said in (*checked.findings, *checked.notes, *checked.suits)}


def _alike(members: Sequence[Member], place: int, others: Sequence[int]) -> dict[_Fares, list[Thing]]:
    """Give the things at a place, by how they fare with the things at the other places."""
    fares: dict[Thing, dict[str, list[tuple[Thing, ...]]]] = {}
    for member in members:
        beside = tuple(member.things[other] for other in others)
        fares.setdefault(member.things[place], {}).setdefault(member.checked.verdict, []).append(beside)
    alike: dict[_Fares, list[Thing]] = {}
    for thing, by_verdict in fares.items():
        fare = tuple((verdict, tuple(by_verdict[verdict])) for verdict in VERDICTS if verdict in by_verdict)
        alike.setdefault(fare, []).append(thing)
    return alike


def _with(verdict: str, beside: Sequence[tuple[Thing, ...]], others: Sequence[Sequence[Thing]]) -> str:
    """Give a verdict, and the things with which it holds."""
    if len(others) == 1:
        named = _named([thing for (thing,) in beside], others[0])
    else:
        named = [" + ".join(thing.words for thing in things) for things in beside]
    return f"{value_words(verdict)} with {listed(named)}"


def _named(things: Sequence[Thing], among: Sequence[Thing]) -> list[str]:
    """Give the things by name; a family of which all are there by its own.

    Where the class is one family, its name says nothing.
    """
    families = Counter(_family(thing) for thing in among)
    here = Counter(_family(thing) for thing in things)
    found: dict[str, None] = {}
    for thing in things:
        family = _family(thing)
        whole = len(families) > 1 and here[family] == families[family] > 1
        found[f"{family} (all {families[family]})" if whole else thing.words] = None
    return list(found)


def _family(thing: Thing) -> str:
    return thing.entry.family if thing.entry else ""
