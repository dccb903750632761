"""Pages from templates. Everything that a template is given is escaped."""

from __future__ import annotations

from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("kb.report"), autoescape=True, undefined=StrictUndefined, keep_trailing_newline=True
    )


def render(template: str, **values: Any) -> str:
    """Give the named template, filled. A value that a template asks for and isn't given is an error."""
    return _environment().get_template(template).render(**values)
