"""Words to materials, judged by phrases that were written before the matcher."""

from __future__ import annotations

import time
import tomllib
from pathlib import Path
from typing import Any

import pytest

from kb.identify import clear, identify
from kb.knowledge import Knowledge

PHRASES: list[dict[str, Any]] = tomllib.loads((Path(__file__).parent / "data" / "phrases.toml").read_text())["phrases"]
NONSENSE = [p for p in PHRASES if not p["family"]]
AMBIGUOUS = [p for p in PHRASES if p.get("ambiguous")]
PLAIN = [p for p in PHRASES if p["family"] and not p.get("ambiguous")]


def test_there_are_phrases_enough() -> None:
    assert len(PHRASES) >= 250
    assert min(len(NONSENSE), len(AMBIGUOUS)) >= 25


def test_the_first_is_the_one_meant(knowledge: Knowledge) -> None:
    missed = []
    for phrase in PLAIN:
        found = identify(phrase["typed"], knowledge)
        if not found or found[0].entry.id not in phrase["ids"]:
            missed.append(phrase["typed"])
    print(f"top-1: {len(PLAIN) - len(missed)} of {len(PLAIN)}; missed: {missed}")
    assert len(missed) <= 0.03 * len(PLAIN)


def test_none_is_confidently_wrong(knowledge: Knowledge) -> None:
    """The worse fault: a wrong material taken without asking."""
    for phrase in PLAIN:
        found = identify(phrase["typed"], knowledge)
        if found and clear(found):
            best = found[0].entry
            assert best.id in phrase["ids"] or best.family == phrase["family"], phrase["typed"]


@pytest.mark.parametrize("phrase", AMBIGUOUS, ids=[p["typed"] for p in AMBIGUOUS])
def test_what_may_mean_several_is_never_settled_unasked(phrase: dict[str, Any], knowledge: Knowledge) -> None:
    found = identify(phrase["typed"], knowledge)
    assert len(found) >= 2
    assert not clear(found)


@pytest.mark.parametrize("phrase", NONSENSE, ids=[p["typed"] for p in NONSENSE])
def test_nonsense_finds_nothing(phrase: dict[str, Any], knowledge: Knowledge) -> None:
    assert identify(phrase["typed"], knowledge) == []


def test_it_answers_before_a_person_looks_up(knowledge: Knowledge) -> None:
    identify("warm up the index", knowledge)
    start = time.perf_counter()
    for phrase in PLAIN[:50]:
        identify(phrase["typed"], knowledge)
    assert (time.perf_counter() - start) / 50 < 0.2
