"""A job that is written as a file reads back to the same job, whatever stands in it."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from kb.job import job_of
from kb.report.jobfile import job_toml

PLAIN = {"part": {"substrate": "brass"}, "service": {"temperature_c": [10, 60]}}


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"job": {"name": 'a "quoted" \\ name\twith\x7f odd\nletters, ä', "planned_on": "2027-03-01"}},
        {
            "part": {
                "substrate": {"like": "peek", "name": "ours", "max_temperature_c": 90.5},
                "surface": ["oily", "bare"],
            }
        },
        {"service": {"temperature_c": [-20, 60], "peak": {"temperature_c": 90, "duration_h": 0.5}, "cycles": 0}},
        {"limits": {"exclude_hazards": ["chromate"], "outgassing": True}, "batch": {"boards": 3}},
    ],
)
def test_a_job_reads_back(more: dict[str, Any]) -> None:
    job = job_of({**PLAIN, **more}, "t")
    assert job_of(tomllib.loads(job_toml(job)), "again") == job


def test_what_is_as_by_default_is_left_out() -> None:
    job = job_of({**PLAIN, "batch": {"boards": 1}, "bench": {"relative_humidity_pct": 45}}, "t")
    assert "batch" not in job_toml(job)
    assert "bench" not in job_toml(job)
