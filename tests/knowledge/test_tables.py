"""The tables hold what their types say: every key, and no other."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from kb.knowledge import Knowledge, name_tables, tables, usage_tables


@pytest.fixture(scope="module")
def strict() -> Iterator[TypeAdapter[Any]]:
    """The type of all tables, in which no key may stand that isn't named."""
    named = [each for module in (tables, name_tables, usage_tables) for each in vars(module).values()]
    kinds = [each for each in named if isinstance(each, type) and hasattr(each, "__required_keys__")]
    with pytest.MonkeyPatch.context() as patch:
        for kind in kinds:
            patch.setattr(kind, "__pydantic_config__", {"extra": "forbid"}, raising=False)
        yield TypeAdapter(tables.Tables)


def test_every_table_is_as_its_type_says(knowledge: Knowledge, strict: TypeAdapter[Any]) -> None:
    assert set(knowledge.tables) == tables.Tables.__optional_keys__
    strict.validate_python(dict(knowledge.tables))


@pytest.mark.parametrize("table", ["ranking", "usage", "layers"])
def test_a_key_that_no_type_names_is_noticed(table: str, knowledge: Knowledge, strict: TypeAdapter[Any]) -> None:
    known: dict[str, Any] = dict(knowledge.tables)
    with pytest.raises(ValidationError, match="new_key"):
        strict.validate_python({**known, table: {**known[table], "new_key": 1}})
