"""The application: the guard before it, the desk behind it, pages and API in it."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from starlette.middleware.gzip import GZipMiddleware
from starlette.staticfiles import StaticFiles

from kb import __version__
from kb.web import api, pages, problems
from kb.web.acting import Entrance
from kb.web.attempts import Attempts
from kb.web.desk import Desk
from kb.web.ended import Ended
from kb.web.guard import Guard
from kb.web.settings import Settings
from kb.web.static_files import STATIC
from kb.web.workers import Workers
from kb.work.people import People


def create_app(settings: Settings, processes: int = 0) -> FastAPI:
    """Give the application behind its guard. Where it has processes, they make the long answers while it is served."""
    workers = Workers(application, settings, processes) if processes else None
    app = application(settings, workers)
    # The session's token stands in pages that are compressed. Nobody elsewhere can have a browser fetch them with other
    # words time and again to learn it by their length: the cookie of the session goes with requests of this site alone.
    # Level 5 takes less than half the time of level 9, and a twentieth more bytes.
    app.add_middleware(GZipMiddleware, minimum_size=1000, compresslevel=5)
    app.add_middleware(Guard, settings=settings, attempts=app.state.attempts, entrance=app.state.entrance)
    return app


def application(settings: Settings, workers: Workers | None = None) -> FastAPI:
    """Pages and API over a workspace; it holds no state but what the workspace's files hold."""

    @asynccontextmanager
    async def served(_: FastAPI) -> AsyncIterator[None]:
        if workers is not None:
            await workers.begin()
        try:
            yield
        finally:
            if workers is not None:
                await workers.end()

    app = FastAPI(
        title="tackroom",
        version=__version__,
        summary="Chooses, proves and explains the chain of materials that bonds a strain gauge.",
        openapi_url="/api/openapi.json",
        docs_url=None,  # its page would load scripts from elsewhere
        redoc_url=None,
        default_response_class=api.Json,
        lifespan=served,
    )
    app.state.desk = Desk(settings)
    app.state.attempts, app.state.workers = Attempts(), workers
    app.state.entrance = Entrance(
        People(settings.workspace), Ended(settings.workspace), settings.secret, settings.clock
    )
    problems.install(app)
    api.install(app)
    app.include_router(api.router, prefix="/api")
    app.include_router(pages.router, include_in_schema=False)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    return app
