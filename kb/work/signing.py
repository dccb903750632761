"""Signing off what was made: whoever approves a record is another than those who did the work."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from kb.base.errors import BadInput
from kb.stock.ledger import Ledger, Look, without_number
from kb.stock.lots import Refused
from kb.stock.stores import Document, Draft, Once
from kb.work.forms import checked


class Standing(NamedTuple):
    """A record of installations, and the signatures under it."""

    record: Document
    signatures: tuple[Document, ...]

    @property
    def verdict(self) -> str:
        """Say what it comes to: the last signature counts."""
        return str(self.signatures[-1]["verdict"]) if self.signatures else "unsigned"

    @property
    def number(self) -> int:
        return int(self.record["id"])

    @property
    def hands(self) -> set[str]:
        """Give who did the work: who recorded it, and who did a step of it."""
        return {self.record["who"], *(time["who"] for time in self.record.get("times", ()))}


def standings(documents: Iterable[Document]) -> dict[int, Standing]:
    """Give every record of installations by its number, with its signatures."""
    found: dict[int, Standing] = {}
    for document in documents:
        if document["type"] == "installed":
            found[document["id"]] = Standing(document, ())
        elif document["type"] == "signed":
            one = found[document["of"]]
            found[document["of"]] = one._replace(signatures=(*one.signatures, document))
    return found


def sign(
    ledger: Ledger,
    number: int,
    verdict: str,
    who: str,
    at: str,
    today: str,
    reason: str = "",
    once: Once | None = None,
) -> Document:
    """Put a signature under a record: approved, or refused with a reason. Refused of those who did the work."""

    def decide(look: Look) -> list[Draft]:
        return [Draft("work", _signature(look, number, verdict, who, at, today, reason))]

    return ledger.append(decide, once)[0].body


def rehearse(ledger: Ledger, number: int, verdict: str, who: str, at: str, today: str, reason: str = "") -> Document:
    """Give what `sign` would keep, without its number; the same errors, and nothing written."""
    with ledger.looking() as look:
        return without_number(_signature(look, number, verdict, who, at, today, reason))


def _signature(look: Look, number: int, verdict: str, who: str, at: str, today: str, reason: str) -> Document:
    known = standings(look.documents("work"))
    if number not in known:
        raise BadInput(f"record {number}", "is no record of installations", "`trace JOB` tells their numbers")
    one = known[number]
    if who in one.hands:
        raise Refused(f"record {number}", f"{who} did the work", "somebody else must look at it and sign")
    if verdict == "refused" and not reason:
        raise BadInput("reason", "is missing", "say what is wrong with it")
    head = {"id": look.next_number("work"), "type": "signed", "as_of": look.next_number("stock") - 1}
    said = {"job": one.record["job"], "at": at, "who": who, "recorded": today}
    return checked({**head, **said, "of": number, "verdict": verdict, "reason": reason})
