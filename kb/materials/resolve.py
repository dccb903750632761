"""What a part is made of: words, an id, a class, or a description, to one catalog entry; or a question back.

Between materials whose handling differs nothing is picked silently: the user is shown what is near. Words that name
a class only ("brass") stand for any of its members, at the cautious end (kb.materials.classes).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from kb.base import surfaces
from kb.base.errors import BadInput, nearest
from kb.job import Job, Part
from kb.knowledge import Entry, Knowledge
from kb.materials import classes, identify
from kb.materials.content import content_open
from kb.materials.identify import Match
from kb.materials.meant import agreeing, meant, refuse_within
from kb.rules.rule import Rule
from kb.rules.words import shown

#: The surface on which nothing lies.
BARE = "bare"
#: What no member of a family is in two ways.
_DEFINING = frozenset(("organic", "metallic"))


class Resolved(NamedTuple):
    """The entry, what was asked, how it was found (id, alias, fuzzy, described), and how like it is, 0 to 100."""

    entry: Entry
    query: str
    how: str
    score: float
    #: For a described part: facts that neither the description nor what it is like gives.
    missing: tuple[str, ...] = ()
    #: Facts that nobody described: as those of what it is like, or the cautious end of its class.
    assumed: tuple[str, ...] = ()
    #: Whose facts those are: what it is like, or its family or class.
    model: str = ""
    #: For a class of materials ("brass"): the ids that it may be.
    members: tuple[str, ...] = ()
    #: What was typed beside the name and is not known here: a place, a use, a grade.
    not_known: tuple[str, ...] = ()

    def said_of_the_rest(self) -> list[str]:
        """Say of each word beside the name what becomes of it: a surface of the part, or not known."""
        meant = surfaces.said_beside(self.not_known)
        return [
            f"'{word}' is taken as its surface, {meant[word]}" if word in meant else f"'{word}' is not known here"
            for word in self.not_known
        ]


def of_part(part: Part, knowledge: Knowledge, where: str) -> Resolved:
    """Find the material of a job's part; what else the job says of the part settles what its words leave open."""
    said = {"populated": part.populated, "surface": part.surface}
    return substrate(part.substrate, knowledge, where, said)


def as_said(job: Job, resolved: Resolved) -> Job:
    """Give the job with the surfaces that the words beside its material's name mean: "rusty steel" is oxidised."""
    said = [surface for surface in surfaces.said_beside(resolved.not_known).values() if surface != BARE]
    found = tuple(dict.fromkeys((*(word for word in job.part.surface if not said or word != BARE), *said)))
    if found == job.part.surface:
        return job
    return job.model_copy(update={"part": job.part.model_copy(update={"surface": found})})


def substrate(
    given: str | Mapping[str, Any], knowledge: Knowledge, where: str, said: Mapping[str, Any] | None = None
) -> Resolved:
    """Give the part's material. BadInput, with what is near, where the words may mean several things or nothing."""
    if isinstance(given, Mapping):
        if not set(given) - classes.LABELS and "like" not in given:
            mend = 'for instance { like = "peek" }, or ask `tackroom describe`'
            raise BadInput(where, "a described substrate needs `like`, `family` or facts", mend)
        return described(given, knowledge, where)
    return item_or_class(given, knowledge, where, ("substrate",), said)


def item_or_class(
    words: str,
    knowledge: Knowledge,
    where: str,
    kinds: tuple[str, ...],
    said: Mapping[str, Any] | None = None,
    ordinary: bool = True,
) -> Resolved:
    """Give the item of one of `kinds` that `words` mean, or the class of materials; BadInput where that isn't clear.

    Without `ordinary`, what the members of a class contradict each other in is not known.
    """
    matches = identify.identify(words, knowledge, kinds)
    if kinds == ("substrate",) and (finished := finish_on_metal(words, knowledge, where, matches)) is not None:
        return finished
    if told := identify.no_part(words, matches, kinds):
        raise BadInput(where, f"'{words}' is not judged as a part", told)
    kind = kinds[0] if len(kinds) == 1 else ""
    found = class_of(words, matches, knowledge, ordinary)
    if found is None and kind == "substrate" and (not matches or matches[0].score < identify.SEEN):
        refuse_within(words, knowledge, where)
    found = found or _best(agreeing(said or {}, matches, knowledge), words, where, kind)
    open_ = () if found.members else content_open(words, found.entry)
    return found._replace(assumed=open_, model=f"usual of {found.entry.name}") if open_ else found


def finish_on_metal(
    words: str, knowledge: Knowledge, where: str, matches: Sequence[Match] | None = None
) -> Resolved | None:
    """Find the part that `words` name as a finish on a metal which the catalog has under another; else None."""
    from kb.materials.plated import plated

    finished = plated(words, knowledge, matches)
    if isinstance(finished, Entry):
        return Resolved(finished, words, "fuzzy", identify.SURE)
    return None if finished is None else described(finished, knowledge, where)


def offered(
    words: str, knowledge: Knowledge, kinds: tuple[str, ...] | None = None
) -> tuple[list[Match], Resolved | None]:
    """Find what `words` may mean, and what a job takes instead of a match: a class, a finish on another metal than
    the catalog's, or a name with strange words.

    Left out, the kinds are the substrates, and whatever the lab has words of its own for.
    """
    matches = identify.identify(words, knowledge, kinds)
    if identify.no_part(words, matches, kinds):
        return [], None
    found = finish_on_metal(words, knowledge, "identify", matches) or class_of(words, matches, knowledge)
    if found is not None and not matches:
        entries = [knowledge.entry(item) for item in found.members or (found.entry.id,)]
        entries.sort(key=lambda entry: not found.model.endswith(f" as {entry.id}"))
        matches = [Match(entry, "fuzzy", identify.SURE - identify.LEAD) for entry in entries[: identify.MOST]]
    return matches, found


def class_of(words: str, matches: Sequence[Match], knowledge: Knowledge, ordinary: bool = True) -> Resolved | None:
    """Find the class of materials that `words` name, or the material with words beside it; None for neither.

    `matches` is what they may mean besides: one that is called just so, or a thing of another kind that they name
    better ("alumina" the abrasive), goes before the class; so does what several things share.
    """
    sure = bool(matches) and identify.clear(matches)
    if matches and (matches[0].score in (100, identify.NAMESAKE) or (sure and matches[0].how == "alias")):
        return None
    known_class = classes.class_meant(words, knowledge)
    if known_class is not None and not (sure and known_class.get("of") == "family"):
        own = {e.id for e in classes.members(known_class, knowledge)}
        best = max((m.score for m in matches if m.entry.id in own), default=0.0)
        rival = any(m.score > best - identify.LEAD for m in matches if m.entry.kind != "substrate")
        return None if rival else _any_of(words, known_class, knowledge, ordinary)
    if sure or any(m.entry.kind != "substrate" for m in matches):
        return None
    from kb.materials.qualified import qualified

    found = qualified(words, knowledge)
    if found is None:
        return None
    if isinstance(found.named, Entry):
        return Resolved(found.named, words, "alias", found.score, not_known=found.not_known)
    return _any_of(words, found.named, knowledge, ordinary)._replace(not_known=found.not_known)


def _any_of(words: str, known_class: classes.Class, knowledge: Knowledge, as_ordinary: bool) -> Resolved:
    """Give a material of which only the class is known."""
    ordinary = str(known_class.get("ordinary", "")) if as_ordinary else ""
    named = classes.class_entry(words, known_class, knowledge, ordinary)
    members = classes.members(known_class, knowledge)
    differ = {n for n, value in named.facts.items() if any(m.facts.get(n) != value for m in members)}
    entry = named._replace(facts=_which(named.facts, members, knowledge))
    ids = tuple(m.id for m in members)
    missing = missing_facts(entry.facts, knowledge)
    model = f"the cautious end of {', '.join(ids)}" + (f", where they contradict as {ordinary}" if ordinary else "")
    return Resolved(entry, words, "described", 100.0, missing, _assumed(differ, knowledge), model, ids)


def _which(facts: Mapping[str, Any], may_be: Sequence[Entry], knowledge: Knowledge) -> Mapping[str, Any]:
    """Give `facts` with the id of the one material that it may be, or without id, where a rule names such a one.

    A rule that names toughened glass must not pass over "glass" in silence.
    """
    singled = [e.id for e in may_be if e.id in knowledge.tables["lookup"]["singled"]]
    if not singled:
        return facts
    if len(may_be) == 1:
        return {**facts, "id": may_be[0].id}
    return {name: value for name, value in facts.items() if name != "id"}


def missing_facts(facts: Mapping[str, Any], knowledge: Knowledge) -> tuple[str, ...]:
    """Give the substrate's own facts that aren't known of this one."""
    named = {path.partition(".")[0] for path in facts}
    return tuple(name for name in knowledge.tables["lookup"]["of_substrates"] if name not in named)


def missed_by(resolved: Resolved, rules: Iterable[Rule]) -> list[str]:
    """List the facts that aren't known of the part and that one of `rules` reads."""
    read = {path.partition(".")[2].partition(".")[0] for rule in rules for path in rule.facts()}
    return [name for name in resolved.missing if name in read]


def item(words: str, knowledge: Knowledge, where: str, kinds: tuple[str, ...]) -> Resolved:
    """Give the item of one of `kinds` that `words` mean; BadInput where that isn't clear."""
    return _best(identify.identify(words, knowledge, kinds), words, where, kinds[0] if len(kinds) == 1 else "")


def _best(matches: Sequence[Match], words: str, where: str, kind: str) -> Resolved:
    """Give the item that is clearly the best match; BadInput where none is."""
    best = meant(matches, words, where, kind)
    return Resolved(best.entry, words, best.how, best.score)


def described(given: Mapping[str, Any], knowledge: Knowledge, where: str) -> Resolved:
    """Give a material that the catalog lacks: facts as given, the rest as those of what it is like, item or class.

    With a family only, the facts in which every member of the family agrees; what they differ in stays unknown, and
    with neither, everything that isn't given does.
    """
    from kb.knowledge.build import described_facts

    own = {name: value for name, value in given.items() if name != "like"}
    taken: dict[str, Any] = {}
    may_be = knowledge.by_kind["substrate"]
    model = ""
    if "like" in given:
        liked = item_or_class(str(given["like"]), knowledge, f"{where}: like", ("substrate",))
        may_be = tuple(knowledge.entry(i) for i in liked.members) or (liked.entry,)
        taken = dict(liked.entry.facts)
        model = liked.model or f"{liked.entry.name} ({liked.entry.id})"
    elif "family" in given:
        may_be = _members(str(given["family"]), knowledge, where)
        usual = [e.facts for e in classes.of_family(str(given["family"]), knowledge)]
        taken = {**_agreed(may_be), **classes.harms(usual, knowledge.tables["words"]["cautious"])}
        row = classes.row_of_family(str(given["family"]), knowledge) or {}
        taken["looks_like"] = tuple(dict.fromkeys((*taken.get("looks_like", ()), *row.get("looks_like", ()))))
        for name in _DEFINING & set(own):
            if all(member.facts.get(name) != own[name] for member in may_be):
                said = f"{name} = {shown(own[name])} contradicts the family '{given['family']}'"
                raise BadInput(where, said, "leave out one of them")
        model = f"every {given['family']} of the catalog"
    taken = {name: value for name, value in taken.items() if name not in classes.LABELS}
    items = {e.id: e.facts for e in knowledge.by_kind["substrate"]}
    facts = described_facts(own, taken, items, knowledge.tables, where)
    assumed = {name for name in taken if name.partition(".")[0] not in own and name != "family"}
    query = str(given.get("name") or given.get("like") or given.get("family") or "described material")
    family = facts.get("family", "unknown")
    entry = Entry(facts["id"], "substrate", family, facts["name"], _which(facts, may_be, knowledge))
    return Resolved(
        entry, query, "described", 100.0, missing_facts(facts, knowledge), _assumed(assumed, knowledge), model
    )


def _members(family: str, knowledge: Knowledge, where: str) -> tuple[Entry, ...]:
    """Give the substrates of a family; BadInput with the near family where there is none of that name."""
    members = tuple(e for e in knowledge.by_kind["substrate"] if e.family == family)
    if not members:
        families = sorted({e.family for e in knowledge.by_kind["substrate"]})
        mend = family_meant(family, knowledge, families) or f"families: {', '.join(families)}"
        raise BadInput(where, f"family: '{family}' is no substrate family", mend)
    return members


def family_meant(words: str, knowledge: Knowledge, families: Sequence[str]) -> str:
    """Say which of `families` an unknown one may mean, as a mend: by spelling, class, or likeness; "" for none."""
    spelt = nearest(words, families, cutoff=85)
    if spelt:
        return spelt
    known_class = classes.class_meant(words, knowledge)
    likely = [known_class["family"]] if known_class else [m.entry.family for m in identify.identify(words, knowledge)]
    found = [name for name in dict.fromkeys(likely) if name in families][:3]
    return f"did you mean {' or '.join(found)}?" if found else ""


def _agreed(entries: Sequence[Entry]) -> dict[str, Any]:
    """Give the facts in which all of `entries` agree."""
    first, *others = entries
    return {name: value for name, value in first.facts.items() if all(e.facts.get(name) == value for e in others)}


def _assumed(paths: Iterable[str], knowledge: Knowledge) -> tuple[str, ...]:
    """Give those of the facts at `paths` that some rule reads, in order of name; a table stands for its fields."""
    read = {path.partition(".")[0] for path in knowledge.tables["lookup"]["read"]["substrate"]}
    return tuple(sorted({path.partition(".")[0] for path in paths} & read))
