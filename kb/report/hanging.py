"""What an answer hangs on, in words and for programs: fact by fact, where it changes, and to what."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from kb.engine.plan import Plan
from kb.report.text import wrapped
from kb.rules.roles import SLOTS
from kb.rules.unknowns import asked_words
from kb.rules.values import CURES
from kb.rules.words import duration, named, shown

if TYPE_CHECKING:
    # A plan that isn't asked what it hangs on doesn't load the search for that.
    from kb.planning.answers import Picks
    from kb.planning.hangs_on import Hang

#: What a value rests on, in brackets behind it.
_RESTS_ON = {"memory": "recalled", "common-practice": "practice", "computed": "computed"}


def hanging_json(hangs: Sequence[Hang] | None) -> list[dict[str, Any]] | None:
    """Give the `hangs_on` of an answer, nearest first; None where it was not looked for."""
    return None if hangs is None else [_row(hang) for hang in hangs]


def _row(hang: Hang) -> dict[str, Any]:
    return {
        "fact": hang.fact,
        "value": hang.value,
        "basis": hang.basis,
        "changes_at": hang.changes_at,
        "to": "no-chain" if hang.to is None else bond_json(hang.to),
    }


def bond_json(picks: tuple[Any, ...]) -> dict[str, Any]:
    """Name a chain by its adhesive and its coats."""
    by_slot = dict(zip(SLOTS, picks, strict=True))
    coats = [option.id for slot, option in by_slot.items() if SLOTS[slot].kind == "coating" and option.id]
    return {"adhesive": by_slot["adhesive"].id or None, "coatings": coats}


def hanging_lines(plan: Plan, hangs: Sequence[Hang] | None) -> Iterator[str]:
    """Say under which changes the answer no longer holds, a line each."""
    yield hanging_head(plan).upper()
    for said in hanging_words(plan, hangs):
        yield wrapped(said, "  - " if hangs else "  ", 4 if hangs else 2)


def hanging_head(plan: Plan) -> str:
    """Head what an answer hangs on."""
    return "Holds unless" if plan.chains else "Would have a chain if"


def hanging_words(plan: Plan, hangs: Sequence[Hang] | None) -> Iterator[str]:
    """Say of each fact that the answer hangs on where it changes, and to what; or that there is none."""
    if hangs is None:
        yield "The shelf decides what comes first: nothing is said here of what that hangs on."
    elif not hangs:
        yield "No fact of the part or of a member, moved within its spread, changes this answer."
    for hang in hangs or ():
        yield f"{words(hang)}; then {_then(plan.chains[0].picks if plan.chains else None, hang.to)}"


def words(hang: Hang) -> str:
    """Say of one fact, as it is asked for where nobody knows it, where the answer changes and what is held of it."""
    name, told = hang.entry.name, _RESTS_ON.get(hang.basis, hang.basis)
    if hang.field.startswith(f"{CURES}."):
        _, cure, field = hang.field.split(".")
        asked = f"{name}, cure {cure}: {asked_words(f'cure.{field}', {})}"
    else:
        asked = asked_words(f"{hang.entry.kind}.{hang.field}", {hang.entry.kind: name})
    if isinstance(hang.value, str):
        return f"{asked}: {hang.changes_at}, where {hang.value} is held ({told})"
    way = "more" if hang.changes_at > hang.value else "less"
    then, now = (_figure(hang, value) for value in (hang.changes_at, hang.value))
    # A figure that lost digits on the way towards the value of now is not yet one at which the answer changes.
    lost = float(shown(float(hang.changes_at)))
    short = (hang.changes_at - lost) * (hang.changes_at - hang.value) > 0
    return f"{asked}: {f'{way} than {then}' if short else f'{then} or {way}'}, where {now} is held ({told})"


def _figure(hang: Hang, value: float) -> str:
    """Tell a number of the fact, with its unit."""
    _, unit = named(hang.field)
    return duration(value) if unit == "min" else f"{shown(float(value))} {unit}".rstrip()


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
