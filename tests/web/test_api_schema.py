"""The API against its own description: requests made up from OpenAPI, right and wrong ones, by schemathesis.

Nothing may be a fault of the program, and every answer must be one that the description has. CI sends a few hundred;

    TACKROOM_API_CASES=5000 pytest tests/web/test_api_schema.py

sends so many.
"""

from __future__ import annotations

import datetime
import itertools
import os
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from kb.engine.plan import Engine
from kb.web.app import create_app
from kb.web.settings import Settings
from tests.web.addresses import fill
from tests.web.calling import Caller, ready

MANY = "TACKROOM_API_CASES" in os.environ
CASES = int(os.environ.get("TACKROOM_API_CASES", "300"))
PATHS = create_app(Settings(workspace=Path("no-such-folder"))).openapi()["paths"]
OPERATIONS = [(method.upper(), path) for path, methods in PATHS.items() for method in methods]
CHECKS: list[Any] = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
_NUMBERS = itertools.count(1)
counted: Counter[int] = Counter()
MATERIALS: list[Any] = ["brass", "ptfe", "glass-epoxy-laminate", {"like": "peek"}, {"family": "polyamide"}]
KNOWN: dict[str, list[Any]] = {
    "item": ["acetone", "isopropyl-alcohol"], "rows": ["degreaser", "abrasive"], "columns": ["conditioner", "exposure"],
    "lot": ["A-1", "A-2", "A-3"], "quantity": ["1.5", 2, 0.25], "unit": ["mL", "g"], "kind": ["adhesive"],
    "family": ["ketone", "silicone"], "on": ["2027-03-01"], "at": ["2027-03-02", "2027-03-02T08:30"],
    "received": ["2027-03-01"], "made": ["2027-01-01"], "expires": ["2029-01-31"], "until": ["2030-01-31"],
    "start": ["2027-03-01"], "deadline": [None], "prefer": ["time", "stock"], "chain": [1],
    "with": [["part.clamping=any"]],
    "code": ["]C101040123456789011728123110ABC123", "tackroom:lot/A-1"], "scan": [None], "answer": [[]],
    "corrects": [1, 2], "change": [{"location": "fridge"}], "outcome": ["pass", "fail"], "lots": [{}, {"IPA-31": 1}],
    "readings": [{}], "bench": [{}], "hours": ["8-16:30"], "days": ["mon-fri"], "of": ["IPA-31"],
}  # fmt: skip
LOTS = ("IPA-31", "CA-07", "CA-05", "PU-12")


@pytest.fixture(scope="module")
def caller(tmp_path_factory: pytest.TempPathFactory, engine: Engine) -> Caller:
    """A lab with something on its shelf."""
    workspace = tmp_path_factory.mktemp("lab")
    fill(workspace)
    today = datetime.date(2027, 3, 1)
    told = Settings(workspace=workspace, names=("testserver",), today=lambda: today, who="kim")
    return Caller(ready(create_app(told), engine), "http://testserver")


@pytest.fixture(scope="module")
def described(caller: Caller) -> Any:
    return schemathesis.openapi.from_asgi("/api/openapi.json", caller.app)


def made_likely(case: schemathesis.Case[Any], number: int) -> None:
    """Puts words that are known into the places of words that were made up, so that more is asked than refused."""
    body = case.body if isinstance(case.body, dict) else {}
    for table in (body, body.get("job")):
        if isinstance(table, dict) and isinstance(table.get("part"), dict):
            table["part"] = {"substrate": MATERIALS[number % len(MATERIALS)]}
            table["service"] = {"temperature_c": [number % 100 - 40, number % 7 * 30 + 60]}
    for place in (body, case.query):
        for name in list(place):
            if name in KNOWN and (place[name] is not None or number % 2):
                place[name] = KNOWN[name][number % len(KNOWN[name])]


@pytest.mark.parametrize(("method", "path"), OPERATIONS)
@pytest.mark.parametrize("mode", [GenerationMode.POSITIVE, GenerationMode.NEGATIVE], ids=["right", "wrong"])
def test_every_answer_is_one_that_is_described(
    method: str, path: str, mode: GenerationMode, described: Any, caller: Caller
) -> None:
    operation = described[path][method]

    @given(operation.as_strategy(generation_mode=mode), st.sampled_from((*LOTS, None)), st.booleans())
    @settings(
        max_examples=max(2, CASES // len(OPERATIONS) // 2),
        deadline=None,
        derandomize=not MANY,
        database=None,
        phases=(Phase.generate,),
        suppress_health_check=list(HealthCheck),
    )
    def answered(case: schemathesis.Case[Any], lot: str | None, fresh: bool) -> None:
        if lot and "lot" in case.path_parameters:
            case.path_parameters["lot"] = lot
        if lot and mode is GenerationMode.POSITIVE:
            made_likely(case, next(_NUMBERS))
        headers = caller.session()
        if fresh:
            headers["Idempotency-Key"] = f"made-up-{next(_NUMBERS)}"
        response = case.call(headers=headers, cookies=dict(caller.cookies), timeout=60)
        counted[response.status_code] += 1
        case.validate_response(response, checks=CHECKS)

    try:
        answered()
    except Unsatisfiable:
        pytest.skip("this operation takes nothing that could be wrong")


def test_the_shelf_is_sound_after_it_all(caller: Caller) -> None:
    assert caller.get("/api/stock/verify").json()["sound"]
    if MANY:
        print(f"\n{sum(counted.values())} requests: {dict(sorted(counted.items()))}")
