"""The next task is the first that can be done: a wait holds its own gauge, and the others go on."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from kb.planning.procedure import Step
from kb.work.run import Task
from kb.work.walk import next_of, number_of

STEPS = [Step("degrease", "Wipe."), Step("cure", "Hold.", wait_s=600, wait_for="cure"), Step("verify", "Look.")]
TASKS = [Task(n, (gauge,), 0.0) for gauge in (1, 2) for n in (0, 1)] + [Task(2, (1,), 20), Task(2, (2,), 21)]
NOON = datetime(2027, 3, 1, 12)


def did(step: int, name: str, **more: Any) -> dict[str, Any]:
    return {
        "key": f"{step}{name}",
        "kind": "done",
        "at": NOON.isoformat(),
        "step": step,
        "installations": [name],
        **more,
    }


def told(events: list[dict[str, Any]], minutes: float = 0) -> tuple[int, tuple[str, ...], bool] | None:
    found = next_of(TASKS, STEPS, events, NOON + timedelta(minutes=minutes))
    return None if found is None else (found.task.step + 1, found.names, found.until is not None)


def test_while_one_cures_the_other_is_begun() -> None:
    assert told([]) == (1, ("1",), False)
    cured = [did(1, "1"), did(2, "1")]
    assert told(cured) == (1, ("2",), False)
    both = [*cured, did(1, "2"), did(2, "2")]
    assert told(both, 9) == (3, ("1",), True)
    found = next_of(TASKS, STEPS, both, NOON)
    assert found is not None
    assert (found.until, found.wait_for) == (NOON + timedelta(minutes=10), "cure")
    assert told(both, 10) == (3, ("1",), False)


def test_what_was_rejected_is_left_out_and_a_step_taken_back_is_done_again() -> None:
    rejected = {"key": "x", "kind": "fail", "at": NOON.isoformat(), "installations": ["1"], "note": "a void"}
    assert told([rejected]) == (1, ("2",), False)
    back = {"key": "y", "kind": "undo", "at": NOON.isoformat(), "note": "11"}
    assert told([did(1, "1"), back]) == (1, ("1",), False)


def test_a_wait_that_is_cut_short_is_over() -> None:
    events = [did(n, gauge) for gauge in "12" for n in (1, 2)]
    early = {"key": "e", "kind": "early", "at": NOON.isoformat(), "installations": ["1"], "note": "dry"}
    assert told([*events, early]) == (3, ("1",), False)


def test_a_run_that_is_over_has_nothing_next_and_numbers_go_on() -> None:
    everything = [did(n, gauge) for gauge in "12" for n in (1, 2, 3)]
    assert told(everything) is None
    begun = {"key": "w", "kind": "who", "at": NOON.isoformat(), "value": 5.0}
    assert number_of([begun]) == 5
    assert told([begun]) == (1, ("5",), False)
