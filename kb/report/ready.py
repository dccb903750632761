"""When a chain is ready, in the words and members that every answer uses: all of them from one schedule."""

from __future__ import annotations

from typing import Any

from kb.quantities.timeline import Hours
from kb.rules.words import duration


def ready_json(hours: Hours) -> dict[str, Any]:
    """Give the members that say when the first installation, and when the batch, may be measured [min]."""
    return {
        "ready_after_min": _number(hours.ready_after_min),
        "batch_ready_after_min": _number(hours.batch_ready_after_min),
        "within_limit": hours.within_limit,
    }


#: The members that `ready_json` gives.
READY = ("ready_after_min", "batch_ready_after_min", "within_limit")


def ready_words(hours: Hours) -> str:
    """Say when it is ready, and whether the job's limit is kept."""
    first, number = duration(hours.ready_after_min), hours.number
    said = f"ready after {first}" if number == 1 else f"the first is ready after {first}, all {number} after "
    if number > 1:
        said += duration(hours.batch_ready_after_min)
    limit = limit_words(hours)
    return f"{said}{':' if hours.within_limit is False else ';'} {limit}" if limit else said


def limit_words(hours: Hours) -> str:
    """Say whether the job's limit is kept; nothing where it has none."""
    if hours.limit_min is None:
        return ""
    limit = duration(hours.limit_min)
    if hours.within_limit:
        return f"within the limit of {limit}"
    if hours.ready_after_min <= hours.limit_min:
        return f"THE BATCH MISSES THE LIMIT of {limit}, though its first is in time"
    return f"THE LIMIT of {limit} IS MISSED in working hours"


def _number(value: float) -> float | int:
    return int(value) if float(value).is_integer() else round(value, 3)
