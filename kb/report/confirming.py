"""What jobs hang on and nobody has confirmed, and what the lab has: for a terminal and for programs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from kb.report.text import wrapped
from kb.rules.words import shown
from kb.work.confirming import Confirmation, OpenFact


def confirm_json(rows: Sequence[OpenFact], found: Iterable[Confirmation], today: str, second: bool) -> dict[str, Any]:
    """Give `tackroom.confirm/1`."""
    return {
        "schema": "tackroom.confirm/1",
        "open": [dict(row._asdict()) for row in rows],
        "confirmed": [
            {
                "fact": one.fact,
                "value": one.body["value"],
                "event": one.body["id"],
                "source": one.words(),
                "seen_by": list(one.seen_by),
                "counts": not (why := one.standing(today, second)),
                "why_not": why or None,
            }
            for one in found
        ],
    }


def confirm_text(
    rows: Sequence[OpenFact], found: Sequence[Confirmation], today: str, second: bool, *, looked: bool
) -> str:
    """Give the same for a terminal."""
    return "\n".join(_lines(rows, found, today, second, looked)) + "\n"


def _lines(
    rows: Sequence[OpenFact], found: Sequence[Confirmation], today: str, second: bool, looked: bool
) -> Iterator[str]:
    yield "OPEN"
    if not looked:
        yield "  Name job files to see what their answers hang on: confirm list jobs/*.toml"
    elif not rows:
        yield "  No answer hangs on a value that nobody has confirmed."
    for row in rows:
        yield wrapped(f"{row.fact} = {shown(row.value)} ({row.basis}): {row.words()}", "  ", 4)
    yield "CONFIRMED"
    if not found:
        yield "  Nothing yet: confirm state ITEM.FIELD=VALUE --sheet NAME --issued DAY"
    for one in found:
        why = one.standing(today, second)
        told = f"{one.body['id']:>4}  {one.fact} = {shown(one.body['value'])}: {one.words()}"
        yield wrapped(told + (f". It does not count: {why}" if why else ""), "  ", 8)
