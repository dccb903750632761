"""A fault of the job's form in plain words, beside the field that it is about, with what may have been meant."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kb.base.errors import TackroomError
from kb.knowledge import Knowledge
from kb.materials import resolve
from kb.web.fields import Question, question_about

MATERIAL = "part.substrate"
#: So many materials are offered where words may mean several.
MOST_OFFERED = 6
#: Ways out that only whoever is at a terminal has.
_COMMAND = re.compile(r"(?:,? or,? |; )?[^,;]*`(?:tackroom|stock) [^`]*`[^,;]*")


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong, where (the name and id of a field, both "" where none is at fault), and what may be meant."""

    name: str
    field: str
    label: str
    what: str
    mend: str
    choices: tuple[str, ...] = ()

    def __str__(self) -> str:
        said = f"{self.label}{'' if self.label.endswith('?') else ':'} {self.what}" if self.label else self.what
        return f"{said}; {self.mend}" if self.mend else said


def of_form(fault: TackroomError, given: Mapping[str, Sequence[str]], knowledge: Knowledge) -> Fault:
    """Give the fault of a form that was filled in as `given`."""
    field, what = _parted(fault)
    mend = without_commands(fault.mend)
    asked = _asked(field, what, given)
    if asked is None:
        return Fault("", "", field, what, mend)
    typed = (given.get(asked.name) or [""])[-1].strip()
    if asked.name == MATERIAL and typed:
        return _of_material(typed, asked.id, asked.label, knowledge)
    return Fault(asked.name, asked.id, asked.label, what, mend)


def without_commands(words: str) -> str:
    """Leave out of a sentence the ways out that only whoever is at a terminal has.

    >>> without_commands("'glue 77' is no item that is known; see `tackroom list`")
    "'glue 77' is no item that is known"
    >>> without_commands("L-1: there is no such lot; see `stock list`")
    'L-1: there is no such lot'
    """
    return _COMMAND.sub("", words).strip(" ,;")


def _parted(fault: TackroomError) -> tuple[str, str]:
    """Give the job's field that a fault names, before or within what it says, and the rest of it."""
    field = fault.where.rpartition(": ")[2]
    if question_about(field) is not None:
        return field, fault.what
    table, _, rest = fault.what.partition(": ")
    inner, _, said = rest.partition(": ")
    for name, what in ((table, rest), (f"{table}.{inner}", said)):
        if question_about(name) is not None:
            return name, what
    return field, fault.what


def _asked(field: str, what: str, given: Mapping[str, Sequence[str]]) -> Question | None:
    """Give the question that a field answers; of a pair the one whose answer is quoted as faulty."""
    asked = question_about(field)
    if asked is None or not asked.name.endswith(".0"):
        return asked
    other = question_about(f"{field}[1]")
    quoted = other is not None and any(f"'{value.strip()}'" in what for value in given.get(other.name, ()))
    return other if quoted else asked


def _of_material(typed: str, field: str, label: str, knowledge: Knowledge) -> Fault:
    """Give the material isn't clear: the ones that are near, by name, to choose from."""
    near = tuple(match.entry.name for match in resolve.offered(typed, knowledge)[0][:MOST_OFFERED])
    if near:
        return Fault(MATERIAL, field, label, f"“{typed}” may mean several things", "say which of these it is", near)
    return Fault(
        MATERIAL, field, label, f"“{typed}” is no material that is known", "describe it below by what is known"
    )
