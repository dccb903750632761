"""The same question with facts of items changed: "what if our lacquer takes 48 h?".

A fact is `ITEM.FIELD`: the item by its id or a name, `substrate` for what the part is made of, whatever that is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from kb.base.errors import BadInput
from kb.base.files import typed
from kb.base.vocabulary import KINDS
from kb.job import Job
from kb.knowledge import Entry, Knowledge
from kb.knowledge.changed import restated, with_values
from kb.materials import resolve
from kb.materials.resolve import Resolved
from kb.rules.clauses import Value
from kb.rules.values import Told, value_of
from kb.rules.words import shown

#: Stands for the item that the part is made of.
PART = "substrate"
#: What a value rests on that is only supposed.
SUPPOSED = "supposed"


class Supposed(NamedTuple):
    """One fact that the question changes: `before` is what the catalog holds, None where it holds nothing."""

    fact: str
    before: Value
    value: Value

    def words(self) -> str:
        """Say it in a sentence for who reads the answer."""
        held = "nothing" if self.before is None else shown(self.before)
        return f"Asked with {self.fact} = {shown(self.value)}; the catalog has {held}."


@dataclass(frozen=True)
class Supposition:
    """The knowledge as the question has it, the facts that it changes, and the part, where one of these is its."""

    knowledge: Knowledge
    facts: tuple[Supposed, ...]
    part: Resolved | None


def suppose(knowledge: Knowledge, job: Job, settings: Sequence[str], where: str) -> Supposition:
    """Change the facts that `settings` name, each ITEM.FIELD=VALUE; the later of two for one fact counts.

    BadInput, in one line with what is near, where an item, a field or a value is none.
    """
    from kb.knowledge.stating import checked

    told: dict[str, list[Told]] = {}
    facts: dict[str, Supposed] = {}
    part: Resolved | None = None
    of_part: list[Told] = []
    for setting in settings:
        words, field, given = _parts(setting, knowledge, where)
        if words == PART:
            part = part or resolve.of_part(job.part, knowledge, f"{where}: {PART}")
            entry = part.entry
        else:
            entry = resolve.item(words, knowledge, where, KINDS).entry
        value = checked(entry, field, given, where)
        rows = told.setdefault(entry.id, []) if entry.id in knowledge.entries else of_part
        rows.append(Told(field, value, SUPPOSED))
        facts[f"{entry.id}.{field}"] = Supposed(f"{entry.id}.{field}", value_of(entry.facts, field), value)
    changed = with_values(knowledge, told)
    if part is not None:
        part = part._replace(entry=_part(part.entry, of_part, changed))
    return Supposition(changed, tuple(facts.values()), part)


def fact_of(setting: str, knowledge: Knowledge, where: str) -> tuple[Entry, str, Any]:
    """Take ITEM.FIELD=VALUE apart: the item, the field, and what was typed. BadInput where it isn't one."""
    words, field, typed_value = _parts(setting, knowledge, where)
    return resolve.item(words, knowledge, where, KINDS).entry, field, typed_value


def _parts(setting: str, knowledge: Knowledge, where: str) -> tuple[str, str, Any]:
    fact, sign, text = setting.partition("=")
    if not sign or "." not in fact:
        raise BadInput(where, f"'{setting}' is not ITEM.FIELD=VALUE", "for instance acetone.flash_point_c=-20")
    return *_split(fact.strip(), knowledge), typed(text.strip())


def _split(fact: str, knowledge: Knowledge) -> tuple[str, str]:
    """Split ITEM.FIELD where the item ends: an id may have points of its own."""
    owners = [fact[:at] for at, sign in enumerate(fact) if sign == "." and fact[:at] in knowledge.entries]
    item = max(owners, key=len, default=fact.partition(".")[0])
    return item, fact[len(item) + 1 :]


def _part(entry: Entry, told: Sequence[Told], knowledge: Knowledge) -> Entry:
    """Give the part's entry as supposed: one of the catalog as it stands there now, another with its values changed."""
    return restated(entry, told, knowledge) if told else knowledge.entries.get(entry.id, entry)
