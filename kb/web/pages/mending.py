"""A page that can't be made because of one field asks for that field again, with all else as it was."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from fastapi import Request
from starlette.responses import Response

from kb.base.errors import TackroomError
from kb.web.faults import of_form
from kb.web.fields import QUESTIONS, Question, filled
from kb.web.problems import problem_of
from kb.web.render import page

#: What a page about a job asks for beside the job.
BESIDE: Final = {
    q.name: q
    for q in (
        Question("on", "The day", "date"),
        Question("gauges", "Gauges in this run"),
        Question("item", "Item", "text"),
        Question("activated_h", "Since the surface was treated", unit="h"),
    )
}


def mended(request: Request, title: str, answer: Callable[[], Response]) -> Response:
    """Give the answer; where one field of the address stands against it, that field, with what is wrong beside it."""
    try:
        return answer()
    except TackroomError as fault:
        given = filled(request.query_params.multi_items())
        found = of_form(fault, given, request.app.state.desk.known)
        name = found.name or fault.where
        question = QUESTIONS.get(name) or BESIDE.get(name)
        if question is None:
            raise
        others = [pair for pair in request.query_params.multi_items() if pair[0] != name]
        own = replace(found, name=name, field=question.id, label=question.label)
        status = problem_of(fault).status
        return page(
            request, "ask_again.html", title=title, status=status, asked=question, fault=own, given=given, others=others
        )
