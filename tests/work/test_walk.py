"""The next task is the first that can be done: a wait holds its own gauge, and the others go on."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from kb.planning.procedure import Step
from kb.work.rounds import Task
from kb.work.walk import next_of, number_of, patience

STEPS = [Step("degrease", "Wipe."), Step("cure", "Hold.", wait_s=600, wait_for="cure"), Step("verify", "Look.")]
TASKS = [Task((n,), (gauge,), 0.0) for gauge in (1, 2) for n in (0, 1)] + [Task((2,), (1,), 20), Task((2,), (2,), 21)]
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
    return None if found is None else (found.task.steps[0] + 1, found.names, found.until is not None)


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


#: All are wiped, each is cured by itself, and all are looked at together.
ROUND = [Task((0,), (1, 2), 0.0), Task((1,), (1,), 0.0), Task((1,), (2,), 0.0), Task((2,), (1, 2), 0.0)]


def at(minutes: float) -> datetime:
    return NOON + timedelta(minutes=minutes)


def test_a_round_is_done_together_and_one_of_it_alone() -> None:
    found = next_of(ROUND, STEPS, [], NOON)
    assert found is not None
    assert (found.task.steps, found.names) == ((0,), ("1", "2"))
    found = next_of(ROUND, STEPS, [did(1, "2")], NOON)
    assert found is not None
    assert (found.task.steps, found.names) == ((0,), ("1",)), "the other of the round comes next"


def test_those_that_are_ready_wait_for_the_last_of_their_round_but_not_long() -> None:
    begun = [did(1, "1"), did(1, "2"), did(2, "1")]
    soon = [*begun, did(2, "2", at=at(4).isoformat())]
    found = next_of(ROUND, STEPS, soon, at(11))
    assert found is not None
    assert (found.names, found.ready, found.until) == (("1", "2"), ("1",), at(14))
    hurried = next_of(ROUND, STEPS, soon, at(11), patient=False)
    assert hurried is not None
    assert (hurried.names, hurried.until) == (("1",), None)
    late = [*begun, did(2, "2", at=at(9).isoformat())]
    found = next_of(ROUND, STEPS, late, at(11))
    assert found is not None
    assert at(19) - at(11) > patience()
    assert (found.names, found.until) == (("1",), None), "what takes longer isn't waited for"


def test_an_oven_waits_for_its_whole_load() -> None:
    oven = [*ROUND[:3], Task((2,), (1, 2), 0.0, whole=True)]
    begun = [did(1, "1"), did(1, "2"), did(2, "1"), did(2, "2", at=at(60).isoformat())]
    found = next_of(oven, STEPS, begun, at(61), patient=False)
    assert found is not None
    assert (found.names, found.until) == (("1", "2"), at(70))


def test_steps_that_are_one_task_are_done_when_the_last_of_them_is() -> None:
    tied = [Task((0, 1), (1,), 0.0)]
    found = next_of(tied, STEPS, [did(1, "1")], NOON)
    assert found is not None
    assert found.names == ("1",)
    assert next_of(tied, STEPS, [did(1, "1"), did(2, "1")], NOON) is None


def test_a_short_clock_keeps_its_person_where_a_surface_is_bare_or_a_thumb_presses() -> None:
    """While one gauge dries or is pressed, no other is begun; somebody who won't wait may."""
    pressed = [Step("mount", "Press.", wait_s=60, wait_for="thumb"), Step("cure", "Leave.", at_once=True)]
    both = [Task((0,), (1,), 0.0, attended=True), Task((1,), (1,), 0.0, attended=True), Task((0,), (2,), 0.0)]
    held = next_of(both, pressed, [did(1, "1")], NOON)
    assert held is not None
    assert (held.task.steps, held.names, held.until) == ((1,), ("1",), at(1))
    hurried = next_of(both, pressed, [did(1, "1")], NOON, patient=False)
    assert hurried is not None
    assert (hurried.task.steps, hurried.names, hurried.until) == ((0,), ("2",), None)


def test_what_is_still_to_be_done_in_a_round_comes_before_its_short_clock() -> None:
    dried = [Step("degrease", "Wipe.", wait_s=60, wait_for="dry"), Step("abrade-dry", "Rub.")]
    round_ = [Task((0,), (1, 2), 0.0, attended=True), Task((1,), (1, 2), 0.0, attended=True)]
    found = next_of(round_, dried, [did(1, "1")], NOON)
    assert found is not None
    assert (found.task.steps, found.names) == ((0,), ("2",))
    found = next_of(round_, dried, [did(1, "1"), did(1, "2", at=at(0.5).isoformat())], at(1))
    assert found is not None
    assert (found.names, found.until, found.ready) == (("1", "2"), at(1.5), ("1",))
