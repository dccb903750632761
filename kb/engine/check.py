"""Two or more things side by side, with or without a job: do they go together?

Only rules that look at two of the things at once speak here, the job counting as one; what a rule says of one item
alone is for `show` and `plan`. Without a job, rules that hang on the job stay out of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import product

from kb.base.errors import BadInput, nearest
from kb.base.surroundings import implied
from kb.base.vocabulary import EXPOSURES, KINDS
from kb.knowledge import Entry, Knowledge
from kb.materials.identify import folded
from kb.materials.resolve import item_or_class
from kb.rules.clauses import Facts, Scene
from kb.rules.findings import Finding, distinct, judge
from kb.rules.roles import JOB_ROLES, ROLES, SLOT_ROLES, kinds_of
from kb.rules.rule import Rule

#: Kinds of which rules speak. A pure substance is checked as the degreaser, adhesive or coat that holds it.
CHECKED_KINDS = tuple(kind for kind in KINDS if kind not in ("aid", "substance"))
VERDICTS = ("compatible", "caution", "needs", "blocked")
USES = SLOT_ROLES["abrasive"]


@dataclass(frozen=True)
class Checked:
    """The verdict on some things, and the findings that it rests on; `classes` holds the members of each class."""

    items: tuple[str, ...]
    verdict: str
    findings: tuple[Finding, ...]
    classes: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class Thing:
    """What is checked: a catalog item, a class of materials with its `members`, or an exposure."""

    id: str
    entry: Entry | None = None
    members: tuple[str, ...] = ()

    @property
    def kind(self) -> str:
        return self.entry.kind if self.entry else "exposure"


@dataclass(frozen=True)
class _Way:
    """One way in which the things can be meant: the cure of each adhesive, and whether an abrasive is used wet."""

    cures: Mapping[str, Facts]
    uses: Mapping[str, str]


def check(
    knowledge: Knowledge,
    things: Sequence[Thing],
    job: Mapping[str, Facts] | None = None,
    rules: Sequence[Rule] | None = None,
) -> Checked:
    """What the rules say of `things` together; coats are taken in the order given, innermost first.

    `job` holds a job's facts by role, its substrate among them. An adhesive is judged by the cure that suits best, an
    abrasive by the better of dry and wet use; what speaks against other cures is a caution, since which is used
    isn't known. `rules`: what `speakers` gave for such things.
    """
    if rules is None:
        rules = speakers(knowledge, {t.kind for t in things}, job is not None)
    table = _Table(things, job)
    outcomes = [(way, table.findings(rules, way)) for way in _ways(things)]
    chosen, best = min(outcomes, key=lambda o: (VERDICTS.index(verdict_of(o[1])), len(o[1])))
    said = {finding.rule.id for finding in best}
    others = [f for way, found in outcomes if way.uses == chosen.uses for f in found if f.rule.id not in said]
    doubtful = [
        replace(f, known=False, unknown=("cure.temperature_c",)) for f in distinct(others) if f.rule.verdict != "prefer"
    ]
    findings = distinct([*best, *doubtful])
    known_classes = {t.id: t.members for t in things if t.members}
    return Checked(tuple(t.id for t in things), verdict_of(findings), tuple(findings), known_classes)


def unseen(knowledge: Knowledge, things: Sequence[Thing], job: Mapping[str, Facts] | None = None) -> bool:
    """Whether no rule looks at two of the things at once: then "compatible" rests on nothing."""
    table, way = _Table(things, job), _ways(things)[0]
    rules = speakers(knowledge, {t.kind for t in things}, job is not None)
    return not any(table.looks(rule, placed, way) for rule in rules for placed in table.placements(rule, way))


def thing(words: str, knowledge: Knowledge, where: str) -> Thing:
    """What `words` name: an exposure, the item that they mean, or a class of materials, taken at the cautious end of
    its members; BadInput where that isn't clear."""
    exposure = folded(words).replace(" ", "-")
    if exposure in EXPOSURES:
        return Thing(exposure)
    try:
        found = item_or_class(words, knowledge, where, CHECKED_KINDS)
    except BadInput as fault:
        near = nearest(words, EXPOSURES) if len(words) > 2 else ""
        raise BadInput(where, fault.what, near or fault.mend) from None
    return Thing(found.entry.id, found.entry, found.members)


def verdict_of(findings: Iterable[Finding]) -> str:
    """The worst of what is found; a need that something supplies is none any more."""
    worst = 0
    for finding in findings:
        if finding.rule.verdict == "prefer" or supplied(finding):
            continue
        if finding.known and finding.rule.verdict == "block":
            worst = 3
        elif finding.known and finding.rule.verdict == "need":
            worst = max(worst, 2)
        else:
            worst = max(worst, 1)
    return VERDICTS[worst]


def supplied(finding: Finding) -> bool:
    """Whether it is a need that one of the things supplies."""
    return bool(finding.rule.needs) and finding.met


def speakers(knowledge: Knowledge, kinds: Iterable[str], job: bool) -> list[Rule]:
    """The rules that can speak of things of these kinds at all."""
    here = set(kinds)
    able = {role for role in ROLES if here.intersection(kinds_of(role))}
    able |= {"substrate", *JOB_ROLES} if job else {"service"} if "exposure" in here else set()
    found = []
    for rule in knowledge.rules:
        on_job = _on_job(rule)
        if rule.omits or "chain" in rule.roles() or not _required(rule) <= able or not (job or on_job <= able):
            continue
        if job or on_job or len(_item_roles(rule)) > 1:
            found.append(rule)
    return found


@lru_cache(maxsize=4096)
def _item_roles(rule: Rule) -> frozenset[str]:
    """The roles of items that take part, a cure counted with its adhesive."""
    roles = _required(rule) | {role for need in rule.needs for role in need.roles()}
    items = frozenset(role for role in roles if role in SLOT_ROLES or role == "substrate")
    return items - {"cure"} if "adhesive" in items else items


@lru_cache(maxsize=4096)
def _required(rule: Rule) -> frozenset[str]:
    """The roles that must be filled for the rule to speak."""
    return frozenset({*rule.about, *(role for condition in rule.when for role in condition.roles())})


@lru_cache(maxsize=4096)
def _on_job(rule: Rule) -> frozenset[str]:
    """The job's tables that the conditions read."""
    return frozenset(role for condition in rule.when for role in condition.roles()) & set(JOB_ROLES)


def _ways(things: Sequence[Thing]) -> list[_Way]:
    """Every choice of a cure for each adhesive, and of the use of an abrasive: of two the first is the dry one."""
    entries = [t.entry for t in things if t.entry]
    adhesives = [e for e in entries if e.kind == "adhesive"]
    abrasives = [e.id for e in entries if e.kind == "abrasive"]
    uses: list[dict[str, str]] = [{}]
    if len(abrasives) == 1:
        uses = [{abrasives[0]: use} for use in USES]
    elif abrasives:
        uses = [dict(zip(abrasives, USES, strict=False))]
    cures = product(*(e.facts["schedules"] for e in adhesives))
    chosen = [{e.id: cure for e, cure in zip(adhesives, way, strict=True)} for way in cures]
    return [_Way(cure, use) for cure, use in product(chosen, uses)]


class _Table:
    """The things laid out, and the job's facts behind them."""

    def __init__(self, things: Sequence[Thing], job: Mapping[str, Facts] | None) -> None:
        self.things = things
        self.coats = [t.id for t in things if t.kind == "coating"]
        self.job = job is not None
        self.base: dict[str, Facts | None] = dict(job or {})
        exposures = tuple(t.id for t in things if t.kind == "exposure")
        self.exposed = bool(exposures)
        if exposures:
            service: Facts = self.base.get("service") or {}
            brought = {"exposures": exposures, **implied(exposures)}
            joined = {name: (*service.get(name, ()), *words) for name, words in brought.items()}
            self.base["service"] = {**service, **joined}

    def findings(self, rules: Iterable[Rule], way: _Way) -> list[Finding]:
        """What `rules` say of the things, taken in one way."""
        found = (self._speaks(rule, placed, way) for rule in rules for placed in self.placements(rule, way))
        return distinct(finding for finding in found if finding is not None)

    def placements(self, rule: Rule, way: _Way) -> Iterator[dict[str, Thing]]:
        """Every way in which the roles that the rule must have stand on the things."""
        return self._placements(_required(rule), way)

    def looks(self, rule: Rule, placed: Mapping[str, Thing], way: _Way) -> bool:
        """Whether the rule, standing so, looks at two things at once, and hangs on no job that isn't there."""
        on_job = _on_job(rule)
        exposure = self.exposed and any(p == "service.exposures" for c in rule.when for p in c.facts())
        if on_job and not self.job and not (exposure and on_job == {"service"}):
            return False
        asks = self.job and (on_job or ("substrate" in _required(rule) and "substrate" not in placed))
        taking_part = {t.id for t in placed.values()}
        taking_part |= {t.id for supply in self._supplies(rule, way) for t in supply.values()}
        return len(taking_part) + bool(asks or exposure) > 1

    def _supplies(self, rule: Rule, way: _Way) -> list[dict[str, Thing]]:
        """Every way in which what the rule needs may stand on the things."""
        roles = {role for need in rule.needs for role in need.roles() if role in SLOT_ROLES}
        return list(self._placements(roles, way)) if rule.needs else []

    def _speaks(self, rule: Rule, placed: Mapping[str, Thing], way: _Way) -> Finding | None:
        """What the rule says where it looks at two things at once."""
        if not self.looks(rule, placed, way):
            return None
        scene = {**self.base, **_standing(placed, way)}
        tried = [{**scene, **_standing(supply, way)} for supply in self._supplies(rule, way)]
        finding = judge(rule, tried[0] if tried else scene, tried)
        if finding is not None and rule.needs and not finding.known and not tried and not _unsure(rule, scene):
            # Nothing was named that could supply the need: then it is a need, and no unknown.
            return replace(finding, known=True, unknown=())
        return finding

    def _placements(self, roles: Iterable[str], way: _Way) -> Iterator[dict[str, Thing]]:
        """Every way in which the item roles among `roles` stand on the things; the job's part stands behind them."""
        names = sorted(role for role in roles if role in SLOT_ROLES or role == "substrate")
        choices = [[t for t in self.things if t.entry and self._can_stand(role, t, way)] for role in names]
        if self.job and "substrate" in names and not choices[names.index("substrate")]:
            del choices[names.index("substrate")]
            names.remove("substrate")
        for chosen in product(*choices):
            placed = dict(zip(names, chosen, strict=True))
            if self._fits(placed):
                yield placed

    def _can_stand(self, role: str, thing: Thing, way: _Way) -> bool:
        if thing.kind not in kinds_of(role):
            return False
        if thing.kind == "abrasive":
            return role == "abrasive" or way.uses.get(thing.id) == role
        if thing.kind != "coating":
            return True
        place, last = self.coats.index(thing.id), len(self.coats) - 1
        places = {"inner": place == 0, "second": place == 1, "outer": place == last}
        return {**places, "under": place < last, "over": place > 0}.get(role, True)

    def _fits(self, placed: Mapping[str, Thing]) -> bool:
        """Whether a cure is that of the adhesive, and what stands over is the next coat to what stands under."""
        if "cure" in placed and "adhesive" in placed and placed["cure"].id != placed["adhesive"].id:
            return False
        if "under" in placed and "over" in placed:
            return self.coats.index(placed["over"].id) == self.coats.index(placed["under"].id) + 1
        return True


def _standing(placed: Mapping[str, Thing], way: _Way) -> dict[str, Facts | None]:
    return {role: way.cures[t.id] if role == "cure" else t.entry.facts for role, t in placed.items() if t.entry}


def _unsure(rule: Rule, scene: Scene) -> bool:
    return any(condition.truth(scene) is None for condition in rule.when)


@dataclass(frozen=True)
class Grid:
    """Verdicts of every row item with every column item."""

    kinds: tuple[str, str]
    rows: Sequence[str]
    columns: Sequence[str]
    cells: Sequence[Sequence[Checked]]


def grid_of(
    knowledge: Knowledge, rows: str, columns: str, job: Mapping[str, Facts] | None = None, family: str = ""
) -> Grid:
    """Every item of kind `rows` checked with every one of kind `columns`; a kind may be "exposure".

    With `family`, only the rows of that family; BadInput where the kind has none of that name.
    """
    down, across = _things(knowledge, rows), _things(knowledge, columns)
    if family:
        families = sorted({t.entry.family for t in down if t.entry})
        if family not in families:
            mend = nearest(family, families) or f"one of: {', '.join(families)}"
            raise BadInput("family", f"'{family}' is no family of {rows}", mend)
        down = [t for t in down if t.entry and t.entry.family == family]
    rules = speakers(knowledge, (rows, columns), job is not None)
    cells = [[check(knowledge, (r, c), job, rules) for c in across] for r in down]
    return Grid((rows, columns), [t.id for t in down], [t.id for t in across], cells)


def _things(knowledge: Knowledge, kind: str) -> list[Thing]:
    if kind == "exposure":
        return [Thing(word) for word in EXPOSURES]
    if kind not in CHECKED_KINDS:
        known = (*CHECKED_KINDS, "exposure")
        raise BadInput("matrix", f"'{kind}' is no kind", nearest(kind, known) or f"kinds: {', '.join(known)}")
    return [Thing(e.id, e) for e in knowledge.by_kind.get(kind, ())]
