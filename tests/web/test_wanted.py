"""What a request wants is told without an answer: the same job is one question, whoever asks and however."""

from __future__ import annotations

import json

import pytest

from kb.knowledge import Knowledge
from kb.web.forms import query_of
from kb.web.wanted import mark_of
from tests.oracles.jobs import random_job


@pytest.mark.parametrize("seed", range(20))
def test_page_and_program_ask_the_same(knowledge: Knowledge, seed: int) -> None:
    job, _ = random_job(seed, knowledge)
    named = job.model_copy(update={"job": job.job.model_copy(update={"name": f"part {seed}"})})
    body = json.dumps(named.model_dump(mode="json", exclude_defaults=True)).encode()
    page = mark_of(query_of(job).encode(), b"")
    assert page == mark_of(b"hangs_on=false", body)
    other = job.model_copy(update={"batch": job.batch.model_copy(update={"boards": job.batch.boards + 1})})
    assert mark_of(query_of(other).encode(), b"") != page


@pytest.mark.parametrize("body", [b"[" * 9000, b'{"part":' * 2000, b"\xff{", b"[1]", b'"x"', b"x" * 20_000, b"{}"])
def test_what_holds_no_job_is_no_fault(body: bytes) -> None:
    """Whatever is wrong with it, whoever answers says so."""
    assert mark_of(b"", body) == mark_of(b"", body)


def test_a_form_is_known_by_the_page_that_it_is_on() -> None:
    page = b"part.substrate=brass"
    assert mark_of(page, b"once=1&who=kim") == mark_of(page, b"")
