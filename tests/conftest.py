"""Shared: the knowledge and an engine over it, loaded once a process, from a cache of the tests' own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from kb import knowledge as kb_knowledge
from kb.engine.plan import Engine
from kb.knowledge import Knowledge

# How long an example takes says more of the machine than of the program; speed is measured in tests/benchmarks.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


@pytest.fixture(scope="session", autouse=True)
def _own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """No test reads or writes the user's cache or data folder."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TACKROOM_CACHE", str(tmp_path_factory.mktemp("cache")))
        patch.setenv("XDG_DATA_HOME", str(tmp_path_factory.mktemp("data")))
        patch.delenv("TACKROOM_WORKSPACE", raising=False)
        patch.delenv("TACKROOM_TODAY", raising=False)
        yield


@pytest.fixture(scope="session")
def knowledge() -> Knowledge:
    return kb_knowledge.load()


@pytest.fixture(scope="session")
def engine(knowledge: Knowledge) -> Engine:
    return Engine(knowledge)


@pytest.fixture
def house(tmp_path: Path) -> Path:
    """An empty workspace of a lab's own."""
    for name in ("rules", "catalog"):
        (tmp_path / "lab" / name).mkdir(parents=True)
    return tmp_path / "lab"
