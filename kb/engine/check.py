"""Two or more things side by side, with or without a job: do they go together?

Only rules that look at two of the things at once speak here; what a rule says of one item alone is for
`show` and `plan`. Without a job, rules that hang on the job stay out of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

from kb.clauses import Facts, all_of
from kb.errors import BadInput, nearest
from kb.findings import Finding, distinct, judge
from kb.knowledge import Entry, Knowledge
from kb.resolve import item
from kb.rules import JOB_ROLES, KIND_OF_ROLE, SLOT_ROLES, Rule
from kb.vocabulary import EXPOSURES, KINDS

#: Kinds of which rules speak. A pure substance is checked as the degreaser, adhesive or coat that holds it.
CHECKED_KINDS = tuple(kind for kind in KINDS if kind not in ("aid", "substance"))
VERDICTS = ("compatible", "caution", "needs", "blocked")


@dataclass(frozen=True)
class Checked:
    """The verdict on some things, and the findings that it rests on."""

    items: tuple[str, ...]
    verdict: str
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class Thing:
    """What is checked: a catalog item, or an exposure."""

    id: str
    entry: Entry | None = None

    @property
    def kind(self) -> str:
        return self.entry.kind if self.entry else "exposure"


def check(knowledge: Knowledge, things: Sequence[Thing], job: Mapping[str, Facts] | None = None) -> Checked:
    """What the rules say of `things` together; coats are taken in the order given, innermost first.

    `job` holds a job's facts by role, its substrate among them. An adhesive is judged by the cure that suits best;
    what speaks against its other cures is a caution, since which is used isn't known.
    """
    outcomes = [_judged(knowledge, things, cures, job) for cures in _cures(things)]
    best = min(outcomes, key=lambda found: (VERDICTS.index(verdict_of(found)), len(found)))
    said = {finding.rule.id for finding in best}
    others = [f for found in outcomes for f in found if f.rule.id not in said and f.rule.verdict != "prefer"]
    doubtful = [replace(f, known=False, unknown=("cure.temperature_c",)) for f in distinct(others)]
    findings = distinct([*best, *doubtful])
    return Checked(tuple(t.id for t in things), verdict_of(findings), tuple(findings))


def thing(words: str, knowledge: Knowledge, where: str) -> Thing:
    """What `words` name: an exposure, or the item that they mean; BadInput where that isn't clear."""
    if words in EXPOSURES:
        return Thing(words)
    entry = item(words, knowledge, where, CHECKED_KINDS).entry
    return Thing(entry.id, entry)


def verdict_of(findings: Iterable[Finding]) -> str:
    """The worst of what is found."""
    worst = 0
    for finding in findings:
        if finding.known and finding.rule.verdict == "block":
            worst = 3
        elif finding.known and finding.rule.verdict == "need":
            worst = max(worst, 2)
        elif finding.rule.verdict != "prefer":
            worst = max(worst, 1)
    return VERDICTS[worst]


def _cures(things: Sequence[Thing]) -> list[dict[str, Facts]]:
    """Every choice of a cure for each adhesive."""
    adhesives = [t for t in things if t.kind == "adhesive" and t.entry]
    schedules = [t.entry.facts["schedules"] for t in adhesives if t.entry]
    return [{t.id: cure for t, cure in zip(adhesives, way, strict=True)} for way in product(*schedules)]


def _judged(
    knowledge: Knowledge, things: Sequence[Thing], cures: Mapping[str, Facts], job: Mapping[str, Facts] | None
) -> list[Finding]:
    exposures = tuple(t.id for t in things if t.kind == "exposure")
    base: dict[str, Facts | None] = dict(job or {})
    if exposures:
        service: Facts = base.get("service") or {}
        base["service"] = {**service, "exposures": (*service.get("exposures", ()), *exposures)}
    found: list[Finding] = []
    for rule in knowledge.rules:
        if rule.omits or "chain" in rule.roles():
            continue
        for scene, bound in _scenes(rule, things, cures):
            finding = _speaks(rule, {**base, **scene}, bound, job is not None, bool(exposures))
            if finding is not None:
                found.append(finding)
    return distinct(found)


def _scenes(
    rule: Rule, things: Sequence[Thing], cures: Mapping[str, Facts]
) -> Iterator[tuple[dict[str, Facts | None], set[str]]]:
    """Every way in which the rule's item roles stand on the things, with the ids that take part."""
    roles = sorted(r for r in (rule.roles() | set(rule.about)) if r in SLOT_ROLES or r == "substrate")
    required = {r for r in (*rule.about, *(r for c in rule.when for r in c.roles())) if r in roles}
    choices: list[list[tuple[str, Thing | None]]] = []
    for role in roles:
        able = [t for t in things if t.entry and _can_stand(role, t, things)]
        if not able and role in required:
            return
        choices.append([(role, t) for t in able] if able else [(role, None)])
    for way in product(*choices):
        placed = {role: t for role, t in way if t is not None}
        if len({t.id for t in placed.values() if t.kind == "coating"}) > 1 and not _adjacent(placed, things):
            continue
        if "cure" in placed and "adhesive" in placed and placed["cure"].id != placed["adhesive"].id:
            continue
        scene: dict[str, Facts | None] = {
            role: cures[t.id] if role == "cure" else t.entry.facts for role, t in placed.items() if t.entry
        }
        yield scene, {t.id for t in placed.values()}


def _can_stand(role: str, thing: Thing, things: Sequence[Thing]) -> bool:
    coats = [t.id for t in things if t.kind == "coating"]
    if role == "liquid":
        return thing.kind in ("degreaser", "conditioner", "neutraliser")
    if role == "cure":
        return thing.kind == "adhesive"
    if KIND_OF_ROLE.get(role) != thing.kind:
        return False
    if thing.kind != "coating":
        return True
    place = coats.index(thing.id)
    return {
        "inner": place == 0,
        "second": place == 1,
        "outer": place == len(coats) - 1,
        "under": place < len(coats) - 1,
        "over": place > 0,
    }.get(role, True)


def _adjacent(placed: Mapping[str, Thing], things: Sequence[Thing]) -> bool:
    """Whether what stands over is the very next coat to what stands under."""
    coats = [t.id for t in things if t.kind == "coating"]
    if "under" in placed and "over" in placed:
        return coats.index(placed["over"].id) == coats.index(placed["under"].id) + 1
    return True


def _speaks(rule: Rule, scene: Mapping[str, Facts | None], bound: set[str], job: bool, exposed: bool) -> Finding | None:
    """What the rule says, if it looks at two things at once and doesn't hang on a job that isn't there."""
    reads = {role for condition in rule.when for role in condition.roles()}
    on_job = reads & set(JOB_ROLES)
    asks_exposure = exposed and any(p == "service.exposures" for c in rule.when for p in c.facts())
    if not job and on_job and not (asks_exposure and on_job == {"service"}):
        return None
    if len(bound) + bool(on_job and (job or asks_exposure)) < 2:
        return None
    if rule.needs and all_of(c.truth(scene) for c in rule.when) is True:
        finding = judge(rule, scene)
        if finding is not None and not finding.known and _open(rule, scene):
            # Nothing was named that could supply the need: then it is a need, and no unknown.
            return replace(finding, known=True, unknown=())
        return finding
    return judge(rule, scene)


def _open(rule: Rule, scene: Mapping[str, Any]) -> bool:
    return any(role not in scene for need in rule.needs for role in need.roles())


@dataclass(frozen=True)
class Grid:
    """Verdicts of every row item with every column item."""

    kinds: tuple[str, str]
    rows: Sequence[str]
    columns: Sequence[str]
    cells: Sequence[Sequence[Checked]]


def grid_of(knowledge: Knowledge, rows: str, columns: str, job: Mapping[str, Facts] | None = None) -> Grid:
    """Every item of kind `rows` checked with every one of kind `columns`; a kind may be "exposure"."""
    down, across = _things(knowledge, rows), _things(knowledge, columns)
    cells = [[check(knowledge, (r, c), job) for c in across] for r in down]
    return Grid((rows, columns), [t.id for t in down], [t.id for t in across], cells)


def _things(knowledge: Knowledge, kind: str) -> list[Thing]:
    if kind == "exposure":
        return [Thing(word) for word in EXPOSURES]
    if kind not in KINDS:
        raise BadInput(
            "matrix", f"'{kind}' is no kind", nearest(kind, (*KINDS, "exposure")) or f"kinds: {', '.join(KINDS)}"
        )
    return [Thing(e.id, e) for e in knowledge.by_kind.get(kind, ())]
