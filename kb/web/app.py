"""The application: the guard before it, the desk behind it, pages and API in it."""

from __future__ import annotations

from fastapi import FastAPI
from starlette.middleware.gzip import GZipMiddleware
from starlette.staticfiles import StaticFiles

from kb import __version__
from kb.web import api, pages, problems
from kb.web.attempts import Attempts
from kb.web.desk import Desk
from kb.web.guard import Guard
from kb.web.looks import STATIC
from kb.web.settings import Settings


def create_app(settings: Settings) -> FastAPI:
    """The application over a workspace; it holds no state but what the workspace's files hold."""
    app = FastAPI(
        title="tackroom",
        version=__version__,
        summary="Chooses, proves and explains the chain of materials that bonds a strain gauge.",
        openapi_url="/api/openapi.json",
        docs_url=None,  # its page would load scripts from elsewhere
        redoc_url=None,
        default_response_class=api.Json,
    )
    app.state.desk = Desk(settings)
    app.state.attempts = attempts = Attempts()
    problems.install(app)
    api.install(app)
    app.include_router(api.router, prefix="/api")
    app.include_router(pages.router, include_in_schema=False)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    # The session's token stands in pages that are compressed. Nobody elsewhere can have a browser fetch them with other
    # words time and again to learn it by their length: the cookie of the session goes with requests of this site alone.
    app.add_middleware(GZipMiddleware, minimum_size=1000)
    app.add_middleware(Guard, settings=settings, attempts=attempts)
    return app
