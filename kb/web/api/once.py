"""Writes: let through only with the session's token, and carried out once however often they are sent.

Each write carries a word of the caller's own, a new one for each, in the field Idempotency-Key. It must: what is
recorded draws down the shelf and is never deleted, an answer can be lost on its way, and a field that may be left out
is left out. The same word with the same request is answered with the first answer; with another request it is
refused. The last two thousand words are kept in the ledger, with what they recorded (`kb.web.once`).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import Depends, Header, Query, Request

from kb.stock.stores import Answered, Document, Once
from kb.web.api.common import Json
from kb.web.desk import Desk, desk_of
from kb.web.once import Seal, sealed
from kb.web.problems import Problem
from kb.web.session import HEADER, same, token_of

REPEATED = "Idempotency-Replayed"


@dataclass(frozen=True)
class Write:
    """A write that was let through: the desk, the word that it carries once, and what it asks for."""

    desk: Desk
    seal: Seal
    dry_run: bool

    def kept(self, answer: Callable[[Sequence[Document]], Any]) -> Once:
        """Give the word as the ledger takes it; `answer` makes the document of what was recorded."""
        return self.seal.once(lambda bodies: json.dumps(answer(bodies), ensure_ascii=False, allow_nan=False))

    def once(self, do: Callable[[], Any]) -> Json:
        """Give the document that `do` gives, or gave when the same write was carried out before.

        What fails, or is only a dry run, has recorded nothing: the word may be used again.
        """
        if self.dry_run:
            return Json(do())
        under_way, word = self.desk.under_way, self.seal.word
        if not under_way.begin(word):
            raise Problem(409, "being-done", "Idempotency-Key", "this write is being carried out", "ask again shortly")
        try:
            before = self.desk.ledger().store.answered(word)
            return Json(do()) if before is None else self._again(before)
        except Answered as earlier:
            return self._again(earlier)
        finally:
            under_way.end(word)

    def _again(self, before: Answered) -> Json:
        if before.asked != self.seal.asked:
            said = "was used for another write"
            raise Problem(422, "bad-input", "Idempotency-Key", said, "take a new word for each write")
        return Json(json.loads(before.answer), headers={REPEATED: "true"})


async def writes(
    request: Request,
    desk: Annotated[Desk, Depends(desk_of)],
    key: Annotated[
        str,
        Header(
            alias="Idempotency-Key", min_length=8, max_length=200, pattern=r"^[\x21-\x7e]+$",
            description="A word of your own, a new one for each write: sent again with it, a write is recorded once.",
        ),
    ],
    _: Annotated[str, Header(alias=HEADER, max_length=200, description="What GET /api/session gives.")] = "",
    dry_run: Annotated[bool, Query(description="Check and show; record nothing.")] = False,
) -> Write:  # fmt: skip
    """Give the write that a request asks for; Problem 403 without the token of its session."""
    if not same(request.headers.get(HEADER), token_of(request.state.session, desk.settings.secret)):
        raise Problem(403, "session", HEADER, "the session's token is missing or wrong", "GET /api/session gives it")
    asked = hashlib.sha256(f"{request.method} {request.scope['path']}\0".encode("utf-8", "replace"))
    asked.update(await request.body())
    return Write(desk, sealed(request.state.session, f"api {key}", asked.hexdigest()), dry_run)


TheWrite = Annotated[Write, Depends(writes)]
