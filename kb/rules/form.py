"""The form in which rules are written, and how a file becomes a rule that the engine holds.

One file, one rule, with its own proof: cases in which it fires, stays silent, or can't tell.
DEVELOPERS.md describes the form for people.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import ConfigDict, Field, model_validator

from kb.base import vocabulary as v
from kb.base.errors import BadInput, near_or_all
from kb.base.files import read_toml, toml_files, validated
from kb.base.models import Basis, Citation, Id, NotNegative, Strict, Text
from kb.rules.clauses import NUMERIC, OPERATORS, AnyOf, Calculation, Clause, Condition, Ref, Value
from kb.rules.levels import level_of
from kb.rules.relations import relation
from kb.rules.roles import OMITS_OF_SLOT, ROLES, SLOT_ROLES
from kb.rules.rule import Rule

#: By no more than this is one fact compared with another.
_MOST_PLUS = 1e12


class WhenTable(Strict):
    """A condition as written: a fact or a calculation, and one operator; or `any` with a list of them."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)
    fact: str | None = None
    calc: str | None = None
    inputs: dict[str, Value] = Field(default_factory=dict)
    result: str | None = None
    any: tuple[WhenTable, ...] = ()
    is_: Value = Field(None, alias="is")
    is_not: Value = Field(None, alias="is-not")
    one_of: Value = Field(None, alias="one-of")
    none_of: Value = Field(None, alias="none-of")
    below: Value = None
    at_most: Value = Field(None, alias="at-most")
    above: Value = None
    at_least: Value = Field(None, alias="at-least")
    has: Value = None
    lacks: Value = None

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        if self.any:
            if self.fact or self.calc or self._operators():
                raise ValueError("an `any` group stands alone: no fact, calc or operator beside it")
            if any(inner.any for inner in self.any):
                raise ValueError("`any` groups go one level deep")
            return self
        if (self.fact is None) == (self.calc is None):
            raise ValueError("give either a fact or a calc")
        if self.calc is not None and self.result is None:
            raise ValueError("a calc needs `result`: which of its results is compared")
        if len(self._operators()) != 1:
            raise ValueError(f"give exactly one operator of: {', '.join(OPERATORS)}")
        return self

    def _operators(self) -> dict[str, Value]:
        given = self.model_dump(by_alias=True, exclude_none=True)
        return {op: given[op] for op in OPERATORS if op in given}

    def condition(self) -> Condition:
        """Give the condition as the engine holds it."""
        if self.any:
            return AnyOf(tuple(c for inner in self.any if isinstance(c := inner.condition(), Clause)))
        ((op, value),) = self._operators().items()
        if isinstance(value, Mapping):
            if not {"fact"} <= set(value) <= {"fact", "plus"}:
                raise ValueError(f"{op}: a table on the right side holds `fact` and, if wanted, `plus`")
            fact, plus = value["fact"], value.get("plus", 0.0)
            if not isinstance(fact, str) or not isinstance(plus, (int, float)) or not abs(plus) <= _MOST_PLUS:
                raise ValueError(f"{op}: `fact` is the name of a fact, and `plus` a number")
            value = Ref(fact, float(plus))
        elif isinstance(value, list):
            value = tuple(value)
        if self.calc is not None:
            return Clause(Calculation(self.calc, self.inputs, self.result or ""), op, value)
        return Clause(self.fact or "", op, value)


class Wait(Strict):
    """Minutes to let pass before a stage: a number, or a fact that holds one."""

    before: str
    minutes: NotNegative | None = None
    fact: str | None = None

    @model_validator(mode="after")
    def _one(self) -> Self:
        if (self.minutes is None) == (self.fact is None):
            raise ValueError("wait: give either minutes or a fact")
        if self.before not in v.STAGES:
            raise ValueError(f"wait.before: '{self.before}' is not a stage; {near_or_all(self.before, v.STAGES)}")
        return self


class ExtraStep(Strict):
    """Something more to do at a stage."""

    stage: str
    do: Text
    minutes: NotNegative = 0.0
    first: bool = Field(False, description="before the stage's own steps; else after them")

    @model_validator(mode="after")
    def _stage(self) -> Self:
        if self.stage not in v.STAGES:
            raise ValueError(f"step.stage: '{self.stage}' is not a stage; {near_or_all(self.stage, v.STAGES)}")
        return self


class Case(Strict):
    """One proof: in this situation the rule fires, stays silent, or can't tell."""

    fires: bool | Literal["unknown"]
    with_: dict[str, Value] = Field(alias="with")
    why: str = ""


class RuleTable(Strict):
    """A rule as written."""

    id: Id
    title: Text
    verdict: Literal["block", "need", "caution", "prefer", "suits"]
    about: tuple[str, ...] = Field(min_length=1)
    message: Text
    because: Text
    instead: str = ""
    basis: Basis
    settle: str = Field("", max_length=200, description="the test or the fact that would settle what is only recalled")
    added: datetime.date
    urgent: bool = Field(False, description="a caution that is read first: who passes it over may be hurt for life")
    level: Id | None = Field(None, description="what it costs, of levels.toml; left out: what its verdict usually does")
    weight: Annotated[int, Field(ge=0, le=1000)] | None = Field(
        None, description="what a lab's rule may give in place of a level, in points"
    )
    when: tuple[WhenTable, ...] = Field(min_length=1)
    needs: tuple[WhenTable, ...] = ()
    wait: Wait | None = None
    step: ExtraStep | None = None
    bares: bool = Field(False, description="its step takes the layer off: the part is then what lay below")
    omits: str | None = None
    loosens: Id | None = Field(None, description="a lab's rule only: the shipped rule that it takes back")
    reason: str = Field("", description="a lab's rule only: why it may loosen; printed in every answer it touches")
    sources: tuple[Citation, ...] = ()
    cases: tuple[Case, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        for role in self.about:
            if role not in ROLES:
                raise ValueError(f"about: '{role}' is not a role; {near_or_all(role, ROLES)}")
        if self.basis in v.CITED_BASES and not self.sources:
            raise ValueError(f"basis: '{self.basis}' needs at least one entry in sources")
        extras = sum(bool(x) for x in (self.needs, self.wait, self.step))
        if self.verdict == "need" and extras != 1:
            raise ValueError("a need has exactly one of: needs, wait, step")
        if self.verdict == "suits":
            self._pair()
        if self.verdict != "need" and (self.needs or self.wait):
            raise ValueError("`needs` and `wait` go with the verdict `need`")
        if self.omits is not None and (self.omits not in OMITS_OF_SLOT.values() or self.verdict != "prefer"):
            raise ValueError(f"omits: one of {', '.join(OMITS_OF_SLOT.values())}, with the verdict `prefer`")
        if self.urgent and self.verdict != "caution":
            raise ValueError("urgent: goes with the verdict `caution`; the others can't be passed over")
        if self.bares and (self.step is None or self.step.stage != "strip"):
            raise ValueError("bares: goes with a step of the stage `strip`")
        if self.level is not None and self.weight is not None:
            raise ValueError("give a level, or a weight in points, not both")
        if self.loosens and not self.reason:
            raise ValueError("loosens: needs a `reason`, which is printed in every answer that it touches")
        return self

    def _pair(self) -> None:
        """Refuse a statement of suiting each other that isn't about two that meet, or that says more."""
        if len(self.about) != 2 or relation(*self.about) is None:
            raise ValueError(f"about: '{', '.join(self.about)}' are not two roles that meet; see kb/rules/relations.py")
        if self.step or self.omits or self.weight is not None or self.instead:
            raise ValueError("`step`, `omits`, `weight` and `instead` don't go with the verdict `suits`")


def rule_of(table: RuleTable, where: str, house: bool = False) -> Rule:
    """Make the rule that `table` describes; BadInput where a role, a right side or a mixed group is wrong."""
    try:
        rule = Rule(
            id=table.id,
            title=table.title,
            verdict=table.verdict,
            about=table.about,
            message=table.message,
            because=table.because,
            instead=table.instead,
            basis=table.basis,
            sources=tuple(source.id for source in table.sources),
            when=tuple(when.condition() for when in table.when),
            needs=tuple(when.condition() for when in table.needs),
            wait_min=(table.wait.fact or table.wait.minutes) if table.wait else None,
            wait_before=table.wait.before if table.wait else "",
            step_stage=table.step.stage if table.step else "",
            step_do=table.step.do if table.step else "",
            step_min=table.step.minutes if table.step else 0.0,
            step_first=table.step.first if table.step else False,
            bares=table.bares,
            omits=table.omits,
            level=table.level if table.weight is None else level_of(table.verdict, table.weight),
            loosens=table.loosens,
            reason=table.reason,
            house=house,
            settle=table.settle,
            urgent=table.urgent,
        )
    except ValueError as fault:
        raise BadInput(where, str(fault)) from None
    for condition in (*rule.when, *rule.needs):
        check_condition(condition, where)
    if rule.of_gauge and rule.roles() & set(SLOT_ROLES) - {"backing"}:
        raise BadInput(
            where,
            "about: a rule on the gauge itself reads a slot",
            "let it read the part, the job and the backing alone",
        )
    if rule.bares and rule.roles() & set(SLOT_ROLES):
        raise BadInput(where, "bares: its conditions read a slot", "let them read the part and the job alone")
    if len({role for condition in rule.needs for role in condition.roles()} & set(SLOT_ROLES)) > 1:
        raise BadInput(where, "needs: its clauses read more than one slot", "split it into one rule per slot")
    return rule


def check_condition(condition: Condition, where: str) -> None:
    """Refuse (BadInput) a condition that reads no role, mixes slots in a group, or compares a number with a word."""
    for path in condition.facts():
        role, _, field = path.partition(".")
        if role not in ROLES or not field:
            raise BadInput(where, f"'{path}' is not role.field", near_or_all(role, ROLES))
    slots = condition.roles() & set(SLOT_ROLES)
    if isinstance(condition, AnyOf) and len(slots) > 1 and slots != {"adhesive", "cure"}:
        raise BadInput(where, f"an `any` group reads {', '.join(sorted(slots))}", "keep a group to one slot")
    if isinstance(condition, Clause) and condition.op in NUMERIC and isinstance(condition.value, (str, tuple, bool)):
        raise BadInput(where, f"{condition.op}: {condition.value!r} is not a number", "compare with a number or a fact")


#: The folder beside the rules in which judged comparisons stand, which are no rules (kb.judged).
JUDGED = "judged"


def load_rules(folder: Path, house: bool = False) -> Iterator[tuple[Rule, RuleTable, Path]]:
    """Load every rule below `folder` as (rule, table, path), in a stable order; ids are file names and unique."""
    seen: dict[str, str] = {}
    for path in toml_files(folder):
        if path.relative_to(folder).parts[0] == JUDGED:
            continue
        shown = str(path) if house else f"{folder.name}/{path.relative_to(folder)}"
        table = validated(RuleTable, read_toml(path, shown), shown)
        if table.id != path.stem:
            raise BadInput(shown, f"id: '{table.id}' is not the file's name", f"rename one of them to '{table.id}'")
        if table.id in seen:
            raise BadInput(shown, f"id: '{table.id}' stands in {seen[table.id]} already", "give it another id")
        if table.loosens and not house:
            raise BadInput(shown, "loosens: only a lab's own rule may loosen another", "mend the rule itself")
        if table.weight is not None and not house:
            raise BadInput(shown, "weight: a rule names a level, no points", "see generic_catalog/levels.toml")
        seen[table.id] = shown
        yield rule_of(table, shown, house), table, path
