"""A whole run of two gauges on a phone with a shifted clock: lots, room, timers, no network, hand-over, the record."""

from __future__ import annotations

import datetime
import json
import random
import re
import time
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode

import pytest

from kb.planning.procedure import Step
from kb.stock.workspace import ledger_of
from kb.web.settings import Settings
from kb.work.rounds import Task
from kb.work.run import happened, recorded
from kb.work.walk import next_of
from tests.web.serving import in_thread

#: Glued, cured at once, under one coat: a run that can be walked through whole.
JOB = urlencode(
    {
        "job.name": "two on a bench",
        "part.substrate": "aluminium 6061",
        "service.temperature_c.0": "15",
        "service.temperature_c.1": "35",
        "choose.adhesive.0": "ethyl-cyanoacrylate-low-viscosity",
        "batch.gauges_per_board": "2",
    }
)
BEGUN = datetime.datetime(2027, 3, 1, 8, 0)
#: No run takes more screens than this; a walk that does goes round.
MOST_SCREENS = 250
#: A run of twelve once took 27 presses a gauge for its steps, as many as it has steps.
TWELVE = 12


@pytest.fixture(scope="module")
def site(workspace: Any) -> Iterator[str]:
    """A server on a day by which the run is over: nothing is recorded of days that are still to come."""
    with in_thread(Settings(workspace=workspace, today=lambda: datetime.date(2027, 3, 12), who="kim")) as address:
        yield address


@pytest.fixture
def tab(chromium: Any, site: str) -> Iterator[Any]:
    """A phone whose clock stands at the beginning of the run; what a page complains of is a fault."""
    context = chromium.new_context(base_url=site, viewport={"width": 360, "height": 640}, has_touch=True)
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda fault: faults.append(str(fault)))
    page.clock.install(time=BEGUN)
    yield page
    context.close()
    assert faults == []


class Bench:
    """Somebody who does what the screens say, and keeps count of it."""

    def __init__(self, tab: Any) -> None:
        self.tab = tab
        self.seen: list[str] = []
        self.presses = 0

    def start(self, who: str, gauges: int = 2) -> None:
        self.tab.goto(f"/bench-run?{JOB}&gauges={gauges}")
        self.tab.get_by_label("Who does the work?").fill(who)
        self.tab.get_by_role("button", name="Start").click()
        self.tab.clock.run_for(1500)

    @property
    def screen(self) -> str:
        return str(self.tab.locator("#run .step").inner_text())

    def until(self, words: str) -> None:
        """Go on until a screen holds the words."""
        for _ in range(MOST_SCREENS):
            if words in self.screen:
                return
            self.go_on()
        raise AssertionError(f"'{words}' never came; last: {self.screen}")

    def go_on(self) -> None:
        tab, screen = self.tab, self.screen
        self.seen.append(screen)
        if "Which lot?" in screen:
            tab.locator(".step button.quiet").first.click()
        elif "The room decides now" in screen:
            for name, value in (("Air, degC", "22"), ("Relative humidity", "45"), ("The part, degC", "22")):
                tab.get_by_label(name).fill(value)
            tab.get_by_role("button", name="Judge the room").click()
            tab.get_by_role("button", name=re.compile("^[Gg]o on")).first.click()
        elif "Nothing to do but wait" in screen:
            tab.clock.fast_forward(self.left() * 1000)
        else:
            for field in tab.locator(".step input").all():
                label = tab.locator(f"label[for={field.get_attribute('id')}]").inner_text()
                field.fill("2000" if "insulation" in label else "0.1")
            tab.locator(".step button.go").click()
            self.presses += 1
        tab.clock.run_for(1500)
        self.changed(screen)

    def changed(self, screen: str) -> None:
        """Wait until another screen stands there."""
        until = time.monotonic() + 10
        while self.screen == screen:
            assert time.monotonic() < until, f"nothing came of it: {screen}"
            time.sleep(0.02)

    def left(self) -> int:
        """The seconds that the clock on the screen still shows."""
        found = 0
        for part in self.tab.locator(".countdown").inner_text().split(":"):
            found = found * 60 + int(part)
        return found + 1

    def kept(self) -> None:
        self.tab.locator(".state", has_text="All is kept").wait_for()


def test_a_whole_run_of_two_gauges(tab: Any, workspace: Any) -> None:
    bench = Bench(tab)
    bench.start("kim")
    # What is in the hand says what it can do.
    bench.until("flammable, ")
    assert tab.locator(".step .harm svg.pictogram").count() > 1
    # A lot that is dead, and one of another thing, are refused; a label's address is read.
    bench.until("Lot of ethyl cyanoacrylate")
    field = tab.get_by_label("Lot of ethyl cyanoacrylate")
    for wrong, why in (("CA-05", "expired"), ("http://bench/shelf/lots/IPA-31", "the wrong thing")):
        field.fill(wrong)
        tab.get_by_role("button", name="Take it").click()
        assert "Not this one" in tab.get_by_role("alert").inner_text()
        tab.get_by_role("alert").get_by_text(why).wait_for()
    # The network goes; what happens is kept, a dead lot is still refused, and nothing is asked twice.
    bench.kept()
    tab.context.set_offline(True)
    field.fill("CA-05")
    tab.get_by_role("button", name="Take it").click()
    tab.get_by_role("alert").get_by_text("expired").wait_for()
    field.fill("CA-07")
    asked = bench.screen
    tab.get_by_role("button", name="Take it").click()
    bench.changed(asked)
    tab.clock.run_for(1500)
    bench.go_on()
    bench.go_on()
    assert "no network" in tab.locator(".state").inner_text()
    run = re.search(r"run=([^&]+)", tab.url)
    assert run is not None
    before = len(happened(ledger_of(workspace, print), run[1]))
    tab.context.set_offline(False)
    tab.clock.run_for(10_000)
    bench.kept()
    assert len(happened(ledger_of(workspace, print), run[1])) > before
    # A colleague goes on.
    tab.locator("summary", has_text="More: kim at work").click()
    tab.get_by_label("Hand over to").fill("lee")
    tab.get_by_role("button", name="Hand over").click()
    bench.until("All is done")
    assert any("Nothing to do but wait" in screen for screen in bench.seen), "the cure has to be waited for"
    tab.get_by_label("Part, serial number").fill("P-7")
    asked = bench.screen
    tab.get_by_role("button", name="Write the record").click()
    bench.changed(asked)
    assert "Not recorded" not in bench.screen, bench.screen
    tab.get_by_text(re.compile(r"Record \d+ is written")).wait_for()
    ledger = ledger_of(workspace, print)
    document = recorded(ledger, run[1])
    assert document is not None
    made = document["installations"]
    assert [(one["installation"], one["outcome"], one["part"]) for one in made] == [
        ("1", "pass", "P-7"),
        ("2", "pass", "P-7"),
    ]
    assert all("CA-07" in one["lots"] for one in made)
    assert made[0]["readings"]["zero_return_ue"] == 0.1
    assert document["bench"] == {
        "air_temperature_c": 22.0,
        "relative_humidity_pct": 45.0,
        "part_temperature_c": 22.0,
    }
    assert {one["who"] for one in document["times"]} == {"kim", "lee"}
    done = [(one["step"], name) for one in document["times"] for name in one["installations"]]
    assert len(done) == len(set(done)), "a step of a gauge is told twice"
    for gauge in ("1", "2"):
        steps = [step for step, name in done if name == gauge]
        assert steps == list(range(1, len(steps) + 1)), "every step was done, in order"
    moments = [one["at"] for one in document["times"]]
    assert moments == sorted(moments)
    assert ledger.lot("CA-07").quantity < 20
    # Whoever signs it sees when each step was done.
    tab.get_by_role("link", name="See it").click()
    tab.locator("summary", has_text="When its steps were done").last.click()
    rows = tab.locator(f"[aria-label='Steps of record {document['id']}'] tbody tr")
    assert rows.count() == len(document["times"])
    assert "kim" in rows.first.inner_text()
    tab.go_back()
    # Opened again, it says the same and records nothing more.
    tab.reload()
    assert sum(one.get("run") == run[1] for one in ledger.documents("work") if "installations" in one) == 1


def test_twelve_gauges_go_through_in_rounds(tab: Any, workspace: Any) -> None:
    bench = Bench(tab)
    bench.start("kim", TWELVE)
    # One of a round is done by itself, with a time of its own; then the others.
    bench.until("gauges ")
    first = bench.screen
    tab.get_by_role("button", name=re.compile(r"^Gauge \d+ is done, it alone")).nth(1).click()
    bench.changed(first)
    tab.clock.run_for(60_000)
    bench.go_on()
    # One is rejected: the others go on without it.
    bench.until("Abrade")
    tab.locator("summary", has_text="More: kim at work").click()
    tab.locator("#run-reject").select_option(index=1)
    rejected = str(tab.locator("#run-reject").input_value())
    tab.get_by_role("button", name="Reject this gauge").click()
    assert "Say what happened first" in tab.locator("#run-note-fault").inner_text()
    tab.get_by_label("What happened").fill("the pad slipped")
    asked = bench.screen
    tab.get_by_role("button", name="Reject this gauge").click()
    bench.changed(asked)
    bench.until("All is done")
    assert bench.presses <= 10 * TWELVE, f"{bench.presses} presses for {TWELVE} gauges"
    # Two gauges sit on a part, as the job says: a serial number for each part.
    serials = tab.get_by_label("Part, serial number")
    assert serials.count() == TWELVE / 2
    for place, field in enumerate(serials.all()):
        field.fill(f"P-{place}")
    asked = bench.screen
    tab.get_by_role("button", name="Write the record").click()
    bench.changed(asked)
    tab.get_by_text(re.compile(r"Record \d+ is written")).wait_for()
    run = re.search(r"run=([^&]+)", tab.url)
    assert run is not None
    document = recorded(ledger_of(workspace, print), run[1])
    assert document is not None
    outcomes = {one["installation"]: one["outcome"] for one in document["installations"]}
    assert len(outcomes) == TWELVE
    assert {name for name, outcome in outcomes.items() if outcome == "fail"} == {rejected}
    assert len({one["part"] for one in document["installations"]}) == TWELVE / 2
    whole = max(one["step"] for one in document["times"])
    times: dict[str, list[tuple[int, str]]] = {}
    for one in document["times"]:
        for name in one["installations"]:
            times.setdefault(name, []).append((one["step"], one["at"]))
    for name, done in times.items():
        assert [step for step, _ in done] == list(range(1, 1 + (whole if name != rejected else len(done))))
        assert [at for _, at in done] == sorted(at for _, at in done)
    assert len(times[rejected]) < whole
    degreased = {dict(done)[1] for done in times.values()}
    assert len(degreased) > TWELVE / 3, "the one that was done alone has a time of its own"


def test_the_device_and_the_server_find_the_same_next(tab: Any) -> None:
    """Without the network the device finds what comes next by itself: at each step of a random run as the server."""
    tab.goto(f"/bench-run?{JOB}&gauges=5")
    data = json.loads(tab.locator("#run-data").text_content())
    steps = [Step(one["stage"], one["do"], wait_s=one["wait_s"], wait_for=one["wait_for"]) for one in data["steps"]]
    laid = [
        Task(**{**t, "steps": tuple(t["steps"]), "installations": tuple(t["installations"])}) for t in data["tasks"]
    ]
    dice, now = random.Random(7), BEGUN
    events = [{"key": "w", "kind": "who", "at": now.isoformat(), "who": "kim", "value": 3}]
    for turn in range(160):
        patient = dice.random() < 0.8
        found = next_of(laid, steps, events, now, patient)
        there = tab.evaluate(
            """([events, at, patient]) => {
                const walk = benchWalk(JSON.parse(document.getElementById("run-data").textContent));
                const found = walk.next(walk.fold(events), Date.parse(at), patient), wait = found.wait;
                if (wait) return [wait.task.steps, wait.left, wait.end, wait.ready];
                return found.task ? [found.task.steps, found.left, 0, []] : null;
            }""",
            [events, now.isoformat(), patient],
        )
        if found is None:
            assert there is None
            break
        until = 0 if found.until is None else found.until.replace(tzinfo=datetime.UTC).timestamp() * 1000
        assert there == [list(found.task.steps), list(found.names), until, list(found.ready)]
        at = {"at": now.isoformat(), "who": "kim"}
        if found.until is not None:
            now += dice.choice([datetime.timedelta(seconds=40), found.until - now])
        elif dice.random() < 0.03:
            events.append(
                {"key": f"f{turn}", "kind": "fail", "installations": [found.names[0]], "note": "a void", **at}
            )
        else:
            some = list(found.names) if dice.random() < 0.6 else [dice.choice(found.names)]
            for step in found.task.steps:
                events.append({"key": f"{turn}-{step}", "kind": "done", "step": step + 1, "installations": some, **at})
        now += datetime.timedelta(seconds=dice.choice([1, 20, 90]))
    else:
        raise AssertionError("it goes round")


def test_a_press_that_comes_twice_does_one_step(tab: Any) -> None:
    bench = Bench(tab)
    bench.start("kim")
    bench.until("Abrade dry")
    bench.until("Step 2")
    tab.locator(".step button.go").dblclick()
    tab.locator(".step .where", has_text="Step 3").wait_for()
    tab.clock.run_for(1500)
    assert "Step 3" in bench.screen


def test_a_reading_beyond_its_limit_fails_at_once_and_the_other_gauge_goes_on(tab: Any) -> None:
    bench = Bench(tab)
    bench.start("kim")
    bench.until("at most 0.5")
    tab.locator(".step input").first.fill("0.9")
    assert "Reject this gauge" in tab.locator(".judged").first.inner_text()
    # What is missing is said at its field, and what was typed stays, through a reload too.
    tab.locator(".step button.go").click()
    assert "Enter what was measured" in tab.locator(".step .question").nth(1).inner_text()
    tab.reload()
    assert tab.locator(".step input").first.input_value() == "0.9"
    tab.locator(".step input").nth(1).fill("0.1 V")
    tab.locator(".step button.go").click()
    assert "That is no number" in tab.locator(".step .question").nth(1).inner_text()
    tab.locator(".step input").nth(1).fill("0.1")
    tab.locator(".step button.go").click()
    bench.until("All is done")
    assert "fails: " in bench.screen
    assert "passes" in bench.screen


def test_a_wait_is_counted_down_through_a_reload_and_cut_short_only_with_a_reason(tab: Any) -> None:
    bench = Bench(tab)
    bench.start("kim")
    bench.until("Nothing to do but wait")
    left = bench.left()
    tab.reload()
    tab.locator(".countdown").wait_for()
    assert abs(bench.left() - left) <= 3
    tab.get_by_role("button", name="Go on before it is over").click()
    tab.get_by_role("button", name="Go on early").click()
    assert "Nothing to do but wait" in bench.screen, "no reason was given"
    tab.get_by_label("Why is it enough?").fill("dry to the touch")
    tab.get_by_role("button", name="Go on early").click()
    assert "Nothing to do but wait" not in bench.screen


def test_what_is_typed_stays_when_the_wait_of_another_gauge_ends(tab: Any) -> None:
    bench = Bench(tab)
    bench.start("kim")
    bench.until("start the clock, 3 min")
    bench.go_on()
    tab.locator("summary", has_text="More: kim at work").click()
    field = tab.get_by_label("What happened")
    field.fill("the light flick")
    assert tab.locator(".timers li").count(), "another gauge waits meanwhile"
    tab.clock.run_for(190_000)
    assert tab.locator(".timers li").count() == 0
    assert field.input_value() == "the light flick"


def test_without_scripts_the_steps_and_the_sheet_remain(chromium: Any, site: str) -> None:
    context = chromium.new_context(base_url=site, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"/bench-run?{JOB}")
    assert page.locator("#run-plain ol li").count() > 10
    page.locator("#run-plain").get_by_role("link", name="bench sheet").click()
    assert "Acceptance" in page.content()
    context.close()
