"""What the pages of the shelf share: fields of a form, days, the person who records, and faults beside the form."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Mapping
from typing import Any
from urllib.parse import quote

from fastapi import Request
from starlette.datastructures import UploadFile
from starlette.responses import RedirectResponse, Response

from kb.base.errors import TackroomError
from kb.stock.tables import Faults
from kb.web.desk import Desk
from kb.web.faults import without_commands
from kb.web.once import Seal, sealed
from kb.web.pages.common import on_in
from kb.web.problems import Problem, problem_of
from kb.web.session import ONCE

#: So many faults of a file are told; whoever made the file sees by then what is wrong with it.
MOST_FAULTS = 50
#: How long the word that a form carries once may be.
LONGEST_WORD = 100
_OPTION = re.compile(r"--([a-z][a-z-]*)")
#: A fault of one of several readings, which a command names behind its option, and how it would be typed there.
_READING = re.compile(r"--(?:reading|bench) (\w+: .*?)(?:; such as \w+=\S+)?")


def said(fields: Mapping[str, Any], name: str) -> str:
    """Tell what a field of a form says; "" where it says nothing."""
    value = fields.get(name, "")
    return value.strip() if isinstance(value, str) else ""


def at_of(fields: Mapping[str, Any], desk: Desk) -> str:
    """Tell when it happened, as the form says, or today; BadInput where that is no time."""
    return desk.moment(said(fields, "at") or None, "at")


def day_in(request: Request, desk: Desk) -> str:
    """Give the day that a page is asked about: `on` in its address, or today."""
    return desk.moment(on_in(request), "on")[:10]


def who_of(fields: Mapping[str, Any], desk: Desk) -> str:
    """Tell who records: as the form says, or as is known without it."""
    return said(fields, "who") or desk.who


def once(request: Request, form: Mapping[str, Any], desk: Desk, do: Callable[[Seal], str]) -> Response:
    """Carry out what the form asks for, once however often it is sent, and go where that leads."""
    asked = hashlib.sha256(request.url.path.encode("utf-8", "replace"))
    for name in sorted(form):
        value = form[name]
        content = value if isinstance(value, str) else _content(value)
        asked.update(f"\0{name}\0{content}".encode("utf-8", "replace"))
    word = form[ONCE]
    if not 0 < len(word) <= LONGEST_WORD:
        raise Problem(422, "bad-input", ONCE, "is not a word of this server", "load the page again and repeat it")
    seal = sealed(request.state.session, f"page {word}", asked.hexdigest())
    return RedirectResponse(desk.once(seal, do), 303)


def _content(file: UploadFile) -> str:
    content = file.file.read()
    file.file.seek(0)
    return hashlib.sha256(content).hexdigest()


def ahead_in(fields: Mapping[str, Any]) -> bool:
    """Tell whether the form says that a day ahead of today is meant."""
    return bool(said(fields, "ahead"))


def event(kind: str, lot: str, fields: Mapping[str, Any], desk: Desk, **more: Any) -> dict[str, Any]:
    """Give an event to be recorded."""
    own = {"type": kind, "at": at_of(fields, desk), "who": who_of(fields, desk), "lot": lot}
    return {**own, "reason": said(fields, "reason"), **more}


def lot_address(lot: str) -> str:
    """Tell where the page of a lot is. A lot's name may hold anything.

    >>> lot_address("A/17 ü?")
    '/shelf/lots/A%2F17%20%C3%BC%3F'
    """
    return f"/shelf/lots/{quote(lot, safe='')}"


def told(fault: TackroomError) -> list[str]:
    """Give a fault in words, each of a file's on a line of its own; what is an option to a command is a field here.

    >>> from kb.base.errors import BadInput
    >>> told(BadInput("--reason", "is missing", "say why, with --until"))
    ["'reason': is missing; say why, with 'until'"]
    >>> told(BadInput("--reading zero_return_ue", "'x' is not a number", "such as zero_return_ue=1.2"))
    ["zero_return_ue: 'x' is not a number"]
    """
    each = fault.each if isinstance(fault, Faults) else (fault,)
    lines = [_in_words(str(one)) for one in each[:MOST_FAULTS]]
    return [*lines, f"and {len(each) - MOST_FAULTS} more"] if len(each) > MOST_FAULTS else lines


def _in_words(line: str) -> str:
    reading = _READING.fullmatch(line)
    return reading[1] if reading else _OPTION.sub(r"'\1'", without_commands(line))


def refusal(fault: TackroomError) -> dict[str, Any]:
    """Tell what a page that shows its form again is given besides: the fault in words, and the status."""
    return {"fault": told(fault), "status": problem_of(fault).status}
