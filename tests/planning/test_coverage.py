"""What the knowledge covers: no family and no exposure is left without a chain, and the written table is true."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import pytest

from kb.base.vocabulary import EXPOSURES, FAMILIES
from kb.engine.plan import Engine
from kb.knowledge import Knowledge
from kb.planning.coverage import ROOM, SPANS, cell, columns, representatives
from kb.report.coverage import by_surroundings, row
from tests.reference.test_pages import MEND

DOCS = Path(__file__).parents[2] / "docs"


@pytest.mark.parametrize("family", FAMILIES["substrate"])
def test_every_family_has_a_chain_in_dry_air(family: str, engine: Engine) -> None:
    """But what melts in that air."""
    for part in (e for e in engine.knowledge.by_kind["substrate"] if e.family == family):
        if part.facts.get("melts_at_c", ROOM[1] + 1) <= ROOM[1]:
            continue
        assert cell(engine, part, "dry-air, a month").adhesive, part.id


@pytest.mark.parametrize("exposure", EXPOSURES)
def test_every_exposure_has_a_chain_on_stainless_steel(exposure: str, engine: Engine) -> None:
    part = representatives(engine.knowledge)["stainless-steel"]
    for span in SPANS:
        found = cell(engine, part, f"{exposure}, {span}")
        assert found.adhesive, found.closed_by


@pytest.mark.parametrize("family", FAMILIES["substrate"])
def test_the_written_table_is_true(family: str, engine: Engine) -> None:
    """Three columns of each family, other ones for each: a stale table is bound to be noticed."""
    part = representatives(engine.knowledge)[family]
    text = (DOCS / "coverage.md").read_text()
    section = text.split(f"## {family} ({part.id})\n")[1].split("\n## ")[0]
    names = list(dict.fromkeys(column.rpartition(", ")[0] for column in columns()))
    start = int(hashlib.sha256(family.encode()).hexdigest(), 16)
    for offset in (0, 17):
        name = names[(start + offset) % len(names)]
        cells = [cell(engine, part, column) for column in columns() if column.rpartition(", ")[0] == name]
        (line,) = by_surroundings(cells)
        assert row(line) in section, f"docs/coverage.md is stale: {MEND}"


def test_one_member_of_each_family_is_its_plainest(knowledge: Knowledge) -> None:
    members: dict[str, list[bool]] = {}
    for entry in knowledge.by_kind["substrate"]:
        members.setdefault(entry.family, []).append(bool(entry.facts["plainest"]))
    for family, plainest in members.items():
        assert len(plainest) == 1 or sum(plainest) == 1, family


def test_what_the_part_does_not_live_in_is_no_cell_of_bonding(engine: Engine) -> None:
    parts = representatives(engine.knowledge)
    assert not cell(engine, parts["polycarbonate"], "500 degC, a week").possible
    for column in ("mineral-oil, ten years", "steam, ten years"):
        assert cell(engine, parts["aluminium-alloy"], column).possible


def test_a_closed_cell_names_rules_that_exist(knowledge: Knowledge) -> None:
    found = re.findall(r"(?:closed by|can not be:) ([a-z0-9-]+(?:, [a-z0-9-]+)*)", (DOCS / "coverage.md").read_text())
    assert found
    for names in found:
        assert set(names.split(", ")) <= set(knowledge.rules_by_id), names


def test_the_knowledge_is_as_broad_as_promised(knowledge: Knowledge) -> None:
    promised = {
        "substrate": 110, "abrasive": 24, "degreaser": 20, "conditioner": 6, "neutraliser": 6, "treatment": 14,
        "backing": 12, "adhesive": 40, "coating": 45, "aid": 25, "substance": 40,
    }  # fmt: skip
    for kind, number in promised.items():
        assert len(knowledge.by_kind[kind]) >= number, kind
        families = {entry.family for entry in knowledge.by_kind[kind]}
        assert families == set(FAMILIES[kind]), kind
    assert len(knowledge.rules) >= 260
    scales = {entry.facts["scale"] for entry in knowledge.by_kind["abrasive"]} - {"none"}
    assert len(scales) >= 3
