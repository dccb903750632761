"""The short answer fits a screen, begins with what decides, and says of each alternative what it gains and costs."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest

from kb.engine.chain import Chain
from kb.engine.goal import Goal
from kb.engine.plan import Engine
from kb.job import Job, job_of, read_job
from kb.planning.alternatives import offered
from kb.planning.ask import ask
from kb.quantities.layout import hours_of
from kb.report.others import line
from kb.report.plan_json import plan_json
from kb.report.plan_short import MOST_LINES, answer_text
from kb.report.plan_text import head_lines
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
    points = asked.plan.screened.ranking.levels_of
    for other in asked.others:
        dearer = other.chain.cost - first.cost
        if other.far:
            assert other.by in ("adhesive-family", "coating-family")
            assert dearer >= points["bond-at-risk"] or not last_resorts(other.chain) <= last_resorts(first)
            assert ": none comes near; of the next best, " in line(asked.plan, other)
            continue
        assert last_resorts(other.chain) <= last_resorts(first), "something else is left"
        assert other.plan is not asked.plan or dearer < points["bond-at-risk"], "a bench would laugh"
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
            assert grave(other.chain, points) <= grave(first, points), "it lasts at the cost of the test"
            if other.days < 3650 and Goal(engine, asked.resolved.entry).possible(beyond):
                (chain,) = engine.plan(beyond, asked.resolved.entry, 1).chains
                assert grave(chain, points) > grave(first, points) or not last_resorts(chain) <= last_resorts(first)


def grave(chain: Chain, points: Mapping[str, int]) -> int:
    """How many cautions say that the test may come to nothing."""
    cautions = {f.key(): f.rule for f in chain.findings if f.known and f.verdict == "caution"}.values()
    return sum(points[rule.level or "serious-doubt"] >= points["reading-at-risk"] for rule in cautions)


def test_where_the_first_chain_risks_the_test_it_is_told_what_a_clamp_would_give(engine: Engine) -> None:
    def beam(clamping: str) -> Job:
        service = {"temperature_c": [-5, 30], "exposures": ["humid-air"], "duration_days": 365}
        return job_of({"part": {"substrate": "hardwood", "clamping": clamping}, "service": service}, "job")

    asked = ask(engine, beam("thumb-only"), "job")
    first, points = asked.chain(), asked.plan.screened.ranking.levels_of
    assert grave(first, points)
    (eased,) = (other for other in asked.others if other.by == "if-clamped")
    assert eased.plan.job.part.clamping == "any"
    assert grave(eased.chain, points) < grave(first, points)
    assert line(asked.plan, eased).startswith("safer, if a clamp, a strap or a magnet can reach it: ")
    assert not {"if-clamped", "if-given-time"} & {other.by for other in ask(engine, beam("any"), "job").others}


def girder(**part: object) -> Job:
    """A girder in a damp hall for two months."""
    return job_of(
        {
            "part": {"substrate": "structural-steel-s355", "thickness_mm": 12, **part},
            "service": {"temperature_c": [5, 45], "exposures": ["humid-air"], "duration_days": 60},
        },
        "job",
    )


def test_no_part_is_heated_where_it_stands_while_something_cures_cold(engine: Engine) -> None:
    without, in_oven = (ask(engine, girder(no_oven=there), "job") for there in (True, False))
    assert without.chain().cure["hottest_c"] <= 40
    assert all(other.chain.cure["hottest_c"] <= 40 for other in offered(without.others))
    assert any(other.chain.cure["hottest_c"] > 40 for other in offered(in_oven.others))


def test_where_no_other_adhesive_comes_near_that_is_said_with_its_reason(engine: Engine) -> None:
    job = {
        "part": {"substrate": "zinc-die-cast", "max_process_temperature_c": 60},
        "service": {"temperature_c": [-20, 70], "exposures": ["humid-air"], "duration_days": 120},
    }
    asked = ask(engine, job_of(job, "job"), "job")
    (far,) = (other for other in asked.others if other.far)
    told = line(asked.plan, far)
    assert told.startswith("another adhesive: none comes near; of the next best, ")
    document = plan_json(asked.plan, asked.resolved, None, asked.others)
    assert document["none_near"] == [{"by": "adhesive-family", "says": told.removeprefix("another adhesive: ")}]
    assert far.chain.key not in {other.chain.key for other in offered(asked.others)}
    assert "adhesive-family" not in {row["by"] for row in document["alternatives"]}


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


def test_a_part_too_thin_for_any_gauge_is_told_what_else_measures_it(engine: Engine) -> None:
    bag = {
        "part": {"substrate": "polyethylene-ld", "thickness_mm": 0.1},
        "service": {"temperature_c": [15, 30], "measurement": "dynamic", "max_strain_ue": 20000},
    }
    told = " ".join(answer_text(ask(engine, job_of(bag, "job"), "job"), "short").split())
    assert "Take a part 0.86 mm thick (not 0.1)." in told
    assert told.count("-> measure optically, or by displacement of the ends") == 1, "what to do is told once"


def test_who_doesnt_ask_what_it_hangs_on_loads_no_search_for_that() -> None:
    loads = "import sys; from kb.report import plan_json, plan_short; print('kb.planning.hangs_on' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", loads], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_an_alternative_that_keeps_the_limit_is_said_to(engine: Engine) -> None:
    """A chain may take less than the limit, and a night in between make it miss it: then it is told who does not."""
    seen = 0
    for seed in range(80):
        job, _ = random_job(seed, engine.knowledge)
        for within in (10.0, 24.0):
            limits = job.limits.model_copy(update={"ready_within_h": within})
            asked = ask(engine, job.model_copy(update={"limits": limits}), "job")
            if not asked.plan.chains or hours_of(asked.plan, asked.chain()).within_limit:
                continue
            near = [other for other in asked.others if not other.far]
            kept = [hours_of(other.plan, other.chain).batch_ready_after_min <= within * 60 for other in near]
            seen += any(kept)
            assert [", and in time" in line(asked.plan, other) for other in near] == kept
            assert ("Another is in time" in " ".join(answer_text(asked, "short").split())) == any(kept)
    assert seen > 2


def test_what_the_face_must_keep_stands_at_the_head(engine: Engine) -> None:
    asked = {
        "part": {"substrate": "tin-bronze-cast", "no_abrading": True},
        "service": {"temperature_c": [5, 35]},
        "limits": {"removable": True},
    }
    whole = ask(engine, job_of(asked, "job"), "job")
    head = " ".join(" ".join(head_lines(whole.plan, whole.resolved)).split())
    assert head.rstrip().endswith("not to be abraded, to come off again")
    plain = ask(engine, girder(), "job")
    assert "abraded" not in " ".join(head_lines(plain.plan, plain.resolved))


def test_a_coat_that_goes_on_twice_is_told_twice(engine: Engine) -> None:
    task = {
        "part": {"substrate": "nitrided-steel", "thickness_mm": 20},
        "service": {"temperature_c": [20, 110], "exposures": ["mineral-oil"], "duration_days": 30},
        "choose": {"coatings": ["fluoropolymer-lacquer-fluoroelastomer", "fluoropolymer-lacquer-fluoroelastomer"]},
    }
    text = answer_text(ask(engine, job_of(task, "job"), "job"), "short")
    assert "Protect  fluoroelastomer lacquer, ketone-borne, 2 coats\n" in text


def test_what_is_taken_of_an_oven_is_said(engine: Engine) -> None:
    """A wall goes into none; where the job doesn't say so, the answer tells what it was taken from."""
    service = {"temperature_c": [10, 40]}

    def head(**part: object) -> str:
        job = job_of({"part": {"substrate": "steel-s355", **part}, "service": service}, "t")
        found = ask(engine, job, "t")
        return " ".join(" ".join(head_lines(found.plan, found.resolved)).split())

    assert "vertical and so taken for a part that no oven takes" in head(orientation="vertical")
    assert "no oven" not in head(orientation="vertical", no_oven=False)
    assert "no oven" not in head()
    assert ", no oven" in head(no_oven=True)
