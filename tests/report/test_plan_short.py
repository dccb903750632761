"""The short answer fits a screen, begins with what decides, and says of each alternative what it gains and costs."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from kb.engine.chain import Chain
from kb.engine.goal import Goal
from kb.engine.plan import Engine
from kb.job import job_of, read_job
from kb.planning.ask import ask
from kb.quantities.layout import hours_of
from kb.report.others import line
from kb.report.plan_short import MOST_LINES, answer_text
from kb.report.reading import must_read
from tests.oracles.jobs import random_job
from tests.test_cli import run

DEMO = Path(__file__).parents[2] / "generic_catalog" / "demo"


@pytest.mark.parametrize("seed", range(40))
def test_it_fits_a_screen_and_begins_with_what_decides(seed: int, engine: Engine) -> None:
    job, _ = random_job(seed, engine.knowledge)
    asked = ask(engine, job, "job")
    if not asked.plan.chains:
        pytest.skip("no chain")
    lines = answer_text(asked, "short").splitlines()
    assert len(lines) <= MOST_LINES
    assert max(map(len, lines)) <= 100
    heads = [line.split(" ")[0] for line in lines if line[:1].isupper()]
    assert heads.index("READY") < heads.index("Prepare" if "Prepare" in heads else "Gauge") < heads.index("Connect")
    chain = asked.chain()
    for slot in ("backing", "adhesive"):
        entry = chain.pick(slot).entry
        assert entry is None or entry.name.split(",")[0] in " ".join(" ".join(lines).split())


def test_so_many_cautions_as_fit_and_how_many_more(engine: Engine) -> None:
    asked = ask(engine, read_job(DEMO / "2-bracket.toml"), "job")
    lines = answer_text(asked, "short").splitlines()
    shown = [line for line in lines if line.startswith("  ! ")]
    assert 3 <= len(shown) <= 7
    assert f"and {len(must_read(asked.plan, asked.chain())) - len(shown)} more" in " ".join(lines)


def test_a_part_of_the_answer_by_name() -> None:
    job = str(DEMO / "1-board.toml")
    steps, refused, full = (run("plan", job, part).stdout for part in ("--steps", "--refused", "--full"))
    assert steps.strip() in full
    assert refused.strip() in full
    assert "1." in steps
    assert "REFUSED" not in steps
    both = run("plan", job, "--steps", "--full")
    assert both.returncode == 2
    assert "ask for one of them" in both.stderr


def last_resorts(chain: Chain) -> set[str]:
    return {f.rule.id for f in chain.findings if f.known and f.rule.level == "last-resort"}


@pytest.mark.parametrize("seed", range(0, 60, 3))
def test_alternatives_are_what_they_are_called(seed: int, engine: Engine) -> None:
    job, _ = random_job(seed, engine.knowledge)
    asked = ask(engine, job, "job")
    if not asked.plan.chains:
        assert asked.others == []
        return
    first = asked.chain()
    assert len({other.chain.key for other in asked.others} | {first.key}) == len(asked.others) + 1
    for other in asked.others:
        assert last_resorts(other.chain) <= last_resorts(first), "something else is left"
        one, two = (chain.pick("adhesive").entry for chain in (first, other.chain))
        coats = [chain.pick("coating_1").entry for chain in (first, other.chain)]
        if other.by == "adhesive-family":
            assert one is None or two is None or one.family != two.family
        if other.by == "coating-family":
            assert coats[0] is None or coats[1] is None or coats[0].family != coats[1].family
        if other.by == "fastest":
            assert other.chain.critical_path_min <= 0.75 * first.critical_path_min
            assert other.chain.critical_path_min <= first.critical_path_min - 30, "minutes are worth no other chain"
            gained = hours_of(asked.plan, first).ready_after_min - hours_of(other.plan, other.chain).ready_after_min
            said = line(asked.plan, other)
            assert said.startswith("ready sooner: ") if gained > 60 else "no sooner" in said or gained > 0
        if other.by == "longest-service":
            assert other.days is not None
            assert other.days > job.service.duration_days
            longer = job.service.model_copy(update={"duration_days": other.days * 1.01})
            beyond = job.model_copy(update={"service": longer})
            assert other.days >= 3650 or not Goal(engine, asked.resolved.entry).possible(beyond)


def test_what_takes_less_time_is_not_called_sooner_where_a_night_lies_between(engine: Engine) -> None:
    asked = ask(engine, read_job(DEMO / "2-bracket.toml"), "job")
    fastest = next(other for other in asked.others if other.by == "fastest")
    hours = [hours_of(asked.plan, chain).ready_after_min for chain in (asked.chain(), fastest.chain)]
    assert abs(hours[0] - hours[1]) <= 60
    assert line(asked.plan, fastest).startswith("less to wait for: ")
    assert "no sooner: nights lie between" in line(asked.plan, fastest)


def test_a_refusal_fits_a_screen_too(engine: Engine) -> None:
    """Why, what would help, what the part itself refuses, and where the whole list is."""
    hot = {"part": {"substrate": "acrylic-pmma"}, "service": {"temperature_c": [20, 140], "duration_days": 10}}
    asked = ask(engine, job_of(hot, "job"), "job")
    lines = answer_text(asked, "short").splitlines()
    assert len(lines) <= MOST_LINES
    text = "\n".join(lines)
    assert "NO CHAIN" in text
    part = text[text.index("THE PART ITSELF") : text.index("REFUSED MOST OFTEN BY")]
    assert "its glass transition" in part
    to_do = {f.rule.instead for _, findings in asked.plan.excluded for f in findings if f.rule.about == ("substrate",)}
    assert any(words in " ".join(part.split()) for words in to_do if words), "what to do is told whole"
    assert "without a possible neighbour" not in text
    assert "All that is refused, and why: --refused" in text


def test_who_doesnt_ask_what_it_hangs_on_loads_no_search_for_that() -> None:
    loads = "import sys; from kb.report import plan_json, plan_short; print('kb.planning.hangs_on' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", loads], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
