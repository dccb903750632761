"""Pages from templates. Everything that a template is given is escaped, but for pictures that we drew ourselves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from kb.report.pictures import Picture
from kb.report.pictures.pictograms import Pictogram
from kb.report.text import STANDING, capitalize_first
from kb.rules.words import duration, shown, value_words
from kb.web.jobbar import JOB_PAGES, bar_of
from kb.web.session import ENTRY_COOKIE, new_word, token_of
from kb.web.static_files import address

#: The rooms that are there without a job: where each link leads, and what it is called.
ROOMS = (
    ("/", "Choose"),
    ("/pair", "Pairs"),
    ("/shelf", "Shelf"),
    ("/catalog", "Catalog"),
)


#: Pages that hold a form which records.
RECORDING = ("/shelf", "/record", "/pick", "/bench-run")


@cache
def environment() -> Environment:
    """Give the templates' surroundings: every value is escaped, and one that a template lacks is an error."""
    found = Environment(loader=PackageLoader("kb.web"), autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    found.filters |= {
        "shown": shown,
        "valued": value_words,
        "duration": duration,
        "drawn": drawn,
        "capitalize_first": capitalize_first,
        "at_field": at_field,
    }
    found.globals |= {"rooms": ROOMS, "job_pages": JOB_PAGES, "standing": STANDING, "once": new_word, "look": address}
    return found


def at_field(lines: Sequence[str], name: str) -> str:
    """Give what a form's faults say of one of its fields, or of the last part of its name; "" where that is nothing.

    >>> at_field(["quantity: is missing; give it", "'reason': may not be empty"], "reason")
    'may not be empty'
    """
    heads = tuple(f"{quote}{own}{quote}: " for own in (name, name.rpartition(".")[2]) for quote in ("", "'"))
    return next((line.partition(": ")[2] for line in lines if line.startswith(heads)), "")


def drawn(picture: Picture | Pictogram) -> Markup:
    """Give a picture's SVG as it is: its template has escaped what it holds."""
    return Markup(picture.svg)


def address_of(request: Request) -> str:
    """Give the address asked for. Not `request.url`: it is made with the header Host, which may be anything."""
    query = request.scope["query_string"].decode("latin-1")
    return str(request.scope["path"]) + (f"?{query}" if query else "")


def _writes(path: str) -> bool:
    return path.startswith(RECORDING)


def page(
    request: Request, template: str, *, status: int = 200, headers: Mapping[str, str] | None = None, **values: Any
) -> HTMLResponse:
    """Give the named template as an answer to `request`.

    A template may ask for `path`, `session_token` (to put into each form that writes), `today`, the job's `bar` and
    who acts, besides `values`.
    """
    desk, actor = request.app.state.desk, request.state.actor
    settings = desk.settings
    own = {
        "path": request.scope["path"],
        "session_token": token_of(request.state.session, settings.secret),
        "today": settings.today().isoformat(),
        "bar": bar_of(request),
        "actor": actor,
        "let_in": actor.signed_in or ENTRY_COOKIE in request.cookies,
        "who": desk.who,
        "asks_who": settings.asks_who and not actor.name and actor.role is None and _writes(request.scope["path"]),
        "here": address_of(request),
    }
    body = environment().get_template(template).render(**own, **values)
    return HTMLResponse(body, status, dict(headers or {}))
