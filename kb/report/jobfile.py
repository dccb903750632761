"""A job as a job file: TOML that reads back to the same job."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from kb.job import Job


def job_toml(job: Job) -> str:
    """Give `job` as TOML: what differs from the defaults, a table each.

    >>> from kb.job import job_of
    >>> print(job_toml(job_of({"part": {"substrate": "brass"}, "service": {"temperature_c": [10, 60]}}, "a job")))
    [part]
    substrate = "brass"
    <BLANKLINE>
    [service]
    temperature_c = [10.0, 60.0]
    <BLANKLINE>
    """
    tables = job.model_dump(mode="json", exclude_defaults=True)
    return "\n".join(
        f"[{name}]\n" + "".join(f"{key} = {_written(key, value)}\n" for key, value in table.items())
        for name, table in tables.items()
        if table
    )


def _written(key: str, value: Any) -> str:
    """Give a value as TOML writes it. Texts are as in JSON, but for what only TOML has escapes for."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{k} = {_written(k, v)}" for k, v in value.items() if v is not None) + " }"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_written("", v) for v in value) + "]"
    if key == "planned_on":
        return str(value)
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
