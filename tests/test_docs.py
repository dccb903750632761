"""The templates in DEVELOPERS.md and the job in README.md are real: they load, prove themselves and plan."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

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


def written(document: str, mark: str) -> str:
    """The block that follows `<!-- mark -->`, word for word."""
    (body,) = re.findall(rf"<!-- {mark} -->\n```\w+\n(.*?)```", (ROOT / document).read_text(), re.S)
    return str(body)


def block(document: str, mark: str) -> dict[str, Any]:
    """The TOML block that follows `<!-- mark -->`."""
    return tomllib.loads(written(document, mark))


def test_the_rule_template_proves_itself(knowledge: Knowledge) -> None:
    data = block("DEVELOPERS.md", "rule")
    table = validated(RuleTable, data, "template")
    assert faults(rule_of(table, "template"), table, knowledge.entries, "template") == []
    assert table.id not in knowledge.rules_by_id


def test_the_item_template_loads(knowledge: Knowledge) -> None:
    data = block("DEVELOPERS.md", "item degreaser")
    item = load_item("degreaser", data, "template", {})
    assert item.id not in knowledge.entries


def test_the_step_template_loads() -> None:
    data = block("DEVELOPERS.md", "steps")
    assert validated(StepFile, data, "template").steps


def test_the_readme_job_plans(engine: Engine) -> None:
    text = (ROOT / "README.md").read_text()
    (body,) = re.findall(r"```toml\n(.*?)```", text, re.S)
    job = job_of(tomllib.loads(body), "README")
    plan = engine.plan(job, substrate(job.part.substrate, engine.knowledge, "README").entry)
    assert plan.chains
