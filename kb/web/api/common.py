"""What the parts of the API share: answers, the desk, and what OpenAPI says may go wrong."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Annotated, Any

from fastapi import Query
from starlette.responses import Response

from kb.base.errors import BadInput
from kb.web.problems import MEDIA_TYPE, Problem, problem_of


class Json(Response):
    """A document as the commands print it, on one line."""

    media_type = "application/json"

    def render(self, content: Any) -> bytes:
        return json.dumps(content, ensure_ascii=False, allow_nan=False).encode()


OnDay = Annotated[str | None, Query(alias="on", max_length=40, description="The day asked about, ISO (today).")]
Rank = Annotated[int, Query(alias="chain", ge=1, le=100, description="Which chain of the plan, by rank.")]
Prefer = Annotated[
    str | None, Query(max_length=100, description="What counts more: time, headroom, few-hazards, few-steps, stock.")
]


@contextmanager
def named_in_path() -> Iterator[None]:
    """Take what the address names and isn't there for not found, and no fault of the request's content."""
    try:
        yield
    except BadInput as fault:
        found = problem_of(fault)
        raise Problem(404, "not-found", found.where, found.what, found.mend) from None


#: A problem as OpenAPI has it.
PROBLEM: dict[str, Any] = {
    "title": "Problem",
    "description": "Problem details (RFC 9457).",
    "type": "object",
    "properties": {
        "type": {"type": "string"}, "title": {"type": "string"}, "status": {"type": "integer"},
        "detail": {"type": "string"}, "where": {"type": "string"}, "what": {"type": "string"},
        "mend": {"type": "string"},
    },
    "required": ["type", "title", "status", "detail", "where", "what", "mend"],
}  # fmt: skip
Responses = dict[int | str, dict[str, Any]]


def problems(**by_status: str) -> Responses:
    """Give `responses` of the statuses named `s422` and so on, each with what it means."""
    content = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
    return {int(status[1:]): {"description": said, "content": content} for status, said in by_status.items()}


#: What the guard may answer to any request, and to any that has a body.
ALWAYS = problems(
    s401="The server lets in only who has its token.",
    s421="The server was called by a name that isn't its own.",
    s422="What was sent can't be used as it stands.",
    s500="The program itself is at fault.",
    s503="The store is locked or damaged; or other long answers are being made.",
)
WITH_BODY = ALWAYS | problems(
    s400="The body can't be read.",
    s403="The request comes from a page of another site, or a write lacks its session's token.",
    s408="The body took too long to come.",
    s413="The body is too large.",
)
