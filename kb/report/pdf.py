"""A page to print as PDF, by a library that is installed beside the program where somebody wants it."""

from __future__ import annotations

import os
from importlib import import_module

from kb.base.errors import BadInput

#: So that the same page has the same bytes: the day that PDF writers put into a file otherwise.
_NO_TIME = {"SOURCE_DATE_EPOCH": "315532800"}


def pdf_of(page: str, where: str) -> bytes:
    """Give a page of HTML as PDF; BadInput, which names the file by `where`, where nothing here can make one."""
    try:
        weasyprint = import_module("weasyprint")
    except (ImportError, OSError):
        mend = "install tackroom[pdf]; or write .html, and print that from a browser"
        raise BadInput(where, "can't be made: what writes PDF is not installed", mend) from None
    before = {name: os.environ.get(name) for name in _NO_TIME}
    os.environ.update(_NO_TIME)
    try:
        made = weasyprint.HTML(string=page, url_fetcher=_nothing).write_pdf()
    finally:
        for name, value in before.items():
            os.environ.pop(name) if value is None else os.environ.update({name: value})
    return bytes(made)


def _nothing(url: str) -> None:
    """Fetch nothing: a page to print holds all that it needs."""
    raise ValueError(f"{url} is not read")
