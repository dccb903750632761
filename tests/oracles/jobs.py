"""Seeded random jobs against the real knowledge: usual ones, and ones that nobody would ask."""

from __future__ import annotations

import random
from typing import Any

from kb.base import vocabulary as v
from kb.job import Job, job_of
from kb.knowledge import Entry, Knowledge

COMMON = ("dry-air", "dry-air", "dry-air", "humid-air", "mineral-oil", "condensing")
LOW = (20, 20, 15, 15, 10, 0, -20, -55, -196)
HIGH = (25, 25, 35, 35, 40, 60, 60, 80, 120, 180, 300)


def random_job(seed: int, knowledge: Knowledge) -> tuple[Job, Entry]:
    """The job of that seed, and the entry of its substrate. About two thirds of them have a chain."""
    draw = random.Random(seed)
    entry = draw.choice(knowledge.by_kind["substrate"])
    part: dict[str, Any] = {"substrate": entry.id, "surface": [draw.choice(("bare",) * 12 + v.SURFACES)]}
    service: dict[str, Any] = {
        "temperature_c": [draw.choice(LOW), draw.choice(HIGH)],
        "exposures": [draw.choice(COMMON if draw.random() < 0.7 else v.EXPOSURES)],
        "duration_days": draw.choice((1, 7, 30, 365)),
        "measurement": draw.choice(("static", "dynamic", "both")),
    }
    task: dict[str, Any] = {"job": {"name": f"random job {seed}"}, "part": part, "service": service}
    if draw.random() < 0.3:
        service["peak"] = {"temperature_c": service["temperature_c"][1] + draw.choice((5, 20, 60)), "duration_h": 2}
    if draw.random() < 0.5:
        part["thickness_mm"] = draw.choice((0.2, 0.8, 1.6, 5, 50))
    if draw.random() < 0.2:
        service["max_strain_ue"] = draw.choice((500, 3000, 20000))
    if draw.random() < 0.2:
        service["cycles"] = draw.choice((1e3, 1e6, 1e8))
    if draw.random() < 0.3:
        part["clamping"] = draw.choice(("weights-only", "thumb-only"))
        part["orientation"] = draw.choice(("horizontal", "vertical", "overhead"))
    if draw.random() < 0.1:
        part["populated"] = True
        part["max_process_temperature_c"] = draw.choice((60, 90, 125))
    if draw.random() < 0.1:
        task["gauge"] = {"backing": draw.choice(v.FAMILIES["backing"])}
    if draw.random() < 0.3:
        task["bench"] = {"relative_humidity_pct": draw.choice((10, 30, 80)), "part_temperature_c": draw.choice((5, 22))}
    if draw.random() < 0.4:
        task["limits"] = {"ready_within_h": draw.choice((2, 8, 24, 26, 30, 36, 48, 72, 168))}
    if draw.random() < 0.1:
        hazards = task.setdefault("limits", {})
        hazards["exclude_hazards"] = [draw.choice(v.HAZARDS)]
    return job_of(task, "random job"), entry
