"""The templates in DEVELOPERS.md and the job in README.md are real: they load, prove themselves and plan."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from kb.base.files import validated
from kb.engine.plan import Engine
from kb.job import job_of
from kb.knowledge import Knowledge
from kb.knowledge.catalog.files import load_item
from kb.knowledge.steps import StepFile
from kb.lint.proof import faults
from kb.materials.resolve import substrate
from kb.rules.form import RuleTable, rule_of

ROOT = Path(__file__).parent.parent


def blocks(document: str, mark: str) -> list[dict[str, Any]]:
    """The TOML blocks that follow `<!-- mark -->`."""
    text = (ROOT / document).read_text()
    return [tomllib.loads(body) for body in re.findall(rf"<!-- {mark} -->\n```toml\n(.*?)```", text, re.S)]


def test_the_rule_template_proves_itself(knowledge: Knowledge) -> None:
    (data,) = blocks("DEVELOPERS.md", "rule")
    table = validated(RuleTable, data, "template")
    assert faults(rule_of(table, "template"), table, knowledge.entries, "template") == []
    assert table.id not in knowledge.rules_by_id


def test_the_item_template_loads(knowledge: Knowledge) -> None:
    (data,) = blocks("DEVELOPERS.md", "item degreaser")
    item = load_item("degreaser", data, "template", {})
    assert item.id not in knowledge.entries


def test_the_step_template_loads() -> None:
    (data,) = blocks("DEVELOPERS.md", "steps")
    assert validated(StepFile, data, "template").steps


def test_the_readme_job_plans(engine: Engine) -> None:
    text = (ROOT / "README.md").read_text()
    (body,) = re.findall(r"```toml\n(.*?)```", text, re.S)
    job = job_of(tomllib.loads(body), "README")
    plan = engine.plan(job, substrate(job.part.substrate, engine.knowledge, "README").entry)
    assert plan.chains


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_every_path_that_is_named_is_there(document: str) -> None:
    text = (ROOT / document).read_text()
    named = set(re.findall(r"`((?:kb|tests|docs|rules|generic_catalog)/[a-z_./-]*)`", text))
    named |= set(re.findall(r"\b(docs/[a-z-]+\.md)\b", text))
    missing = {n for n in named if not (ROOT / n).exists()} - {"rules/degrease/no-terpene-on-rubber.toml"}
    assert not missing
