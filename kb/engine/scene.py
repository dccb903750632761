"""The situation in which rules speak: the job by table, and its part as it is once what comes off has come off.

A gauge doesn't stand on zinc that was filed away. Where a rule takes the layer off (`bares`), the part is from then on
what lay below. What the layer still says of it, beside the gauge and in the dust, is data: generic_catalog/layers.toml.
"""

from __future__ import annotations

from kb.job import Job
from kb.knowledge import Knowledge
from kb.rules.clauses import Facts, Scene, Value, all_of
from kb.rules.job_facts import job_facts


def scene_of(knowledge: Knowledge, job: Job, part: Facts) -> dict[str, Facts]:
    """Give the facts of a job by role; `part` holds those of what its part is made of, layer and all."""
    covered = {"substrate": part, **job_facts(job, part)}
    if not layer_comes_off(knowledge, covered):
        return covered
    left = bared(knowledge, part)
    tables = job_facts(job, left)
    return {"substrate": left, **tables, "part": {**tables["part"], "layer_off": True}}


def layer_comes_off(knowledge: Knowledge, scene: Scene) -> bool:
    """Tell whether a rule surely takes the layer of the part off."""
    return any(all_of(condition.truth(scene) for condition in rule.when) for rule in knowledge.baring)


def bared(knowledge: Knowledge, part: Facts) -> Facts:
    """Give the facts of a part without its layer; those of the part as it was where what lies below is not known."""
    below = knowledge.entries.get(part.get("base", ""))
    if below is None:
        return part
    says = knowledge.tables["layers"]
    both = (below.facts, part)
    left: dict[str, Value] = {**below.facts, **{name: part[name] for name in says["kept"] if name in part}}
    left["base"] = below.id
    left["name"] = f"{below.name} below its {part['layer'].replace('-', ' ')}"
    for name in (*says["lowest"], *says["stated"]):
        left.pop(name, None)
        figures = [facts[name] for facts in both if name in facts]
        if len(figures) == 2 or (figures and name in says["stated"]):
            left[name] = min(figures)
    for name in says["joined"]:
        left[name] = tuple(dict.fromkeys(word for facts in both for word in facts.get(name, ())))
    for name in says["true"]:
        if any(facts.get(name) for facts in both):
            left[name] = True
    return left
