"""The queue before the processes: who remembers a plan is asked again, and nobody works out what another is at."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable

import pytest

from kb.web import lanes
from kb.web.lanes import Lane


def run(story: Callable[[Lane[str]], Awaitable[None]], *workers: str) -> Lane[str]:
    """Tell a story of a lane with these processes."""

    async def told() -> Lane[str]:
        lane = Lane(workers)
        await story(lane)
        return lane

    return asyncio.run(told())


async def asked_while_all_are_busy(lane: Lane[str]) -> asyncio.Future[str]:
    """Ask what "b" knows while it, and "a" too, are at something else."""
    assert await lane.turn(b"brass") == "b"
    lane.done("b")
    assert [await lane.turn(b"steel"), await lane.turn(b"zinc")] == ["b", "a"]
    return asyncio.ensure_future(lane.turn(b"brass"))


def test_who_was_free_last_is_taken_first_unless_another_knows_the_question() -> None:
    async def story(lane: Lane[str]) -> None:
        assert await lane.turn(b"brass") == "b"
        assert await lane.turn(b"steel") == "a"
        lane.done("b")
        lane.done("a")
        assert await lane.turn(b"brass") == "b"
        assert await lane.turn(b"brass, but two at once") == "a"

    run(story, "a", "b")


def test_what_is_being_worked_out_is_waited_for_though_another_be_free() -> None:
    async def story(lane: Lane[str]) -> None:
        first = await lane.turn(b"brass")
        second = asyncio.ensure_future(lane.turn(b"brass"))
        await asyncio.sleep(0)
        assert (second.done(), lane.free, lane.waiting) == (False, 1, 1)
        lane.done(first)
        assert await second == first

    assert run(story, "a", "b").free == 1


def test_a_question_that_nobody_works_on_goes_to_whoever_is_free() -> None:
    async def story(lane: Lane[str]) -> None:
        known = await lane.turn(b"brass")
        lane.done(known)
        assert await lane.turn(b"steel") == known
        assert await lane.turn(b"brass") != known

    run(story, "a", "b")


def test_where_all_are_busy_one_waits_for_the_one_that_knows_and_others_pass() -> None:
    async def story(lane: Lane[str]) -> None:
        knows = await asked_while_all_are_busy(lane)
        other = asyncio.ensure_future(lane.turn(b"lead"))
        await asyncio.sleep(0)
        lane.done("a")
        assert await other == "a"
        assert not knows.done()
        lane.done("b")
        assert await knows == "b"

    run(story, "a", "b")


def test_nobody_waits_for_the_one_that_knows_while_another_has_nothing_to_do() -> None:
    async def story(lane: Lane[str]) -> None:
        knows = await asked_while_all_are_busy(lane)
        await asyncio.sleep(0)
        lane.done("a")
        assert await knows == "a"

    run(story, "a", "b")


def test_who_waits_no_longer_leaves_a_place_and_what_was_given_just_then(monkeypatch: pytest.MonkeyPatch) -> None:
    async def story(lane: Lane[str]) -> None:
        assert await lane.turn() == "a"
        monkeypatch.setattr(lanes, "TURN_S", 0.01)
        with pytest.raises(TimeoutError):
            await lane.turn()
        assert lane.waiting == 0
        patient = Lane(["b"], patience=20)
        other = await patient.turn()
        waits = asyncio.ensure_future(patient.turn())
        await asyncio.sleep(0.05)
        patient.done(other)
        assert await waits == "b"
        monkeypatch.undo()
        gone, next_one = (asyncio.ensure_future(lane.turn()) for _ in range(2))
        await asyncio.sleep(0)
        lane.done("a")
        gone.cancel()
        assert await next_one == "a"
        lane.done("a")

    assert run(story, "a").free == 1


def test_only_the_latest_questions_are_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lanes, "MOST_KNOWN", 2)

    async def story(lane: Lane[str]) -> None:
        for number in range(5):
            lane.done(await lane.turn(b"%d" % number))

    assert list(run(story, "a")._known) == [b"3", b"4"]
