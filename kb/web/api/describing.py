"""What OpenAPI says beyond what the routes say of themselves."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from kb.job import Job
from kb.web.api.bodies import JOB_HERE, as_read
from kb.web.api.common import PROBLEM

ABOUT = """The JSON documents that the commands give, over HTTP.

The body of a question is the job as a job file has it; options are in the query. The body of a write is all that is to
be recorded. Each write needs the session's token (`GET /api/session`) in `X-Session-Token`, and an `Idempotency-Key`
of its own. An answer that a command tells by its exit status (no chain, a blocked pair, expired stock) is an answer
here too: 200, and said in the document. Everything else is a problem (RFC 9457)."""


def install(app: FastAPI) -> None:
    """Make the application describe itself: the job with its units, and what a problem looks like."""

    def described() -> dict[str, Any]:
        if app.openapi_schema is None:
            found = get_openapi(
                title=app.title, version=app.version, summary=app.summary, description=ABOUT, routes=app.routes
            )
            job = Job.model_json_schema(ref_template="#/components/schemas/{model}")
            tables = {name: as_read(schema) for name, schema in job.pop("$defs").items()}
            found["components"]["schemas"] |= {"Problem": PROBLEM, "Job": job, **tables}
            app.openapi_schema = _referring(found)
        return app.openapi_schema

    app.openapi = described  # type: ignore[method-assign]


def _referring(schema: Any) -> Any:
    """Give `schema` with a reference to the job's wherever one stands for it."""
    if isinstance(schema, dict):
        if schema.get("x-schema") == JOB_HERE["x-schema"]:
            return {"$ref": "#/components/schemas/Job"}
        return {name: _referring(inner) for name, inner in schema.items()}
    return [_referring(inner) for inner in schema] if isinstance(schema, list) else schema
