"""What an answer hangs on, in words and for programs: fact by fact, where it changes, and to what."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from kb.engine.plan import Plan
from kb.planning.hangs_on import Hang, Picks
from kb.report.text import wrapped
from kb.rules.roles import SLOTS
from kb.rules.words import minutes_words, named, shown

#: What a value rests on, in brackets behind it.
_RESTS_ON = {"memory": "recalled", "common-practice": "practice", "computed": "computed"}


def hanging_json(hangs: Sequence[Hang] | None) -> list[dict[str, Any]] | None:
    """The `hangs_on` of an answer, nearest first; None where it was not looked for."""
    return None if hangs is None else [_row(hang) for hang in hangs]


def _row(hang: Hang) -> dict[str, Any]:
    return {
        "fact": hang.fact,
        "value": hang.value,
        "basis": hang.basis,
        "changes_at": hang.changes_at,
        "to": "no-chain" if hang.to is None else _bond(hang.to),
    }


def _bond(picks: tuple[Any, ...]) -> dict[str, Any]:
    by_slot = dict(zip(SLOTS, picks, strict=True))
    coats = [option.id for slot, option in by_slot.items() if SLOTS[slot].kind == "coating" and option.id]
    return {"adhesive": by_slot["adhesive"].id or None, "coatings": coats}


def hanging_lines(plan: Plan, hangs: Sequence[Hang] | None) -> Iterator[str]:
    """Say under which changes the answer no longer holds, a line each."""
    yield "HOLDS UNLESS" if plan.chains else "WOULD HAVE A CHAIN IF"
    if hangs is None:
        yield "  The shelf decides what comes first: nothing is said here of what that hangs on."
    elif not hangs:
        yield "  No fact of the part or of a member, moved within its spread, changes this answer."
    for hang in hangs or ():
        yield wrapped(f"{words(hang)}; then {_then(plan.chains[0].picks if plan.chains else None, hang.to)}", "  - ", 4)


def words(hang: Hang) -> str:
    """Say of one fact where the answer changes, and what is held of it now."""
    last = hang.field if hang.field.startswith("resists.") else hang.field.rpartition(".")[2]
    name, unit = named(last)
    cure = f", cure {hang.field.split('.')[1]}," if hang.field.startswith("schedules.") else ""
    rests = _RESTS_ON.get(hang.basis, hang.basis)
    if isinstance(hang.value, str):
        return f"{name} of {hang.entry.name} is {hang.changes_at} (it is held to be {hang.value}: {rests})"
    now, then = (minutes_words(v) if unit == "min" else f"{shown(float(v))} {unit}".rstrip() for v in _both(hang))
    way = "up" if hang.changes_at > hang.value else "down"
    return f"{name} of {hang.entry.name}{cure} is {then} or further {way} (it is held to be {now}: {rests})"


def _both(hang: Hang) -> tuple[float, float]:
    return hang.value, hang.changes_at


def _then(now: Picks, then: Picks) -> str:
    """Say what comes instead: no chain, the bond that there would be, or what differs from the chain of now."""
    if then is None:
        return "there is no chain"
    if now is None:
        return "there is one: " + " + ".join(option.entry.name for option in then if option.entry is not None)
    differs = [
        f"{other.entry.name if other.entry else 'nothing'} instead of {one.entry.name if one.entry else 'nothing'}"
        for one, other in zip(now, then, strict=True)
        if one.id != other.id
    ]
    return "; ".join(dict.fromkeys(differs)) or "another cure of the same adhesive is first"
