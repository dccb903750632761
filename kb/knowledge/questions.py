"""The form of the questions about a material that the catalog lacks (generic_catalog/questions.toml)."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, TypeAdapter, ValidationError, model_validator

from kb.base.files import read_toml, validated
from kb.base.models import Strict
from kb.knowledge.catalog import Substrate
from kb.rules.clauses import Facts, Value

Key = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=40)]
Line = Annotated[str, Field(min_length=1, max_length=320)]


def _checked(name: str, value: Value) -> None:
    """Refuse (ValueError) a fact that a substrate doesn't have, or a value that it can't have."""
    field = Substrate.model_fields.get(name)
    if field is None:
        raise ValueError(f"'{name}' is no fact of a substrate")
    form: Value = Annotated[field.annotation, field]
    try:
        TypeAdapter(form).validate_python(value)
    except ValidationError as fault:
        raise ValueError(f"{name}: {fault.errors()[0]['msg']}") from None


class AnswerTable(Strict):
    """What may be answered, and what that says about the material."""

    key: Key
    say: Line
    sets: dict[str, Value] = Field(min_length=1)

    @model_validator(mode="after")
    def _known(self) -> Self:
        for name, value in self.sets.items():
            _checked(name, value)
        return self


class QuestionTable(Strict):
    """A question: how to find out, and what its answers say. Without answers and figure it is for a data sheet only."""

    id: Key
    ask: Line
    test: Line
    sheet: Line
    answers: tuple[AnswerTable, ...] = ()
    number: str | None = None
    unit: str = ""
    tries: tuple[float, ...] = ()
    choice: Literal["family"] | None = None
    facts: tuple[str, ...] = Field((), description="what it is about; left out: what its answers set")

    @model_validator(mode="after")
    def _answerable(self) -> Self:
        keys = [answer.key for answer in self.answers]
        if len(set(keys)) < len(keys):
            raise ValueError("two answers have the same key")
        for value in self.tries:
            _checked(self.number or "", value)
        if not (self.number is None) == (not self.tries) == (not self.unit):
            raise ValueError("number, unit and tries go together")
        return self

    def about(self) -> tuple[str, ...]:
        """List the facts that it is about."""
        named = [*self.facts, *(name for answer in self.answers for name in answer.sets)]
        return tuple(dict.fromkeys([*named, *filter(None, (self.number, self.choice))]))


class QuestionFile(Strict):
    """All questions, in the order in which they are asked."""

    basis: Literal["common-practice", "memory"]
    questions: tuple[QuestionTable, ...]

    @model_validator(mode="after")
    def _distinct(self) -> Self:
        ids = [question.id for question in self.questions]
        if len(set(ids)) < len(ids):
            raise ValueError("two questions have the same id")
        return self


def load_questions(path: Path) -> list[Facts]:
    """Load the questions in plain values; BadInput at the first fault."""
    shown = f"{path.parent.name}/{path.name}"
    book = validated(QuestionFile, read_toml(path, shown), shown)
    return [{**q.model_dump(mode="json"), "facts": list(q.about())} for q in book.questions]
