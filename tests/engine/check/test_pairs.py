"""Pairs that were argued one by one (tests/pairs), among them many that are good."""

from __future__ import annotations

import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from kb.engine.check import VERDICTS, answer, question
from kb.engine.plan import Engine

FILES = sorted((Path(__file__).parents[2] / "pairs").glob("*.toml"))
ROWS: list[Any] = [row for path in FILES for row in tomllib.loads(path.read_text(encoding="utf-8"))["rows"]]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: " ".join(row[:-2]))
def test_an_argued_pair_has_its_verdict(row: list[str], engine: Engine) -> None:
    *things, verdict, why = row
    found = answer(engine, question(things, engine.knowledge, "t")).checked
    said = [f"{f.verdict}: {f.rule.id}" for f in found.findings]
    assert found.verdict == verdict, (why, said, found.unknown)


def test_enough_is_argued_and_of_every_verdict() -> None:
    counts = Counter(row[-2] for row in ROWS)
    assert len(ROWS) >= 200
    assert set(counts) == set(VERDICTS)
    assert counts["compatible"] >= 80
    bonded = tomllib.loads((FILES[0].parent / "adhesive-coating.toml").read_text(encoding="utf-8"))["rows"]
    assert len(bonded) >= 40
    assert len({tuple(row[:-2]) for row in ROWS}) == len(ROWS)
